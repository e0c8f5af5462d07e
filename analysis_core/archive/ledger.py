"""The ledger of an archive: one SQLite file that other tools may read.

take: a row for each take by its path relative to the folder. state: waiting, done, refused (a sentence of the reader), crashed
(its process died twice), too long, failed (a defect of the program), gone (no longer there; its review is kept). key: what its
review depends on. same_as: the take with the same content whose review it shares. review: the folder below reviews.
finding: a row for each finding. measured: what was measured for each fault, side and step, inside its band or not. run: a row
for each run. Times in seconds, values in ``unit``. Paths are relative, and nothing names the machine.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ..errors import OutputError

FILE, LOCK = "archive.sqlite", ".lock.sqlite"
VERSION = 1

_TABLES = """
CREATE TABLE IF NOT EXISTS take (
    path TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL, sha256 TEXT, static TEXT, static_sha256 TEXT,
    key TEXT, state TEXT NOT NULL, same_as TEXT, review TEXT, dancer TEXT, term TEXT NOT NULL DEFAULT '',
    phrase TEXT NOT NULL DEFAULT '',
    level TEXT, tries INTEGER NOT NULL DEFAULT 0, seconds REAL, cpu_s REAL, peak_mb REAL, worker TEXT, error TEXT, verdict TEXT,
    rate_hz REAL, duration_s REAL, findings INTEGER, measures_version TEXT, finished_at TEXT
) STRICT;
CREATE TABLE IF NOT EXISTS finding (
    take TEXT NOT NULL REFERENCES take(path) ON DELETE CASCADE ON UPDATE CASCADE, id TEXT NOT NULL, fault TEXT NOT NULL,
    measure TEXT, phase TEXT, side TEXT, value REAL, unit TEXT, plus_minus REAL, plus_minus_within_take REAL, low REAL, high REAL,
    severity REAL, grade TEXT, confidence TEXT, onset_s REAL, decision TEXT
) STRICT;
CREATE INDEX IF NOT EXISTS finding_of_take ON finding (take);
CREATE TABLE IF NOT EXISTS measured (
    take TEXT NOT NULL REFERENCES take(path) ON DELETE CASCADE ON UPDATE CASCADE, fault TEXT NOT NULL, measure TEXT NOT NULL,
    side TEXT, step TEXT, n INTEGER NOT NULL, value REAL, plus_minus REAL, unit TEXT, outside INTEGER
) STRICT;
CREATE INDEX IF NOT EXISTS measured_of_take ON measured (take);
CREATE TABLE IF NOT EXISTS run (
    started TEXT NOT NULL, ended TEXT, takes INTEGER, reviewed INTEGER, workers INTEGER, engine TEXT
) STRICT;
"""
_FINDING = (
    "id", "fault", "measure", "phase", "side", "value", "unit", "plus_minus", "plus_minus_within_take", "low", "high", "severity",
    "grade", "confidence", "onset_s", "decision",
)  # fmt: skip
_MEASURED = ("fault", "measure", "side", "step", "n", "value", "plus_minus", "unit", "outside")


class Ledger:
    """The open ledger; only the client of a run writes it. Close it, or use it as a context manager."""

    def __init__(self, out: Path) -> None:
        """Open or make the ledger of an archive's folder. Raises OutputError when it cannot be written or is no ledger."""
        self.file = out / FILE
        with told(self.file):
            self.connection = sqlite3.connect(self.file, isolation_level=None)
            self.connection.row_factory = sqlite3.Row
            for pragma in ("journal_mode=wal", "synchronous=normal", "foreign_keys=on", "secure_delete=on", "busy_timeout=10000"):
                self.connection.execute(f"PRAGMA {pragma}")
            version = self.connection.execute("PRAGMA user_version").fetchone()[0]
            if version > VERSION:
                raise OutputError(
                    f"{self.file} was written by a newer version of this program. Install that one to go on with it."
                )
            self.connection.executescript(_TABLES)
            self.connection.execute(f"PRAGMA user_version={VERSION}")

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()

    @contextmanager
    def whole(self) -> Iterator[None]:
        """One transaction: all of it or nothing."""
        with told(self.file):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self.connection.execute("ROLLBACK")
                raise
            self.connection.execute("COMMIT")

    def rows(self) -> dict[str, sqlite3.Row]:
        """All takes by path."""
        return {row["path"]: row for row in self.connection.execute("SELECT * FROM take ORDER BY path")}

    def enter(self, path: str, values: Mapping[str, Any]) -> None:
        """Enter a take, or change what is known of it."""
        names = list(values)
        columns = ", ".join(["path", *names])
        marks = ", ".join("?" * (len(names) + 1))
        changes = ", ".join(f"{name} = excluded.{name}" for name in names)
        self.connection.execute(
            f"INSERT INTO take ({columns}) VALUES ({marks}) ON CONFLICT (path) DO UPDATE SET {changes}", [path, *values.values()]
        )

    def finish(self, path: str, values: Mapping[str, Any], findings: Iterable[Any] = (), measured: Iterable[Any] = ()) -> None:
        """The outcome of one take in place of an earlier one, in one transaction."""
        with self.whole():
            self.enter(path, values)
            for table, names, rows in (("finding", _FINDING, findings), ("measured", _MEASURED, measured)):
                self.connection.execute(f"DELETE FROM {table} WHERE take = ?", [path])
                columns, marks = ", ".join(["take", *names]), ", ".join("?" * (len(names) + 1))
                self.connection.executemany(
                    f"INSERT INTO {table} ({columns}) VALUES ({marks})",
                    ([path, *(row.get(name) for name in names)] for row in rows),
                )

    def copy_outcome(self, of: str, to: str) -> None:
        """Give a take the findings and measured values of another one with the same content."""
        for table, names in (("finding", _FINDING), ("measured", _MEASURED)):
            columns = ", ".join(names)
            self.connection.execute(f"DELETE FROM {table} WHERE take = ?", [to])
            self.connection.execute(
                f"INSERT INTO {table} (take, {columns}) SELECT ?, {columns} FROM {table} WHERE take = ?", [to, of]
            )


@contextmanager
def told(file: Path) -> Iterator[None]:
    """Turn what the database says into a sentence."""
    try:
        yield
    except sqlite3.Error as error:
        said = str(error)
        if "full" in said:
            raise OutputError(
                f"{file}: the disk is full. What is done is kept; free some space and run the same command again."
            ) from error
        if "malformed" in said or "not a database" in said:
            raise OutputError(
                f"{file} is damaged ({said}). Move it away and run the same command again: reviews that are there are used again."
            ) from error
        raise OutputError(f"{file} cannot be written ({said}). Choose a folder that you may write to.") from error


@contextmanager
def only_one(out: Path) -> Iterator[None]:
    """Hold the archive's lock for the whole run; free at once when the process dies.

    Raises OutputError when another run holds it, or the folder cannot be written.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{out} cannot be made: {error.strerror}. Choose a folder that you may write to.") from error
    if not os.access(out, os.W_OK):
        raise OutputError(f"{out} cannot be written. Choose a folder that you may write to.")
    lock = sqlite3.connect(out / LOCK, isolation_level=None, timeout=0)
    try:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise OutputError(f"Another archive is under way in {out}. Wait for it, or choose another --out.") from error
            raise OutputError(f"{out} cannot be written ({error}). Choose a folder that you may write to.") from error
        yield
    finally:
        lock.close()
