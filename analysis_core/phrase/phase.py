"""The steps of a phrase: contacts and phases."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from ..take import Side

PhaseKind = Literal["turn", "jump", "plie", "releve", "balance", "leg-gesture", "landing", "step", "static"]
Property = float | str | None


@dataclass(frozen=True)
class Contact:
    """One foot, or one part of it, on the ground; times from the take's first frame."""

    foot: Literal["left", "right"]
    part: Literal["foot", "heel", "toe"]
    start_s: float
    end_s: float


@dataclass(frozen=True)
class Phase:
    """One step. ``start`` and ``end`` are the first and the last frame. Properties that every kind carries:

    turn: revolutions, direction ("en dehors" | "en dedans" | None), support ("left" | "right" | "both"), preparation_s,
    releve_s, close_s (times; None when absent), turned_deg (signed, + to the left).
    jump: height_m, flight_s, take_off_s, landing_s, apex_s, fitted_gravity, landing_feet ("left" | "right" | "both"),
    take_off_feet. plie: depth_m, depth_ratio, bottom_s, knee_flexion_deg. releve: height_m. balance: hold_s, support, pose.
    leg-gesture: elevation_deg, direction ("front" | "side" | "back"), peak_s. landing: jump (its id), lowest_s.
    """

    id: str
    kind: PhaseKind
    side: Side | None
    start: int
    end: int
    start_s: float
    end_s: float
    properties: dict[str, Property] = field(default_factory=dict)


@dataclass(frozen=True)
class Phrase:
    """All contacts and all phases of a take, in order of time; ids are unique."""

    contacts: tuple[Contact, ...]
    phases: tuple[Phase, ...]

    def of_kind(self, kind: PhaseKind) -> tuple[Phase, ...]:
        """The phases of one kind."""
        return tuple(phase for phase in self.phases if phase.kind == kind)
