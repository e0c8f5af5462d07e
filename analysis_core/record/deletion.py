"""Deleting a dancer so that no byte is left in what is ours, and saying what lies elsewhere."""

from __future__ import annotations

import json
import secrets
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, delete, exists, insert, select
from sqlalchemy.exc import DBAPIError

from ..errors import OutputError, RecordError
from ..wording import keeping as words
from . import schema as tables
from .dancers import dancer_of, log, remove_dancer
from .names import NamesBook
from .proof import Proof, Search, prove_gone
from .store import COPY_DAYS, Store, copies_of, save_copy
from .takes import mark_of

#: How long to wait for another program that has the record open, seconds.
_WAIT_S = 10.0
#: Name of an archive's ledger (``archive/ledger.py``, which is not loaded for this).
_LEDGER = "archive.sqlite"
#: Key of the note that a deletion is not finished yet.
_UNTIDY = "deletion to be finished since"


@dataclass(frozen=True)
class Going:
    """What deleting a dancer takes away. files: of the program, there now. with_others: those that show others, too.

    elsewhere: recordings and copies that are not deleted, for somebody to look after. other_dancers: ids.
    """

    dancer: int
    pseudonym: str
    takes: int
    files: tuple[Path, ...]
    with_others: tuple[Path, ...]
    elsewhere: tuple[str, ...]
    other_dancers: tuple[int, ...] = ()


@dataclass(frozen=True)
class Deleted:
    """What was done. clean: nothing was found afterwards. remarks: what somebody has to do or to know."""

    certificate: str
    takes: int
    files: int
    copies: int
    proof: Proof
    elsewhere: tuple[str, ...]
    remarks: tuple[str, ...] = ()

    @property
    def clean(self) -> bool:
        """Whether no trace was found."""
        return not self.proof.hits


@dataclass
class _Traces:
    texts: set[str] = field(default_factory=set)
    numbers: set[float] = field(default_factory=set)


def _files_of(connection: Connection, dancer: int) -> list[Any]:
    artefact, shown = tables.artefact, tables.shown
    return list(
        connection.execute(
            select(artefact.c.id, artefact.c.path, artefact.c.kind)
            .join(shown, shown.c.artefact == artefact.c.id)
            .where(shown.c.dancer == dancer)
        )
    )


def _ledgers(connection: Connection, dancer: int) -> set[str]:
    """Ledgers of archives that hold rows of a dancer's takes: they lie above the review folders."""
    take, review = tables.take, tables.review
    folders = connection.execute(select(review.c.folder).join(take, take.c.id == review.c.take).where(take.c.dancer == dancer))
    above = {parent / _LEDGER for folder in folders.scalars() for parent in Path(folder).parents}
    return {words.rows_of_archive(path) for path in above if path.is_file()}


def what_would_go(connection: Connection, name: str) -> Going:
    """What deleting a dancer would take away. Raises RecordError when there is no such dancer."""
    dancer = dancer_of(connection, name)
    files = _files_of(connection, dancer.id)
    shown = tables.shown
    others = connection.execute(
        select(shown.c.artefact, shown.c.dancer).where(
            shown.c.artefact.in_([row.id for row in files]), shown.c.dancer != dancer.id
        )
    ).all()
    shared = {row.artefact for row in others}
    take = tables.take
    takes = connection.execute(select(take.c.id, take.c.file, take.c.recording).where(take.c.dancer == dancer.id)).all()
    recordings = {words.recording(row.recording, row.file) for row in takes}
    gone = {words.moved_away(row.path) for row in files if not Path(row.path).exists() and row.kind != "review"}
    return Going(
        dancer=dancer.id,
        pseudonym=dancer.pseudonym,
        takes=len(takes),
        files=tuple(Path(row.path) for row in files if Path(row.path).exists()),
        with_others=tuple(Path(row.path) for row in files if row.id in shared),
        elsewhere=tuple(sorted(recordings | gone | _ledgers(connection, dancer.id))),
        other_dancers=tuple(sorted({row.dancer for row in others})),
    )


def _traces(connection: Connection, dancer: int) -> _Traces:
    """Everything that stands in rows of a dancer and tells of her."""
    traces = _Traces()
    take, review, measured, decision = tables.take, tables.review, tables.measured, tables.decision
    queries = (
        select(tables.dancer.c.pseudonym).where(tables.dancer.c.id == dancer),
        select(tables.consent.c.note, tables.consent.c.given_by).where(tables.consent.c.dancer == dancer),
        select(take.c.sha256, take.c.file, take.c.recording).where(take.c.dancer == dancer),
        select(review.c.folder, review.c.sha256).join(take, take.c.id == review.c.take).where(take.c.dancer == dancer),
        select(decision.c.words, decision.c.note).join(take, take.c.id == decision.c.take).where(take.c.dancer == dancer),
    )
    for query in queries:
        for row in connection.execute(query):
            traces.texts |= {text for text in row if text}
    traces.texts |= {row.path for row in _files_of(connection, dancer)}
    values = connection.execute(
        select(measured.c.value, measured.c.worst, measured.c.plus_minus)
        .join(review, review.c.id == measured.c.review)
        .join(take, take.c.id == review.c.take)
        .where(take.c.dancer == dancer)
    )
    for row in values:
        traces.numbers |= {number for number in row if number is not None}
    return traces


