"""What the record knows of a dancer's classes: rungs of ladders that hold, and how many jumps were planned last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, delete, insert, select

from . import schema as tables
from .dancers import dancer_of, log


@dataclass(frozen=True)
class Mastered:
    """A rung of a ladder that holds (two sets in which eight of ten tries did), noted on a day."""

    ladder: str
    rung: int
    noted_on: date


def note_mastered(connection: Connection, name: str, ladder: str, rung: int, today: date) -> dict[str, Mastered]:
    """Note that a rung of a ladder holds; 0: none does any more. Raises RecordError when there is no such dancer."""
    dancer = dancer_of(connection, name)
    connection.execute(insert(tables.mastered).values(dancer=dancer.id, ladder=ladder, rung=rung, noted_on=today.isoformat()))
    log(connection, dancer.id, "rung noted", f"{ladder} {rung}")
    return mastered_of(connection, dancer.id)


def mastered_of(connection: Connection, dancer: int) -> dict[str, Mastered]:
    """The rung that holds by ladder: what was noted last counts."""
    table = tables.mastered
    rows = connection.execute(
        select(table.c.ladder, table.c.rung, table.c.noted_on)
        .where(table.c.dancer == dancer)
        .order_by(table.c.noted_on, table.c.id)
    )
    return {row.ladder: Mastered(row.ladder, row.rung, date.fromisoformat(row.noted_on)) for row in rows}


def keep_lesson(connection: Connection, dancers: list[int], day: date, jumps: int) -> None:
    """Note how many jumps a class of a day was planned with; a plan made anew on the same day takes the place of the first."""
    table = tables.lesson
    connection.execute(delete(table).where(table.c.dancer.in_(dancers), table.c.day == day.isoformat()))
    connection.execute(insert(table), [{"dancer": dancer, "day": day.isoformat(), "jumps": jumps} for dancer in dancers])


def last_jumps(connection: Connection, dancer: int, before: date) -> int | None:
    """Jumps of the last class before a day; None when the record knows none."""
    table = tables.lesson
    found: int | None = connection.execute(
        select(table.c.jumps)
        .where(table.c.dancer == dancer, table.c.day < before.isoformat())
        .order_by(table.c.day.desc())
        .limit(1)
    ).scalar()
    return found
