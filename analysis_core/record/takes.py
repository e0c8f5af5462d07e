"""Takes of a dancer: added with their review and decisions by content hash, and listed."""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

from sqlalchemy import Connection, Table, delete, func, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from ..errors import RecordError
from ..wording import keeping
from . import schema as tables
from .dancers import Dancer, log, standing_consent
from .folders import Reviewed, decision_rows, measured_rows

Added = Literal["added", "reviewed again", "there already"]


@dataclass(frozen=True)
class When:
    """Of which day a take is, and in which room, term and phrase it belongs; texts may be empty.

    recording: where its file lies, None when that is not known.
    """

    day: date
    room: str = ""
    term: str = ""
    phrase: str = ""
    recording: Path | None = None


@dataclass(frozen=True)
class TakeRow:
    """One take with its newest review. measured, decided: how many values and decisions are held."""

    file: str
    sha256: str
    day: date
    term: str
    room: str
    phrase: str
    verdict: str
    kind: str
    duration_s: float | None
    level: str
    folder: str
    measures_version: str
    measured: int
    outside: int
    decided: int


def mark_of(secret: bytes, sha256: str) -> str:
    """The mark that remains of a deleted take: nobody without the record's secret can tell which take it was."""
    return hmac.new(secret, sha256.encode(), hashlib.sha256).hexdigest()


def _insert_if_new(connection: Connection, table: Table, **values: object) -> None:
    dialect = postgresql if connection.dialect.name == "postgresql" else sqlite
    connection.execute(dialect.insert(table).values(**values).on_conflict_do_nothing())


def _session(connection: Connection, when: When) -> int:
    table, day = tables.session, when.day.isoformat()
    _insert_if_new(connection, table, day=day, room=when.room, term=when.term)
    found: int = connection.execute(
        select(table.c.id).where(table.c.day == day, table.c.room == when.room, table.c.term == when.term)
    ).scalar_one()
    return found


def _recording(reviewed: Reviewed, when: When) -> str | None:
    """Where the recording lies: as was said, or beside the review folder, where the add-on and most studios keep it."""
    path = when.recording or reviewed.folder.parent / reviewed.take.file
    return str(path.absolute()) if path.is_file() else None


def _take(connection: Connection, dancer: Dancer, reviewed: Reviewed, when: When) -> tuple[int, bool]:
    """The id of a take, entered if it is new, and whether it was."""
    table, take = tables.take, reviewed.take
    _insert_if_new(
        connection,
        table,
        dancer=dancer.id,
        session=_session(connection, when),
        sha256=take.sha256,
        file=take.file,
        phrase=when.phrase,
        placement=reviewed.placement,
        kind=take.kind,
        rate_hz=take.rate_hz,
        frames=take.frames,
        duration_s=take.duration_s,
        verdict=reviewed.verdict,
        recording=_recording(reviewed, when),
    )
    found = connection.execute(select(table.c.id).where(table.c.dancer == dancer.id, table.c.sha256 == take.sha256)).scalar_one()
    new = (
        connection.execute(select(func.count()).select_from(tables.review).where(tables.review.c.take == found)).scalar_one() == 0
    )
    return int(found), new


def _keep_review(connection: Connection, take: int, reviewed: Reviewed, today: date) -> Added:
    table = tables.review
    same = connection.execute(select(table.c.id).where(table.c.take == take, table.c.sha256 == reviewed.sha256)).first()
    if same is not None:
        connection.execute(update(table).where(table.c.id == same.id).values(folder=str(reviewed.folder)))
        return "there already"
    connection.execute(delete(table).where(table.c.take == take, table.c.measures_version == reviewed.measures_version))
    review = connection.execute(
        insert(table).values(
            take=take,
            sha256=reviewed.sha256,
            measures_version=reviewed.measures_version,
            level=reviewed.level,
            folder=str(reviewed.folder),
            made_on=today.isoformat(),
        )
    ).inserted_primary_key
    assert review is not None
    rows = measured_rows(reviewed)
    if rows:
        connection.execute(insert(tables.measured), [{"review": review[0], **row} for row in rows])
    connection.execute(delete(tables.decision).where(tables.decision.c.take == take))
    decisions = decision_rows(reviewed)
    if decisions:
        connection.execute(insert(tables.decision), [{"take": take, "day": today.isoformat(), **row} for row in decisions])
    return "reviewed again"


