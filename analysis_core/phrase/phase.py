"""The steps of a phrase: contacts and phases.

A step that is found but not yet named is one type (``FoundTurn``), a named phase is another (``Turn``): it has its id, knows
which steps of the take are the same, and where in the music it lies. Both are whole from the start; nothing is written into
them later. Times are seconds from the take's first frame; None stands for what a step does not have or what cannot be told of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal, TypeVar

from ..body.anatomy import OneSide
from ..take import Side

PhaseKind = Literal["turn", "jump", "plie", "releve", "balance", "leg-gesture", "landing", "step", "static"]
#: Where a leg or a step goes, seen from the dancer.
Direction = Literal["front", "side", "back"]
#: What a plié is for.
Use = Literal["preparation", "take-off", "landing", "landing and take-off", "plié"]


@dataclass(frozen=True)
class Contact:
    """One foot, or one part of it, on the ground; times from the take's first frame."""

    foot: OneSide
    part: Literal["foot", "heel", "toe"]
    start_s: float
    end_s: float


@dataclass(frozen=True)
class OnTheCount:
    """Where the telling instant of a step lies in the music: bar, count with fraction, time from the nearest beat (+ = late)."""

    bar: int
    count: float
    beat_error_s: float


@dataclass(frozen=True, kw_only=True)
class Found:
    """A step as it is found. start and end are its first and last frame; start_s and end_s may lie between frames."""

    kind: ClassVar[PhaseKind]

    side: Side | None
    start: int
    end: int
    start_s: float
    end_s: float

    @property
    def feet(self) -> Side | None:
        """The feet that the step stands or lands on."""
        return self.side

    @property
    def name(self) -> tuple[object, ...]:
        """What makes it this step and no other: different names are different steps.

        Not the direction of a leg, a step or a turn, which has borders that the same step crosses: its course tells that.
        """
        return self.kind, self.side

    @property
    def on_the_count_s(self) -> float:
        """The instant that should fall on a count; the start where nothing else tells."""
        return self.start_s


@dataclass(frozen=True)
class Name:
    """What a step is called in its take. same_as: id of the first of the same steps, of which this is number ``repetition`` of
    ``repetitions``; music: None when the counts are not known."""

    id: str
    same_as: str
    repetition: int
    repetitions: int
    music: OnTheCount | None


@dataclass(frozen=True, kw_only=True)
class Phase(Found, Name):
    """One step of a phrase; its kind says what else it tells."""


@dataclass(frozen=True, kw_only=True)
class _Supported(Found):
    """A step on a support: the foot that carries alone longest, or both."""

    support: Side | None

    @property
    def feet(self) -> Side | None:
        """The feet that the step stands on."""
        return self.support or self.side


@dataclass(frozen=True, kw_only=True)
class FoundTurn(_Supported):
    """A turn; side is the direction of turning.

    revolutions, turned_deg (signed, + to the left): both None where too much of the turn was not seen, and not_counted says why.
    supports: feet that carry alone one after the other, "left-right". preparation_s, preparation_bottom_s: start and bottom of
    the plié before it. releve_s: the supporting heel rises. single_support_s: the working foot leaves the ground. close_s: both
    feet are down. chain, chain_place: turns one way in a row: number of the chain in the take, place in it, both from 1.
    """

    kind: ClassVar[PhaseKind] = "turn"

    revolutions: float | None
    turned_deg: float | None
    not_counted: str | None
    direction: Literal["en dehors", "en dedans"] | None
    supports: str | None
    preparation_s: float | None
    preparation_bottom_s: float | None
    releve_s: float | None
    single_support_s: float | None
    close_s: float | None
    peak_rate_deg_s: float | None
    chain: int | None
    chain_place: int | None

    @property
    def feet(self) -> Side | None:
        """The feet that it stands on; its side says where it turns to."""
        return self.support

    @property
    def on_the_count_s(self) -> float:
        """When it closes."""
        return self.start_s if self.close_s is None else self.close_s


@dataclass(frozen=True, kw_only=True)
class FoundJump(Found):
    """A jump from take-off to landing; side are the landing feet.

    height_m: of the centre of mass above take-off; height_by_time_m: from the flight time. fitted_gravity: m/s², of the parabola
    through its path; falling_share: of the flight in which it falls with gravity. preparation_s: the bend before the push begins;
    push_s: it is deepest. travel_m: over the floor; turned_deg: + to the left.
    """

    kind: ClassVar[PhaseKind] = "jump"

    height_m: float | None
    height_by_time_m: float | None
    flight_s: float
    take_off_s: float
    landing_s: float
    apex_s: float
    fitted_gravity: float | None
    falling_share: float | None
    take_off_feet: Side | None
    landing_feet: Side | None
    preparation_s: float | None
    push_s: float | None
    travel_m: float | None
    turned_deg: float | None

    @property
    def name(self) -> tuple[object, ...]:
        """Kind, side and feet."""
        return (*super().name, self.take_off_feet, self.landing_feet)

    @property
    def on_the_count_s(self) -> float:
        """Its highest point."""
        return self.apex_s


@dataclass(frozen=True, kw_only=True)
class FoundLanding(Found):
    """A landing from contact to recovery or the next take-off; side are the landing feet.

    jump: id of the jump that it ends. recovered_s: None when the body never comes to rest. stopping_m: way of the centre of mass
    from contact to the lowest point; fall_m: from the apex to contact.
    """

    kind: ClassVar[PhaseKind] = "landing"

    jump: str | None
    lowest_s: float | None
    recovered_s: float | None
    landing_feet: Side | None
    stopping_m: float | None
    fall_m: float | None

    @property
    def name(self) -> tuple[object, ...]:
        """Kind, side and feet."""
        return (*super().name, self.landing_feet)

    @property
    def on_the_count_s(self) -> float:
        """Its lowest point."""
        return self.start_s if self.lowest_s is None else self.lowest_s


