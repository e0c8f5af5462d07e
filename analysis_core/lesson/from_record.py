"""What the dancers' record knows for a class: goals that were set, corrections that are held, and who stands in a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from .dancers import Dancer

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from ..record.store import Store


def _held(connection: Connection, dancer: int) -> frozenset[str]:
    """Faults that are held wherever they had been found; one that came back on one side is not."""
    from ..record.series import progress_of

    states: dict[str, set[str]] = {}
    for series in progress_of(connection, dancer).series:
        if series.state != "not found":
            states.setdefault(series.key.fault, set()).add(series.state)
    return frozenset(fault for fault, found in states.items() if found == {"held"})


def with_record(dancers: Sequence[Dancer], store: Store) -> tuple[tuple[Dancer, ...], tuple[str, ...]]:
    """The dancers with what the record knows of them by their names, and the names that it does not know.

    A goal of the record that is not held goes before all else, as what the teacher kept does. Raises RecordError.
    """
    from ..record.dancers import find_dancer
    from ..record.goals import goals_of

    known, unknown = [], []
    with store.read() as connection:
        for dancer in dancers:
            row = find_dancer(connection, dancer.name)
            if row is None:
                unknown.append(dancer.name)
                known.append(dancer)
                continue
            held = _held(connection, row.id)
            goals = {goal["fault"] for goal in goals_of(connection, row.id)} - held
            needs = (replace(need, kept=True) if need.fault in goals else need for need in dancer.needs)
            known.append(replace(dancer, needs=tuple(sorted(needs, key=lambda need: -need.weight)), held=held))
    return tuple(known), tuple(unknown)


def keep_plan(dancers: Sequence[Dancer], path: Path, store: Store, today: date) -> None:
    """Note in the record whose names stand in a plan, so that it goes when one of them is deleted. Raises RecordError."""
    from ..record.dancers import find_dancer
    from ..record.takes import keep_files

    with store.begin() as connection:
        rows = (find_dancer(connection, dancer.name) for dancer in dancers)
        ids = [row.id for row in rows if row is not None]
        if ids:
            keep_files(connection, ids, [path], "lesson", today)
