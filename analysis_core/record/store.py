"""Opening a record: connections, migrations and safety copies."""

from __future__ import annotations

import secrets
import sqlite3
from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event, insert, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from ..errors import OutputError, RecordError
from .database import Store as Store
from .database import told
from .places import Place
from .schema import about, metadata

#: Says in the file's head whose it is ("InRo").
APPLICATION_ID = 0x496E526F
#: The newest revision below migrations/versions; a test holds the two together.
REVISION = "0003"
#: How long one program waits while another one writes, milliseconds. Proposed default.
_WAIT_MS = 10_000
#: Safety copies: at most so many, none older than so many days. Proposed defaults.
MOST_COPIES, COPY_DAYS = 3, 30

_PRAGMAS = (
    "foreign_keys=on",
    "journal_mode=wal",
    "synchronous=full",
    # Off in many builds of SQLite (python.org's among them): deleted rows would stay readable in the file.
    "secure_delete=on",
    f"busy_timeout={_WAIT_MS}",
    "temp_store=memory",
    "trusted_schema=off",
    "cell_size_check=on",
)


def _embedded_engine(file: Path, *, immutable: bool) -> Engine:
    address = f"{file.as_uri()}?mode=ro&immutable=1" if immutable else file.as_uri()

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(address, uri=True, isolation_level=None, timeout=_WAIT_MS / 1000)
        try:
            for pragma in _PRAGMAS if not immutable else ("foreign_keys=on", "trusted_schema=off"):
                connection.execute(f"PRAGMA {pragma}")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # A transaction that begins by reading and goes on to write could fail half-way when another one writes.
        if connection.get_execution_options().get("isolation_level") == "AUTOCOMMIT":
            return
        reads = immutable or connection.get_execution_options().get("reading")
        connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")

    return engine


def _server_engine(place: Place) -> Engine:
    try:
        url: URL = make_url(place.url).set(drivername="postgresql+psycopg")
    except Exception as error:
        raise RecordError(f"{place.words} is not the address of a server. Write postgresql://user@host/database.") from error
    near = url.host in (None, "", "localhost", "127.0.0.1", "::1")
    if not near and "sslmode" not in url.query:
        # Names of children must not cross a building unencrypted, nor go to whoever answers.
        url = url.update_query_dict({"sslmode": "verify-full"})
    try:
        return create_engine(url, poolclass=NullPool)
    except ImportError as error:
        raise RecordError("A record on a server needs one more library: pip install 'in-the-round[server]'") from error


def open_store(place: Place, *, make: bool = True, today: date | None = None) -> Store:
    """Open the record at a place, made when it is not there; an older one is copied, then brought up to date.

    Raises RecordError when it is another program's, newer, damaged, or not there and ``make`` is false.
    """
    file = place.file
    if file is None:
        store = Store(place, _server_engine(place))
        with told(place):
            _make_ready(store, today or date.today())
        return store
    is_new = not file.exists()
    if is_new:
        if not make:
            raise RecordError(f"There is no record at {file} yet. It is made by: in-the-round record consent NAME --until DATE")
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OutputError(f"{file.parent} cannot be made: {error.strerror}. Name another place with --database.") from error
    with told(place):
        try:
            store = Store(place, _embedded_engine(file, immutable=False))
            _make_ready(store, today or date.today())
        except (DBAPIError, sqlite3.Error) as error:
            # A disk that cannot be written: without a write-ahead log beside it the file can still be read.
            if is_new:
                _take_away_empty(file)
            beside = file.with_name(file.name + "-wal")
            said = str(error)
            cannot_write = "readonly" in said or "unable to open" in said
            if not cannot_write or not file.exists() or (beside.exists() and beside.stat().st_size):
                raise
            store = Store(place, _embedded_engine(file, immutable=True), read_only=True)
            _check_owner(store)
    return store


def _take_away_empty(file: Path) -> None:
    """Take away what SQLite made of a record that could not be begun: no byte of it was written."""
    with suppress(OSError):
        if file.stat().st_size == 0:
            for ending in ("", "-wal", "-shm", "-journal"):
                file.with_name(file.name + ending).unlink(missing_ok=True)


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return found


