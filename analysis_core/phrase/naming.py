"""Names of steps: id, which are the same step again, and their place in the music."""

from __future__ import annotations

from collections.abc import Iterable

from .counts import Counts
from .course import Course
from .phase import Found, Name, OnTheCount, P
from .repetitions import repetitions


def _on_the_count(step: Found, counts: Counts | None) -> OnTheCount | None:
    """Bar, count and distance from the nearest beat of the telling instant of a step."""
    if counts is None:
        return None
    bar, count = counts.bar_and_count(step.on_the_count_s)
    return OnTheCount(bar, count, counts.beat_error_s(step.on_the_count_s))


def named(kind: type[P], found: Iterable[Found], course: Course, counts: Counts | None) -> tuple[P, ...]:
    """Steps of one kind in order of time, with ids such as turn-1, turn-2; counts: of the music, where they are known."""
    steps = sorted(found, key=lambda step: (step.start_s, step.side or ""))
    ids = [f"{kind.kind}-{number}" for number in range(1, len(steps) + 1)]
    places = {
        place: (ids[alike[0]], number, len(alike))
        for alike in repetitions(course, steps)
        for number, place in enumerate(alike, start=1)
    }
    return tuple(
        kind(**vars(step), **vars(Name(id, *places[place], _on_the_count(step, counts))))
        for place, (id, step) in enumerate(zip(ids, steps, strict=True))
    )