def _search(connection: Connection, traces: _Traces) -> Search:
    """What to look for: the traces without what other dancers hold rightly."""
    columns = (
        tables.dancer.c.pseudonym, tables.consent.c.note, tables.consent.c.given_by, tables.take.c.sha256, tables.take.c.file,
        tables.review.c.folder, tables.review.c.sha256, tables.decision.c.words, tables.decision.c.note, tables.artefact.c.path,
        tables.session.c.room, tables.session.c.term, tables.goal.c.outcome, tables.event.c.what, tables.event.c.who,
        tables.take.c.phrase, tables.take.c.recording, tables.review.c.measures_version,
    )  # fmt: skip
    held = "\n".join(text for column in columns for text in connection.execute(select(column).distinct()).scalars() if text)
    # Words of the tables themselves stand in every record.
    held += "".join(f"\n{table.name} {' '.join(table.columns.keys())}" for table in tables.metadata.sorted_tables)
    search = Search()
    for text in traces.texts:
        if text not in held:
            search.add_text(text)
    measured = tables.measured
    kept: set[float] = set()
    for column in (measured.c.value, measured.c.worst, measured.c.plus_minus):
        for batch in _batches(sorted(traces.numbers)):
            kept |= set(connection.execute(select(column).where(column.in_(batch))).scalars())
    for number in traces.numbers - kept:
        search.add_number(number)
    return search


def _batches(values: Sequence[float], size: int = 500) -> list[Sequence[float]]:
    return [values[start : start + size] for start in range(0, len(values), size)]


def _delete_files(files: Sequence[Path]) -> list[Path]:
    """Delete files and the folders that they leave empty. Raises OutputError at the first that cannot be deleted."""
    gone = []
    for path in files:
        try:
            path.unlink(missing_ok=True)
        except OSError as error:
            raise OutputError(
                f"{path} cannot be deleted: {error.strerror}. The dancer is still in the record; delete again afterwards."
            ) from error
        gone.append(path)
        with suppress(OSError):
            path.parent.rmdir()
    return gone


def _bury(connection: Connection, going: Going, reason: str, files: int, today: date) -> str:
    """Delete the rows; leave a certificate and marks that name nobody. Returns the certificate."""
    certificate = secrets.token_hex(16)
    take, artefact, shown, session = tables.take, tables.artefact, tables.shown, tables.session
    until = (today + timedelta(days=COPY_DAYS)).isoformat()
    secret = connection.execute(select(tables.about.c.value).where(tables.about.c.key == "secret")).scalar_one()
    for sha in connection.execute(select(take.c.sha256).where(take.c.dancer == going.dancer)).scalars().all():
        mark = mark_of(bytes.fromhex(secret), sha)
        connection.execute(delete(tables.tombstone).where(tables.tombstone.c.mark == mark))
        connection.execute(insert(tables.tombstone).values(mark=mark, until=until))
    hers = [row.id for row in _files_of(connection, going.dancer)]
    for other in going.other_dancers:
        log(connection, other, words.DELETED_WITH_ANOTHER, words.files(len(going.with_others)))
    connection.execute(delete(artefact).where(artefact.c.id.in_(hers)))
    connection.execute(delete(shown).where(shown.c.dancer == going.dancer))
    remove_dancer(connection, going.dancer)
    connection.execute(delete(session).where(~exists().where(take.c.session == session.c.id)))
    connection.execute(delete(tables.tombstone).where(tables.tombstone.c.until < today.isoformat()))
    connection.execute(delete(tables.about).where(tables.about.c.key == _UNTIDY))
    connection.execute(insert(tables.about).values(key=_UNTIDY, value=today.isoformat()))
    connection.execute(
        insert(tables.erased).values(
            certificate=certificate, day=today.isoformat(), reason=reason, takes=going.takes, files=files
        )
    )
    return certificate


def _give_back_pages(store: Store) -> bool:
    """Write the database anew without what was deleted; whether it could be done while nobody else had it open."""
    with store.outside_transactions() as connection:
        if not store.embedded:
            for table in tables.metadata.sorted_tables:
                connection.exec_driver_sql(f'VACUUM FULL "{table.name}"')
            return True
        connection.exec_driver_sql("VACUUM")
        until = time.monotonic() + _WAIT_S
        while True:
            busy = connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").one()[0]
            if not busy or time.monotonic() > until:
                return not busy
            time.sleep(0.2)


def _ours(store: Store, connection: Connection) -> list[Path]:
    """The files that are searched afterwards: database, its logs, copies, and what the program made for others."""
    files = [
        Path(path)
        for path in connection.execute(select(tables.artefact.c.path).where(tables.artefact.c.kind != "review")).scalars()
    ]
    if store.place.file is not None:
        file = store.place.file
        files += [file, *(file.with_name(file.name + ending) for ending in ("-wal", "-shm", "-journal"))]
    files += copies_of(store.place)
    return [path for path in dict.fromkeys(files) if path.is_file()]


