"""The series of a dancer, read from the record."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, select

from ..findings.catalogue import catalogue
from ..wording import record as say
from . import schema as tables
from .claims import Session, day_to_day_sd, together
from .followed import Key, Series
from .goals import goals_of
from .progress import claimed, follow


@dataclass(frozen=True)
class Report:
    """All series of one dancer that may be compared: those by the newest measures. review_again: files by other ones."""

    series: tuple[Series, ...]
    measures_version: str | None
    review_again: tuple[str, ...]


def _session(row: Row[Any]) -> Session:
    return Session(
        day=date.fromisoformat(row.day),
        n=row.n,
        value=row.value,
        sd=math.nan if row.sd is None else row.sd,
        plus_minus=row.plus_minus,
        within=row.plus_minus_within_take,
        low=-math.inf if row.low is None else row.low,
        high=math.inf if row.high is None else row.high,
        outside=row.outside,
        as_fault=bool(row.as_fault),
        placement=row.placement,
    )


def sessions_by_key(rows: Sequence[Row[Any]]) -> dict[Key, list[Session]]:
    """Sessions of each key, in order of time; several takes of one day are one session."""
    gathered: dict[Key, dict[str, list[Session]]] = {}
    for row in rows:
        key = Key(row.fault, row.measure, row.side, row.step, row.phrase)
        gathered.setdefault(key, {}).setdefault(row.day, []).append(_session(row))
    return {key: [together(days[day]) for day in sorted(days)] for key, days in gathered.items()}


def measured_rows(connection: Connection, version: str, *conditions: ColumnElement[bool]) -> Sequence[Row[Any]]:
    """Measured values that may be compared, in order of time, each with its day, term and phrase."""
    take, review, session, measured = tables.take, tables.review, tables.session, tables.measured
    return connection.execute(
        select(measured, session.c.day, session.c.term, take.c.phrase, take.c.placement, take.c.dancer)
        .join(review, review.c.id == measured.c.review)
        .join(take, take.c.id == review.c.take)
        .join(session, session.c.id == take.c.session)
        .where(
            review.c.measures_version == version,
            measured.c.value.is_not(None),
            measured.c.plus_minus.is_not(None),
            measured.c.cannot_tell.is_(None),
            measured.c.n > 0,
            *conditions,
        )
        .order_by(session.c.day, take.c.id)
    ).all()


def day_sds(connection: Connection, version: str, fault: str | None) -> dict[tuple[str, str], float]:
    """Day-to-day spread of each measure over all dancers of the record, where there are pairs enough."""
    conditions = () if fault is None else (tables.measured.c.fault == fault,)
    by_dancer: dict[int, list[Any]] = {}
    for row in measured_rows(connection, version, *conditions):
        by_dancer.setdefault(row.dancer, []).append(row)
    series: dict[tuple[str, str], list[list[Session]]] = {}
    for rows in by_dancer.values():
        for key, sessions in sessions_by_key(rows).items():
            series.setdefault((key.fault, key.measure), []).append(sessions)
    found = {measure: day_to_day_sd(items) for measure, items in series.items()}
    return {measure: sd for measure, sd in found.items() if sd is not None}


def newest_version(connection: Connection, dancer: int) -> str | None:
    """The measures by which most of the newest is known: those of the last review that holds measured values."""
    take, review = tables.take, tables.review
    found: str | None = connection.execute(
        select(review.c.measures_version)
        .join(take, take.c.id == review.c.take)
        .where(take.c.dancer == dancer, review.c.id.in_(select(tables.measured.c.review)))
        .order_by(review.c.id.desc())
        .limit(1)
    ).scalar()
    return found


def not_reviewed_by(connection: Connection, dancer: int, version: str | None) -> tuple[str, ...]:
    """Takes that have no review by these measures."""
    take, review = tables.take, tables.review
    have = select(review.c.take).where(review.c.measures_version == version, review.c.id.in_(select(tables.measured.c.review)))
    rows = connection.execute(select(take.c.file).where(take.c.dancer == dancer, take.c.id.not_in(have)).order_by(take.c.id))
    return tuple(rows.scalars())


def title_of(key: Key, entries: Mapping[str, Any]) -> tuple[str, str]:
    """The correction in words, and what the number is."""
    entry = entries.get(key.fault)
    limits = entry.measures.get(key.measure) if entry else None
    says = limits.says if limits else key.measure
    return say.title(key.fault, key.side, key.step), says


def goal_days(connection: Connection, dancer: int) -> dict[tuple[str, str], date]:
    """The day on which each goal was set, by fault and side."""
    return {(item["fault"], item["side"]): date.fromisoformat(item["set_on"]) for item in goals_of(connection, dancer)}


def progress_of(connection: Connection, dancer: int, *, fault: str | None = None) -> Report:
    """What changed for a dancer, of all corrections or of one. An empty report when nothing is measured yet.

    Claims are weighed over all series of the dancer even where one fault is asked for: asking for one does not make it a goal.
    """
    version = newest_version(connection, dancer)
    again = not_reviewed_by(connection, dancer, version)
    if version is None:
        return Report((), None, again)
    sds = day_sds(connection, version, fault)
    goals = goal_days(connection, dancer)
    entries = catalogue()
    series = []
    rows = measured_rows(connection, version, tables.take.c.dancer == dancer)
    units = {(row.fault, row.measure): row.unit for row in rows}
    for key, sessions in sessions_by_key(rows).items():
        goal_on = goals.get((key.fault, key.side)) or goals.get((key.fault, ""))
        title, says = title_of(key, entries)
        measure = key.fault, key.measure
        series.append(follow(key, title, says, units[measure], sessions, sds.get(measure), goal_on))
    weighed = claimed(series)
    return Report(tuple(item for item in weighed if fault in (None, item.key.fault)), version, again)
