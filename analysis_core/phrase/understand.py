"""From the dancer in motion to the phrase: contacts, steps, counts, repetitions."""

from __future__ import annotations

from collections.abc import Sequence

from ..body.movement import Movement
from ..take import ForcePlate
from .balances import find_holds
from .contacts import find_feet, list_contacts
from .counts import Counts, TempoProposal, propose_counts
from .course import Course, prepare
from .flight import find_flights
from .forces import with_force_plates
from .gestures import find_gestures
from .jumps import find_jumps, find_landings
from .naming import named
from .phase import (
    Balance,
    Bend,
    FoundBalance,
    FoundPlie,
    FoundStatic,
    Jump,
    Landing,
    LegGesture,
    Phase,
    Phrase,
    Plie,
    Releve,
    Static,
    Step,
    Turn,
    Use,
)
from .plies import find_bends
from .releves import find_releves
from .steps import find_steps
from .turns import find_turns

#: A jump that leaves within this time of a plié's end was pushed out of it, s. Proposed default.
PUSH_S = 0.2


def _uses(bends: Sequence[Bend], turns: Sequence[Turn], jumps: Sequence[Jump], landings: Sequence[Landing]) -> list[FoundPlie]:
    """What every bend is for: of a landing, a take-off or both, preparation of a turn, or for its own sake."""
    prepared = {turn.preparation_bottom_s for turn in turns}

    def use(bend: Bend) -> Use:
        lands = any(bend.start <= landing.end and bend.end > landing.start for landing in landings)
        leaves = any(bend.start_s < jump.start_s <= bend.end_s + PUSH_S for jump in jumps)
        if lands or leaves:
            return "landing and take-off" if lands and leaves else "landing" if lands else "take-off"
        return "preparation" if bend.bottom_s in prepared else "plié"

    return [FoundPlie(**vars(bend), use=use(bend)) for bend in bends]


def course_of(movement: Movement, force_plates: Sequence[ForcePlate] = ()) -> tuple[Course, tuple[str, ...]]:
    """The curves that steps are found in, and what there is to say about the contacts."""
    feet, agreement = with_force_plates(movement, find_feet(movement), force_plates)
    return prepare(movement, feet), () if agreement is None else (agreement.said(),)


def understand_phrase(movement: Movement, counts: Counts | None = None, force_plates: Sequence[ForcePlate] = ()) -> Phrase:
    """Contacts and phases of a movement, in order of time (catalogue section 6).

    counts: of the music; with it every phase carries its bar and count. force_plates: their contact times replace those of the
    markers where a plate carries one foot alone, and the agreement is said in ``remarks``. Samples that are not known take
    no part; a kind of step whose curves are not known is not found.
    """
    course, remarks = course_of(movement, force_plates)
    bends = find_bends(course)
    turns = named(Turn, find_turns(course, bends), course, counts)
    jumps = named(Jump, find_jumps(course, find_flights(course)), course, counts)
    landings = named(Landing, find_landings(course, jumps), course, counts)
    holds = find_holds(course)
    phases: tuple[Phase, ...] = (
        *turns,
        *jumps,
        *landings,
        *named(Plie, _uses(bends, turns, jumps, landings), course, counts),
        *named(Releve, find_releves(course), course, counts),
        *named(Balance, (hold for hold in holds if isinstance(hold, FoundBalance)), course, counts),
        *named(Static, (hold for hold in holds if isinstance(hold, FoundStatic)), course, counts),
        *named(LegGesture, find_gestures(course), course, counts),
        *named(Step, find_steps(course), course, counts),
    )
    in_time = sorted(phases, key=lambda phase: (phase.start_s, phase.kind, phase.side or ""))
    return Phrase(list_contacts(course.feet, movement.rate_hz), tuple(in_time), remarks)


def propose_tempo(movement: Movement, beats_per_bar: int = 4) -> TempoProposal | None:
    """A tempo and offset that the movement itself suggests; None when it has no pulse."""
    return propose_counts(course_of(movement)[0], beats_per_bar)
