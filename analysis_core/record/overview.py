"""The record at a glance: who is in it, and what is due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection, func, select

from ..wording import keeping as words
from . import schema as tables
from .dancers import KEEPING, Dancer, find_dancer

#: What ends within so many days is due. Proposed default.
DUE_DAYS = 30


@dataclass(frozen=True)
class Line:
    """One dancer of the list. consent_until: None when no consent for reviews holds today; then why says what is wrong."""

    dancer: Dancer
    takes: int
    first: date | None
    last: date | None
    consent_until: date | None
    why: str


@dataclass(frozen=True)
class Due:
    """Something that ends. late: its day has passed."""

    pseudonym: str
    what: str
    on: date
    late: bool
    do: str


def _consent_now(dancer: Dancer, today: date) -> tuple[date | None, str]:
    reviews = [(item.why_not(today, dancer.adult_on), item.ends_on) for item in dancer.consents if item.purpose == "review"]
    ends = [end for why, end in reviews if why is None]
    if ends:
        return max(ends), ""
    return None, str(reviews[-1][0]) if reviews else words.NO_CONSENT


def dancers(connection: Connection) -> list[Dancer]:
    """All dancers, by pseudonym."""
    names = connection.execute(select(tables.dancer.c.pseudonym).order_by(tables.dancer.c.pseudonym)).scalars().all()
    return [found for name in names if (found := find_dancer(connection, name)) is not None]


def overview(connection: Connection, today: date) -> list[Line]:
    """A line for each dancer, by pseudonym: never in order of merit, or of joining."""
    take, session = tables.take, tables.session
    counts = connection.execute(
        select(take.c.dancer, func.count(), func.min(session.c.day), func.max(session.c.day))
        .join(session, session.c.id == take.c.session)
        .group_by(take.c.dancer)
    )
    by_dancer = {row[0]: (row[1], date.fromisoformat(row[2]), date.fromisoformat(row[3])) for row in counts}
    lines = []
    for dancer in dancers(connection):
        takes, first, last = by_dancer.get(dancer.id, (0, None, None))
        until, why = _consent_now(dancer, today)
        lines.append(Line(dancer, takes, first, last, until, why))
    return lines


def _left(connection: Connection, dancer: int) -> dict[str, list[str]]:
    """Files in which a dancer is shown, by the purpose that they were made for."""
    artefact, shown = tables.artefact, tables.shown
    rows = connection.execute(
        select(artefact.c.purpose, artefact.c.path)
        .join(shown, shown.c.artefact == artefact.c.id)
        .where(shown.c.dancer == dancer, artefact.c.purpose.is_not(None))
    )
    found: dict[str, list[str]] = {}
    for row in rows:
        found.setdefault(row.purpose, []).append(row.path)
    return found


def _due_of(dancer: Dancer, today: date, soon: date, left: Mapping[str, Sequence[str]]) -> list[Due]:
    name, found = dancer.pseudonym, []
    if dancer.retain_until <= soon:
        found.append(Due(name, words.KEPT_UNTIL, dancer.retain_until, dancer.retain_until < today, words.delete_or_ask(name)))
    for item in dancer.consents:
        later = [other for other in dancer.consents if other.purpose == item.purpose and other.withdrawn_on is None]
        renewed = any(other.ends_on > item.ends_on for other in later)
        if item.withdrawn_on is None and item.ends_on <= soon and not renewed:
            what, do = words.consent_ends(item.purpose), words.ask_again(name, purpose=item.purpose)
            found.append(Due(name, what, item.ends_on, item.ends_on < today, do))
        if item.withdrawn_on is not None and not later:
            what = words.consent_was_withdrawn(item.purpose)
            if item.purpose in KEEPING:
                found.append(Due(name, what, item.withdrawn_on, True, words.delete_command(name)))
            elif left.get(item.purpose):
                found.append(Due(name, what, item.withdrawn_on, True, words.delete_by_hand(left[item.purpose])))
    asked = any(not item.by_guardian and item.why_not(today, dancer.adult_on) is None for item in dancer.consents)
    if dancer.adult_on is not None and dancer.adult_on <= soon and not asked:
        late = dancer.adult_on < today
        found.append(Due(name, words.COMES_OF_AGE, dancer.adult_on, late, words.ask_again(name, by="dancer")))
    return found


def due(connection: Connection, today: date, days: int = DUE_DAYS) -> list[Due]:
    """What ends within some days or has ended: consents, retention, coming of age; the earliest first."""
    soon = today + timedelta(days=days)
    found = [item for dancer in dancers(connection) for item in _due_of(dancer, today, soon, _left(connection, dancer.id))]
    return sorted(found, key=lambda item: (item.on, item.pseudonym, item.what))
