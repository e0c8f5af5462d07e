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
    """One step. ``start`` and ``end`` are the first and the last frame. Times in seconds; None where a thing is absent.

    turn: side is the direction of turning; revolutions, turned_deg (signed, + to the left; both None where too much of the turn
    was not seen, and not_counted says why), direction ("en dehors" |
    "en dedans" | None), support ("left" | "right" | "both": the foot that carries alone longest), supports (feet that carry
    alone one after the other, "left-right"), preparation_s and preparation_bottom_s (start and bottom of the plié before it),
    releve_s (supporting heel rises), single_support_s (working foot leaves the ground), close_s (both feet down),
    peak_rate_deg_s, chain and chain_place (turns one way in a row: number of the chain, place in it).
    jump: from take-off to landing; side are the landing feet; height_m (of the centre of mass above take-off),
    height_by_time_m (from the flight time), flight_s, take_off_s, landing_s, apex_s, fitted_gravity, falling_share,
    take_off_feet, landing_feet ("left" | "right" | "both"), preparation_s (the bend before the push begins), push_s (it
    is deepest), travel_m, turned_deg.
    plie: depth_m (drop of the centre of mass), depth_leg_lengths, depth_ratio (knee flexion against the dancer's own best
    with heels down), bottom_s, arrival_s and push_s (a held one arrives at the bottom and leaves it), knee_flexion_deg,
    support, size ("demi" | "grand"), use ("preparation" | "take-off" | "landing" | "landing and take-off" | "plié").
    releve: height_m, plateau_start_s, plateau_end_s, support. balance: hold_s, support, pose. static: hold_s, support, pose.
    leg-gesture: side is the gesturing leg; elevation_deg, direction ("front" | "side" | "back"), peak_s,
    knee_flexion_deg, hold_s (within 5° of the peak), support.
    landing: jump (its id), lowest_s, recovered_s, landing_feet, stopping_m (contact to lowest), fall_m (apex to contact).
    step: side is the foot stepped on; length_m, direction, rise_m (to a higher step), swing_s.
    every kind: same_as (id of the first of the same steps), repetition, repetitions; with counts of the music also bar,
    count (with fraction) and beat_error_s (+ = late) of its telling instant.
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
    """All contacts and all phases of a take, in order of time; ids are unique. remarks: what there is to say about them."""

    contacts: tuple[Contact, ...]
    phases: tuple[Phase, ...]
    remarks: tuple[str, ...] = ()

    def of_kind(self, kind: PhaseKind) -> tuple[Phase, ...]:
        """The phases of one kind."""
        return tuple(phase for phase in self.phases if phase.kind == kind)
