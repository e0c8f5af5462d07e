"""One term against another: all that a dancer's record holds of each, and what may be said of the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, select

from ..errors import RecordError
from ..findings.catalogue import catalogue
from ..wording import keeping as words
from . import schema as tables
from .claims import holm, together
from .followed import Key, Series
from .progress import GOAL_LEVEL, claimed, follow
from .series import (
    Report,
    day_sds,
    goal_days,
    measured_rows,
    newest_version,
    not_reviewed_by,
    sessions_by_key,
    title_of,
)


@dataclass(frozen=True)
class Better:
    """A correction that the record shows to be nearer to its band than in an earlier term. side: empty where there is none."""

    fault: str
    side: str
    step: str
    since: str


def terms_of(connection: Connection, dancer: int) -> tuple[str, ...]:
    """The names of the terms in which a dancer was recorded, by their first day; days without a term are left out."""
    take, session = tables.take, tables.session
    return tuple(
        connection.execute(
            select(session.c.term)
            .join(take, take.c.session == session.c.id)
            .where(take.c.dancer == dancer, session.c.term != "")
            .group_by(session.c.term)
            .order_by(func.min(session.c.day), session.c.term)
        ).scalars()
    )


def two_terms(connection: Connection, dancer: int, before: str | None = None, now: str | None = None) -> tuple[str, str]:
    """The terms to compare: those named, else the last one and the one before it. Raises RecordError with a sentence."""
    terms = terms_of(connection, dancer)
    for name in (before, now):
        if name is not None and name not in terms:
            raise RecordError(f"The record has no take of this dancer in the term {name!r}. {words.terms_there(terms)}")
    now = now or next((term for term in reversed(terms) if term != before), None)
    earlier = terms[: terms.index(now)] if now in terms else ()
    before = before or (earlier[-1] if earlier else None)
    if now is None or before is None:
        raise RecordError("There is one term only, or none: nothing to compare. Add takes of two terms, each with --term.")
    if before == now:
        raise RecordError(f"{now!r} cannot be compared with itself. Name an earlier term with --since.")
    return before, now


def compare_terms(connection: Connection, dancer: int, before: str, now: str) -> Report:
    """What changed from one term to another: all repetitions of a term count together, with both their own ±.

    A goal is compared with a mean of two sessions or more, never with the single take that chose it.
    """
    version = newest_version(connection, dancer)
    again = not_reviewed_by(connection, dancer, version)
    if version is None:
        return Report((), None, again)
    rows = measured_rows(connection, version, tables.take.c.dancer == dancer)
    earlier, later = ([row for row in rows if row.term == term] for term in (before, now))
    return Report(claimed(_series(connection, dancer, version, earlier, later)), version, again)


def _series(
    connection: Connection, dancer: int, version: str, earlier: Sequence[Any], later: Sequence[Any]
) -> list[Series]:  # fmt: skip
    units = {(row.fault, row.measure): row.unit for row in later}
    spreads, goals, entries = day_sds(connection, version, None), goal_days(connection, dancer), catalogue()
    first, last = sessions_by_key(earlier), sessions_by_key(later)
    series = []
    for key in (key for key in first if key in last):
        measure = key.fault, key.measure
        goal_on = goals.get((key.fault, key.side)) or goals.get((key.fault, ""))
        sessions = [*(first[key] if goal_on else [together(first[key])]), together(last[key])]
        title, says = title_of(key, entries)
        series.append(follow(key, title, says, units[measure], sessions, spreads.get(measure), goal_on))
    return series


def _nearer(series: Series) -> bool:
    return series.baseline is not None and series.sessions[-1].off_band < series.baseline.off_band


def shown_better(report: Report) -> tuple[Key, ...]:
    """What may be told to the dancer as better: goals claimed as such; of the rest what stands when all are weighed together.

    "May be better", which errs once in ten, is for the teacher; here one false word among all comes once in twenty (Holm).
    """
    goals = [item.key for item in report.series if item.claim == "better"]
    rest = [item for item in report.series if item.goal_on is None and item.adjusted is not None and item.change is not None]
    adjusted = holm([item.change.p for item in rest if item.change is not None])
    return tuple(goals) + tuple(
        item.key
        for item, p in zip(rest, adjusted, strict=True)
        if p < GOAL_LEVEL and item.claim == "may be better" and _nearer(item)
    )


def better_than_last_term(connection: Connection, sha256: str) -> tuple[Better, ...]:
    """For the page of a take: what is better than in the term before, as far as the record can show it; mostly nothing.

    sha256: of the take. Empty for a take that is not in the record, is of no term, or of the first one.
    """
    take, session = tables.take, tables.session
    found = connection.execute(
        select(take.c.dancer, session.c.term).join(session, session.c.id == take.c.session).where(take.c.sha256 == sha256)
    ).first()
    if found is None:
        return ()
    terms = terms_of(connection, found.dancer)
    if found.term not in terms[1:]:
        return ()
    before = terms[terms.index(found.term) - 1]
    report = compare_terms(connection, found.dancer, before, found.term)
    return tuple(Better(key.fault, key.side, key.step, before) for key in shown_better(report))
