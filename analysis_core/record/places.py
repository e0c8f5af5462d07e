"""Where a record lies: an embedded database in a file, or a database server by its URL."""

from __future__ import annotations

import hashlib
import sys
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

from ..errors import RecordError

_FOLDER = "in-the-round"
_FILE = "record.db"
_SERVERS = ("postgresql://", "postgres://", "postgresql+psycopg://")
#: File systems of other machines, where SQLite's write-ahead log cannot work (it shares memory between processes).
_FAR = ("nfs", "cifs", "smb", "sshfs")


@dataclass(frozen=True)
class Place:
    """url: of a server, else "". file: of the embedded database, else None. beside: where names and copies are kept."""

    url: str
    file: Path | None
    beside: Path
    stem: str

    @property
    def names(self) -> Path:
        """The names book."""
        return self.beside / f"{self.stem}.names"

    @property
    def copies(self) -> Path:
        """Where safety copies lie."""
        return self.beside / f"{self.stem} copies"

    @property
    def words(self) -> str:
        """The place as it may be shown: without a password."""
        if self.file is not None:
            return str(self.file)
        scheme, _, rest = self.url.partition("://")
        login, _, host = rest.rpartition("@")
        user = login.partition(":")[0]
        return f"{scheme}://{user + '@' if user else ''}{host}"


def default_folder() -> Path:
    """The user's data folder of the program; not made here."""
    return user_data_path(_FOLDER, appauthor=False)


def _file_system(path: Path) -> str:
    """The kind of file system that a path lies on, "" where it cannot be told."""
    if not sys.platform.startswith("linux"):
        return "cifs" if str(path).startswith("\\\\") else ""
    try:
        lines = Path("/proc/mounts").read_text(encoding="utf-8").splitlines()
    except OSError:
        return ""
    best, kind = "", ""
    for line in lines:
        _, where, what, *_ = line.split(" ")
        where = where.replace("\\040", " ")
        if len(where) >= len(best) and (path == Path(where) or Path(where) in path.parents):
            best, kind = where, what
    return kind


def place_of(database: str | Path | None) -> Place:
    """The place that ``--database`` names; None is the default. Raises RecordError for a place that cannot hold a record."""
    text = "" if database is None else str(database)
    if text.startswith(_SERVERS):
        mark = hashlib.sha256(text.rpartition("@")[2].encode()).hexdigest()[:12]
        return Place(text.replace("postgres://", "postgresql://", 1), None, default_folder(), f"server-{mark}")
    if "://" in text:
        raise RecordError(
            f"{text.partition('://')[0]}:// is no database server that is known here. Give a file, or postgresql://…"
        )
    path = (Path(text).expanduser() if text else default_folder() / _FILE).absolute()
    if path.is_dir():
        raise RecordError(f"{path} is a folder. Give the name of a database file, for example {path / _FILE}")
    kind = _file_system(path)
    if any(far in kind for far in _FAR):
        raise RecordError(
            f"{path} lies on another machine ({kind}), where an embedded database can be damaged. Keep the record on this "
            "machine, or use a database server: --database postgresql://…"
        )
    return Place("", path, path.parent, path.stem)
