"""What the dancers' record knows for a class: goals that were set, what is held and mastered, and who stands in a plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from .dancers import Dancer

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from ..record.series import Report
    from ..record.store import Store
    from .model import Library
    from .planned import Lesson


def _held(report: Report) -> frozenset[str]:
    """Faults that are held wherever they had been found; one that came back on one side is not."""
    states: dict[str, set[str]] = {}
    for series in report.series:
        if series.state != "not found":
            states.setdefault(series.key.fault, set()).add(series.state)
    return frozenset(fault for fault, found in states.items() if found == {"held"})


def _mastered(connection: Connection, dancer: int, report: Report, ladder_of: Mapping[str, str]) -> dict[str, int]:
    """Rungs by ladder that hold; one less where a correction of the ladder came back after the rung was noted."""
    from ..record.classes import mastered_of

    noted = mastered_of(connection, dancer)
    rungs = {ladder: found.rung for ladder, found in noted.items()}
    came_back: dict[str, date] = {}
    for series in report.series:
        ladder = ladder_of.get(series.key.fault)
        if ladder is not None and series.state == "came back":
            came_back[ladder] = max(series.sessions[-1].day, came_back.get(ladder, date.min))
    for ladder, day in came_back.items():
        if ladder in noted and day > noted[ladder].noted_on:
            rungs[ladder] = max(rungs[ladder] - 1, 0)
    return rungs


def with_record(
    dancers: Sequence[Dancer], store: Store, library: Library, today: date
) -> tuple[tuple[Dancer, ...], tuple[str, ...]]:
    """The dancers with what the record knows of them by their names, and the names that it does not know.

    A goal of the record that is not held goes before all else, as what the teacher kept does. Raises RecordError.
    """
    from ..record.classes import last_jumps
    from ..record.dancers import find_dancer
    from ..record.goals import goals_of
    from ..record.series import progress_of

    known, unknown = [], []
    with store.read() as connection:
        for dancer in dancers:
            row = find_dancer(connection, dancer.name)
            if row is None:
                unknown.append(dancer.name)
                known.append(dancer)
                continue
            report = progress_of(connection, row.id)
            held = _held(report)
            goals = {goal["fault"] for goal in goals_of(connection, row.id)} - held
            needs = (replace(need, kept=True) if need.fault in goals else need for need in dancer.needs)
            known.append(
                replace(
                    dancer,
                    needs=tuple(sorted(needs, key=lambda need: -need.weight)),
                    held=held,
                    mastered=_mastered(connection, row.id, report, library.ladder_of),
                    last_jumps=last_jumps(connection, row.id, today),
                )
            )
    return tuple(known), tuple(unknown)


def keep_plan(lesson: Lesson, path: Path, store: Store, today: date, *, names: bool) -> None:
    """Note the jumps of the class for each dancer; and, where the plan names them, that it goes when one of them is deleted.

    Raises RecordError.
    """
    from ..record.classes import keep_lesson
    from ..record.dancers import find_dancer
    from ..record.takes import keep_files

    with store.begin() as connection:
        rows = (find_dancer(connection, dancer.name) for dancer in lesson.dancers)
        ids = [row.id for row in rows if row is not None]
        if ids:
            keep_lesson(connection, ids, today, lesson.jumps)
        if ids and names:
            keep_files(connection, ids, [path], "lesson", today)