def _check_owner(store: Store) -> str | None:
    """The revision of the tables; None for an empty database. Raises RecordError for another program's or a newer one."""
    with store.engine.connect().execution_options(reading=True) as connection:
        revision = _revision(connection)
        if revision is None and (others := set(inspect(connection).get_table_names())):
            raise RecordError(
                f"{store.place.words} is a database of another program (it holds {', '.join(sorted(others)[:3])}). "
                "Name another one with --database."
            )
        if store.embedded and revision is not None:
            identity = connection.exec_driver_sql("PRAGMA application_id").scalar_one()
            if identity != APPLICATION_ID:
                raise RecordError(f"{store.place.words} is a database of another program. Name another one with --database.")
    if revision is not None and revision > REVISION:
        raise RecordError(f"{store.place.words} was written by a newer version of this program. Install that one to use it.")
    return revision


def _make_ready(store: Store, today: date) -> None:
    revision = _check_owner(store)
    if revision == REVISION:
        return
    if revision is None:
        _make_tables(store)
        return
    if store.embedded:
        save_copy(store, f"before revision {REVISION}", today)
    try:
        from .migrate import bring_up_to_date
    except ImportError as error:
        raise RecordError(f"{store.place.words} is older. Bring it up to date first with: in-the-round record list") from error
    bring_up_to_date(store)


def _make_tables(store: Store) -> None:
    """All tables at once, in one transaction, so that a second program that starts now finds all or none."""
    with store.engine.begin() as connection:
        if store.embedded:
            connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
        else:
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({APPLICATION_ID})")
        if _revision(connection) is not None:
            return
        metadata.create_all(connection)
        connection.exec_driver_sql("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY)")
        connection.execute(text("INSERT INTO alembic_version VALUES (:revision)"), {"revision": REVISION})
        connection.execute(insert(about).values(key="secret", value=secrets.token_hex(32)))


def save_copy(store: Store, why: str, today: date) -> Path:
    """Copy an embedded record while it is open, whole or not at all; old copies beyond the limits go. Returns the copy's path.

    Raises RecordError for a record on a server, whose administrator makes copies, and OutputError when it cannot be written.
    """
    if store.place.file is None:
        raise RecordError("Copies of a record on a server are made by the server's administrator.")
    folder = store.place.copies
    name = f"{today.isoformat()} {why} {secrets.token_hex(3)}.db"
    temporary = folder / f".unfinished-{secrets.token_hex(4)}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        source, target = sqlite3.connect(store.place.file), sqlite3.connect(temporary)
        try:
            source.backup(target)
            # A copy is one file: no log beside it.
            target.execute("PRAGMA journal_mode=delete")
            if target.execute("PRAGMA integrity_check").fetchone() != ("ok",):
                raise sqlite3.DatabaseError("malformed")
        finally:
            source.close()
            target.close()
        temporary.replace(folder / name)
    except (OSError, sqlite3.Error) as error:
        said = error.strerror if isinstance(error, OSError) else error
        raise OutputError(f"No copy could be written to {folder}: {said}. The record was left as it is.") from error
    finally:
        for left in folder.glob(f"{temporary.name}*"):
            left.unlink(missing_ok=True)
    drop_old_copies(store.place, today)
    return folder / name


def _made_on(copy: Path) -> date:
    """The day in the name of a copy; of a file named by somebody else, the day it was written."""
    try:
        return date.fromisoformat(copy.name[:10])
    except ValueError:
        return date.fromtimestamp(copy.stat().st_mtime)


def copies_of(place: Place) -> list[Path]:
    """Safety copies, the newest first."""
    found = place.copies.glob("*.db") if place.copies.is_dir() else ()
    return sorted(found, key=lambda path: (_made_on(path), path.stat().st_mtime_ns), reverse=True)


def drop_old_copies(place: Place, today: date) -> list[Path]:
    """Delete copies beyond the limits; return what went."""
    gone = []
    for number, path in enumerate(copies_of(place)):
        if number >= MOST_COPIES or _made_on(path) < today - timedelta(days=COPY_DAYS):
            path.unlink()
            gone.append(path)
    return gone
