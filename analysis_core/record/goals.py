"""What a dancer works on this term: at most two corrections, set before the takes that are to show it."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy import Connection, insert, select, update

from ..errors import RecordError
from . import schema as tables
from .dancers import dancer_of, log

#: More than two at a time are nobody's goals. Proposed default.
MOST_GOALS = 2


def goals_of(connection: Connection, dancer: int) -> list[dict[str, Any]]:
    """The goals that have not ended."""
    table = tables.goal
    rows = connection.execute(
        select(table.c.fault, table.c.side, table.c.set_on).where(table.c.dancer == dancer, table.c.ended_on.is_(None))
    )
    return [dict(row._mapping) for row in rows]


def set_goal(connection: Connection, name: str, fault: str, side: str, today: date) -> list[dict[str, Any]]:
    """Set a goal. Raises RecordError when two are set already."""
    dancer = dancer_of(connection, name)
    held = goals_of(connection, dancer.id)
    if not any((item["fault"], item["side"]) == (fault, side) for item in held):
        if len(held) >= MOST_GOALS:
            raise RecordError(f"{name} has {len(held)} goals already. End one first: record goal {name} --fault F --end OUTCOME")
        connection.execute(insert(tables.goal).values(dancer=dancer.id, fault=fault, side=side, set_on=today.isoformat()))
        log(connection, dancer.id, "goal set", fault)
    return goals_of(connection, dancer.id)


def end_goal(connection: Connection, name: str, fault: str, side: str, outcome: str, today: date) -> list[dict[str, Any]]:
    """End a goal. Raises RecordError when it is not set."""
    dancer = dancer_of(connection, name)
    table = tables.goal
    ended = connection.execute(
        update(table)
        .where(table.c.dancer == dancer.id, table.c.fault == fault, table.c.side == side, table.c.ended_on.is_(None))
        .values(ended_on=today.isoformat(), outcome=outcome)
    )
    if ended.rowcount == 0:
        raise RecordError(f"{name} has no goal {fault} {side}".rstrip() + ".")
    log(connection, dancer.id, "goal ended", fault)
    return goals_of(connection, dancer.id)
