"""What an animator asks for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

RestPose = Literal["t-pose", "a-pose"]
#: Where the travel goes: with the pelvis, on a bone of its own on the floor, or nowhere.
Feet = Literal["held", "measured"]
Root = Literal["pelvis", "bone", "in-place"]


@dataclass(frozen=True)
class Wishes:
    """What an animator asks for. rate_hz: None keeps the recording's own. root: where the travel goes."""

    feet: Feet = "held"
    rest: RestPose = "t-pose"
    rate_hz: float | None = None
    root: Root = "pelvis"
    cut_unusable: bool = False
    reduce_keys: bool = False
