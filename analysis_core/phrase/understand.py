"""From the dancer in motion to the phrase: contacts, steps, counts, repetitions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ..body.movement import Movement
from ..take import ForcePlate
from .balances import find_balances
from .contacts import find_feet, list_contacts
from .counts import Counts, TempoProposal, propose_counts
from .course import Course, prepare
from .flight import find_flights
from .forces import with_force_plates
from .gestures import find_gestures
from .jumps import find_jumps, find_landings
from .phase import Phase, Phrase
from .plies import find_plies
from .releves import find_releves
from .repetitions import mark_repetitions
from .steps import find_steps
from .turns import find_turns

#: A jump that leaves within this time of a plié's end was pushed out of it, s. Proposed default.
PUSH_S = 0.2
#: The instant of each kind of step that should fall on a count; the start where nothing is named.
ON_THE_COUNT = {
    "turn": "close_s",
    "jump": "apex_s",
    "plie": "arrival_s",
    "releve": "plateau_start_s",
    "leg-gesture": "peak_s",
    "landing": "lowest_s",
}


def _numbered(phases: Iterable[Phase]) -> list[Phase]:
    """Phases in order of time with ids such as turn-1, jump-2."""
    numbers: dict[str, int] = {}
    numbered = []
    for phase in sorted(phases, key=lambda item: (item.start_s, item.kind, item.side or "")):
        numbers[phase.kind] = numbers.get(phase.kind, 0) + 1
        numbered.append(replace(phase, id=f"{phase.kind}-{numbers[phase.kind]}"))
    return numbered


def _say_use_of_plies(phases: Iterable[Phase]) -> None:
    """Write into every plié what it is for: of a landing, a take-off or both, preparation of a turn, or for its own sake."""
    listed = list(phases)
    landings = [phase for phase in listed if phase.kind == "landing"]
    jumps = [phase for phase in listed if phase.kind == "jump"]
    prepared = {phase.properties["preparation_bottom_s"] for phase in listed if phase.kind == "turn"}
    for plie in (phase for phase in listed if phase.kind == "plie"):
        lands = any(plie.start <= landing.end and plie.end > landing.start for landing in landings)
        leaves = any(plie.start_s < jump.start_s <= plie.end_s + PUSH_S for jump in jumps)
        use = "landing and take-off" if lands and leaves else "landing" if lands else "take-off" if leaves else "plié"
        plie.properties["use"] = "preparation" if use == "plié" and plie.properties["bottom_s"] in prepared else use


def _say_counts(phases: Iterable[Phase], counts: Counts) -> None:
    """Write bar, count and distance from the nearest beat of its telling instant into every phase."""
    for phase in phases:
        told = phase.properties.get(ON_THE_COUNT.get(phase.kind, ""))
        instant = float(told) if isinstance(told, float) else phase.start_s
        bar, count = counts.bar_and_count(instant)
        phase.properties.update(bar=float(bar), count=count, beat_error_s=counts.beat_error_s(instant))


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
    plies = find_plies(course)
    jumps = _numbered(find_jumps(course, find_flights(course)))
    phases = _numbered(
        (
            *plies,
            *find_turns(course, plies),
            *jumps,
            *find_landings(course, tuple(jumps)),
            *find_releves(course),
            *find_balances(course),
            *find_gestures(course),
            *find_steps(course),
        )
    )
    _say_use_of_plies(phases)
    if counts is not None:
        _say_counts(phases, counts)
    mark_repetitions(course, phases)
    return Phrase(list_contacts(course.feet, movement.rate_hz), tuple(phases), remarks)


def propose_tempo(movement: Movement, beats_per_bar: int = 4) -> TempoProposal | None:
    """A tempo and offset that the movement itself suggests; None when it has no pulse."""
    return propose_counts(course_of(movement)[0], beats_per_bar)
