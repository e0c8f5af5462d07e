"""An open record, and sentences in place of the database's own errors."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from sqlalchemy import Connection, Engine, select
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError

from ..errors import OutputError, RecordError
from .places import Place
from .schema import about


class Store:
    """An open record. Use as a context manager; ``begin`` gives a connection inside one transaction."""

    def __init__(self, place: Place, engine: Engine, *, read_only: bool = False) -> None:
        self.place = place
        self.engine = engine
        self.read_only = read_only

    @property
    def embedded(self) -> bool:
        """Whether the record is a file of this machine."""
        return self.place.file is not None

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def begin(self) -> Iterator[Connection]:
        """One transaction: all of it or nothing. Raises RecordError or OutputError with a sentence."""
        with told(self.place), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One look at the record that stops nobody from writing. Raises RecordError with a sentence."""
        with told(self.place), self.engine.connect().execution_options(reading=True) as connection:
            yield connection

    @contextmanager
    def outside_transactions(self) -> Iterator[Connection]:
        """For what a database does only outside a transaction, such as giving back deleted pages."""
        with self.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            yield connection

    def secret(self) -> bytes:
        """The random secret of this record, for marks that name nobody."""
        with self.read() as connection:
            return bytes.fromhex(connection.execute(select(about.c.value).where(about.c.key == "secret")).scalar_one())

    def close(self) -> None:
        """Let go; the write-ahead log of an embedded database is emptied into the file."""
        if self.embedded and not self.read_only:
            # Not inside a transaction; when another program reads, the log stays and is emptied by whoever closes last.
            with suppress(DBAPIError), self.outside_transactions() as connection:
                connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        self.engine.dispose()


@contextmanager
def told(place: Place) -> Iterator[None]:
    """Turn what the database says into a sentence that says what to do."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        raise _sentence(place, error) from error


def _sentence(place: Place, error: DBAPIError | sqlite3.Error) -> RecordError | OutputError:
    original = error.orig if isinstance(error, DBAPIError) else error
    said = str(original).strip().splitlines()[0] if str(original).strip() else type(original).__name__
    where = place.words
    if "disk is full" in said or "disk full" in said or "No space left" in said:
        return OutputError(
            f"{where}: the disk is full. Nothing was changed, and nothing was deleted. Free some space, then do it again."
        )
    if "readonly" in said or "read-only" in said:
        return OutputError(
            f"{where} can only be read here. Nothing was changed. Give the right to write to it and to its folder."
        )
    if "locked" in said or "busy" in said:
        return RecordError(f"{where} is being written by another program. Nothing was changed. Try again when that is done.")
    if "unable to open" in said:
        return RecordError(f"{where} cannot be opened or made. Check its folder and your right to write there.")
    if "disk I/O" in said:
        return OutputError(
            f"{where}: the disk failed while it was read or written ({said}). Nothing was changed. Check the disk and its quota."
        )
    if place.file is not None and any(word in said for word in ("malformed", "not a database", "corrupt")):
        return RecordError(
            f"{where} is damaged ({said}). It was left as it is. Move it away with the files that begin with its name, and put "
            f"the newest copy from “{place.copies}” in its place."
        )
    if place.file is None and isinstance(error, OperationalError):
        return RecordError(
            f"The database server at {where} cannot be used ({said}). Check its address, your user and that it runs."
        )
    if isinstance(error, IntegrityError):
        return RecordError(f"{where}: another program has just entered the same ({said}). Nothing was changed. Do it again.")
    return RecordError(f"{where}: the database refused ({said}). Nothing was changed.")