def _tidy(store: Store, today: date) -> tuple[int, bool]:
    """What follows a deletion: pages given back, safety copies made anew. Returns how many copies there were, and whether
    nobody else had the record open. Done again at the next opening when it was cut off."""
    try:
        alone = _give_back_pages(store)
    except DBAPIError as error:
        raise OutputError(
            f"The dancer is deleted from {store.place.words}, but the file could not be written anew ({error.orig}), so "
            "that traces may be left in it. Free some space, then: in-the-round record due"
        ) from error
    copies = copies_of(store.place)
    for path in copies:
        path.unlink()
    if copies:
        try:
            save_copy(store, "after a deletion", today)
        except OutputError as error:
            raise OutputError(
                f"The dancer is deleted from {store.place.words} and from its copies, but no new copy could be made "
                f"({error.__cause__}). Free some space, then: in-the-round record backup"
            ) from error
    if alone:
        with store.begin() as connection:
            connection.execute(delete(tables.about).where(tables.about.c.key == _UNTIDY))
    return len(copies), alone


def finish_deletions(store: Store, today: date) -> bool:
    """Finish a deletion that was cut off after its rows were gone; whether there was one."""
    if store.read_only:
        return False
    with store.read() as connection:
        untidy = connection.execute(select(tables.about.c.value).where(tables.about.c.key == _UNTIDY)).first() is not None
    if untidy:
        _tidy(store, today)
    return untidy


def delete_made_for(store: Store, dancer: int, purpose: str) -> list[Path]:
    """Delete the files that were made for a purpose alone and in which a dancer is shown, after its consent was withdrawn.

    A file with others goes as a whole. Returns what is gone. Raises OutputError with the file that cannot be deleted.
    """
    artefact, shown = tables.artefact, tables.shown
    hers = select(shown.c.artefact).where(shown.c.dancer == dancer)
    which = artefact.c.purpose == purpose, artefact.c.id.in_(hers)
    with store.read() as connection:
        paths = [Path(path) for path in connection.execute(select(artefact.c.path).where(*which)).scalars()]
    try:
        gone = _delete_files(paths)
    except OutputError as error:
        said = error.__cause__
        raise OutputError(
            f"The consent for {purpose} is withdrawn, but a file made for it cannot be deleted ({said}). Delete it by hand."
        ) from error
    with store.begin() as connection:
        connection.execute(delete(artefact).where(*which))
        if gone:
            log(connection, dancer, words.files_made_deleted(purpose), words.files(len(gone)))
    return gone


def _real_name(store: Store, going: Going, book: NamesBook | None) -> str | None:
    if book is None and store.place.names.exists():
        raise RecordError(
            f"A names book lies beside this record ({store.place.names}), and the dancer's name may stand in it. Open it with "
            "--real-name, or delete the whole book with --forget-names."
        )
    return None if book is None else book.names.get(going.pseudonym)


@contextmanager
def _rows_after_files(files: int) -> Iterator[None]:
    """Say truly what is gone when the rows cannot be deleted after the files were."""
    try:
        yield
    except (RecordError, OutputError) as error:
        raise OutputError(
            f"{files} files were deleted, but not the dancer: the record could not be written ({error.__cause__}). Free some "
            "space or close other programs, then delete again."
        ) from error


def delete_dancer(store: Store, name: str, *, reason: str, today: date, book: NamesBook | None = None) -> Deleted:
    """Delete a dancer, her files and her traces in safety copies, then look for what is left.

    book: the open names book, from which her name goes, too. Raises RecordError or OutputError; then she is still in the
    record, and deleting again goes on where it stopped.
    """
    if store.read_only:
        raise OutputError(f"{store.place.words} can only be read here. Nothing was deleted.")
    with store.read() as connection:
        going = what_would_go(connection, name)
        traces = _traces(connection, going.dancer)
    real_name = _real_name(store, going, book)
    with store.begin() as connection:
        # Said before anything is gone, where the record cannot be written; this line goes with the dancer.
        log(connection, going.dancer, words.DELETION_BEGUN, words.takes(going.takes))
    gone = _delete_files(going.files)
    with _rows_after_files(len(gone)), store.begin() as connection:
        certificate = _bury(connection, going, reason, len(gone), today)
    if book is not None and real_name:
        traces.texts.add(real_name)
        del book.names[going.pseudonym]
        book.write()
    copies, alone = _tidy(store, today)
    with store.read() as connection:
        search = _search(connection, traces)
        files = _ours(store, connection)
    opened = [] if book is None else [(str(book.path), json.dumps(book.names, ensure_ascii=False).encode())]
    remarks = [words.NOT_OURS] if store.embedded else [words.SERVER_KEEPS, words.NOT_OURS]
    if not alone:
        remarks.insert(0, words.STILL_OPEN)
    proof = prove_gone(search, files, opened)
    return Deleted(certificate, going.takes, len(gone), copies, proof, going.elsewhere, tuple(remarks))