@dataclass(frozen=True, kw_only=True)
class Bend(_Supported):
    """Loaded knees that bend and stretch again, before it is known what for; side and support are the feet at the bottom.

    depth_m: drop of the centre of mass; depth_leg_lengths: the same by the leg; depth_ratio: knee flexion against the dancer's
    own best with heels down. bottom_s: the centre of mass is lowest. arrival_s, push_s: a held one arrives at the bottom and
    leaves it.
    """

    kind: ClassVar[PhaseKind] = "plie"

    depth_m: float | None
    depth_leg_lengths: float | None
    depth_ratio: float | None
    bottom_s: float
    arrival_s: float | None
    push_s: float | None
    knee_flexion_deg: float | None
    size: Literal["demi", "grand"] | None

    @property
    def name(self) -> tuple[object, ...]:
        """Kind, side, support and size."""
        return (*super().name, self.support, self.size)

    @property
    def on_the_count_s(self) -> float:
        """When it arrives at the bottom."""
        return self.start_s if self.arrival_s is None else self.arrival_s


@dataclass(frozen=True, kw_only=True)
class FoundPlie(Bend):
    """A bend and what it is for."""

    use: Use | None


@dataclass(frozen=True, kw_only=True)
class FoundReleve(_Supported):
    """A relevé. height_m: of the heels, mean of those that rise; the plateau is where they are nearly still at the top."""

    kind: ClassVar[PhaseKind] = "releve"

    height_m: float | None
    plateau_start_s: float | None
    plateau_end_s: float | None

    @property
    def name(self) -> tuple[object, ...]:
        """Kind, side and support."""
        return (*super().name, self.support)

    @property
    def on_the_count_s(self) -> float:
        """When it is up."""
        return self.start_s if self.plateau_start_s is None else self.plateau_start_s


@dataclass(frozen=True, kw_only=True)
class FoundBalance(_Supported):
    """A hold on one foot or on relevé. pose: in the words of the class."""

    kind: ClassVar[PhaseKind] = "balance"

    hold_s: float | None
    pose: str | None

    @property
    def name(self) -> tuple[object, ...]:
        """Kind, side, support and pose."""
        return (*super().name, self.support, self.pose)


@dataclass(frozen=True, kw_only=True)
class FoundStatic(_Supported):
    """Standing still on flat feet with straight knees. pose: in the words of the class."""

    kind: ClassVar[PhaseKind] = "static"

    hold_s: float | None
    pose: str | None


@dataclass(frozen=True, kw_only=True)
class FoundLegGesture(_Supported):
    """A leg in the air; side is that leg. hold_s: how long it stays within 5° of the peak."""

    kind: ClassVar[PhaseKind] = "leg-gesture"

    elevation_deg: float
    direction: Direction | None
    peak_s: float
    knee_flexion_deg: float | None
    hold_s: float | None

    @property
    def feet(self) -> Side | None:
        """The feet that it stands on; its side says which leg moves."""
        return self.support

    @property
    def on_the_count_s(self) -> float:
        """When the leg is highest."""
        return self.peak_s


@dataclass(frozen=True, kw_only=True)
class FoundStep(Found):
    """The body goes over to another foot; side is the foot stepped on. rise_m: to a higher step; swing_s: how long the foot was
    off the ground."""

    kind: ClassVar[PhaseKind] = "step"

    length_m: float | None
    direction: Direction | None
    rise_m: float | None
    swing_s: float | None


@dataclass(frozen=True, kw_only=True)
class Turn(FoundTurn, Phase):
    """A turn of a phrase."""


@dataclass(frozen=True, kw_only=True)
class Jump(FoundJump, Phase):
    """A jump of a phrase."""


@dataclass(frozen=True, kw_only=True)
class Landing(FoundLanding, Phase):
    """A landing of a phrase."""


@dataclass(frozen=True, kw_only=True)
class Plie(FoundPlie, Phase):
    """A plié of a phrase."""


@dataclass(frozen=True, kw_only=True)
class Releve(FoundReleve, Phase):
    """A relevé of a phrase."""


@dataclass(frozen=True, kw_only=True)
class Balance(FoundBalance, Phase):
    """A balance of a phrase."""


@dataclass(frozen=True, kw_only=True)
class Static(FoundStatic, Phase):
    """A standing of a phrase."""


@dataclass(frozen=True, kw_only=True)
class LegGesture(FoundLegGesture, Phase):
    """A gesture of the leg of a phrase."""


@dataclass(frozen=True, kw_only=True)
class Step(FoundStep, Phase):
    """A step of a phrase."""


P = TypeVar("P", bound=Phase)


@dataclass(frozen=True)
class Phrase:
    """All contacts and all phases of a take, in order of time; ids are unique. remarks: what there is to say about them."""

    contacts: tuple[Contact, ...]
    phases: tuple[Phase, ...]
    remarks: tuple[str, ...] = ()

    def of(self, kind: type[P]) -> tuple[P, ...]:
        """The phases of one type."""
        return tuple(phase for phase in self.phases if isinstance(phase, kind))

    def same_steps(self, phase: Phase) -> tuple[Phase, ...]:
        """A step and its repetitions, in order of time."""
        return tuple(other for other in self.phases if other.same_as == phase.same_as)

    def of_kind(self, kind: PhaseKind) -> tuple[Phase, ...]:
        """The phases of one kind."""
        return tuple(phase for phase in self.phases if phase.kind == kind)