def keep_files(
    connection: Connection, dancers: Iterable[int], paths: Sequence[Path], kind: str, today: date, purpose: str | None = None
) -> int:
    """Note files that the program made and who is in them; they go when one of those is deleted. Returns how many are new."""
    new = 0
    for path in paths:
        text = str(path.absolute())
        known = connection.execute(select(tables.artefact.c.id).where(tables.artefact.c.path == text)).scalar()
        if known is None:
            entered = connection.execute(
                insert(tables.artefact).values(path=text, kind=kind, purpose=purpose, made_on=today.isoformat())
            ).inserted_primary_key
            assert entered is not None
            known = entered[0]
            new += 1
        for dancer in dancers:
            _insert_if_new(connection, tables.shown, artefact=known, dancer=dancer)
    return new


def add_take(
    connection: Connection, dancer: Dancer, reviewed: Reviewed, when: When, *, secret: bytes, today: date, again: bool = False
) -> Added:
    """Add one reviewed take, or renew what is held of it; one transaction of the caller.

    ``again`` takes in a take that was deleted before. Raises RecordError without a consent that holds today.
    """
    standing_consent(dancer, "review", today)
    mark = mark_of(secret, reviewed.take.sha256)
    buried = connection.execute(
        select(tables.tombstone.c.until).where(tables.tombstone.c.mark == mark, tables.tombstone.c.until >= today.isoformat())
    ).first()
    if buried is not None and not again:
        raise RecordError(
            f"{reviewed.take.file} was deleted from this record, which may have been asked for. "
            "If it shall be taken in again, add --again."
        )
    if buried is not None:
        connection.execute(delete(tables.tombstone).where(tables.tombstone.c.mark == mark))
    take, new = _take(connection, dancer, reviewed, when)
    outcome = _keep_review(connection, take, reviewed, today)
    keep_files(connection, [dancer.id], reviewed.files, "review", today)
    if outcome != "there already":
        outcome = "added" if new else outcome
        log(connection, dancer.id, f"take {outcome}", keeping.files(len(reviewed.files)))
    return outcome


def dancers_of_take(connection: Connection, sha256: str) -> list[str]:
    """Pseudonyms of the dancers whose take a recording is, by its content; a recording may show two."""
    take, dancer = tables.take, tables.dancer
    found = select(dancer.c.pseudonym).join(take, take.c.dancer == dancer.c.id).where(take.c.sha256 == sha256)
    return list(connection.execute(found.order_by(dancer.c.pseudonym)).scalars())


def takes_of(connection: Connection, dancer: int) -> list[TakeRow]:
    """All takes of a dancer with their newest review, the earliest day first."""
    take, review, session, measured = tables.take, tables.review, tables.session, tables.measured
    newest = select(func.max(review.c.id)).where(review.c.take == take.c.id).correlate(take).scalar_subquery()
    values = select(func.count()).where(measured.c.review == review.c.id).correlate(review).scalar_subquery()
    outside = (
        select(func.count()).where(measured.c.review == review.c.id, measured.c.outside > 0).correlate(review).scalar_subquery()
    )
    decided = select(func.count()).where(tables.decision.c.take == take.c.id).correlate(take).scalar_subquery()
    rows = connection.execute(
        select(
            take.c.file, take.c.sha256, session.c.day, session.c.term, session.c.room, take.c.phrase, take.c.verdict, take.c.kind,
            take.c.duration_s, review.c.level, review.c.folder, review.c.measures_version,
            values.label("measured"), outside.label("outside"), decided.label("decided"),
        )
        .join(session, session.c.id == take.c.session)
        .join(review, review.c.id == newest)
        .where(take.c.dancer == dancer)
        .order_by(session.c.day, take.c.id)
    )  # fmt: skip
    return [TakeRow(**{**row._mapping, "day": date.fromisoformat(row.day)}) for row in rows]
