"""One correction as it is followed over sessions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from .claims import Change, Session
from .states import State
from .trend import Trend

Claim = Literal["better", "worse", "may be better", "may be worse", "changed on these two tries"]


@dataclass(frozen=True)
class Key:
    """What is compared: the same measure, on the same side, in the same step of the same phrase."""

    fault: str
    measure: str
    side: str
    step: str
    phrase: str


@dataclass(frozen=True)
class Series:
    """One correction over sessions, with what may be claimed. goal_on: the day it became a goal, None when it is none.

    adjusted: p (goals, Holm) or q (others, Benjamini-Hochberg) of the change; None without a change.
    """

    key: Key
    title: str
    says_what: str
    unit: str
    sessions: tuple[Session, ...]
    state: State
    day_sd: float | None
    goal_on: date | None = None
    baseline: Session | None = None
    change: Change | None = None
    adjusted: float | None = None
    claim: Claim | None = None
    trend: Trend | None = None
