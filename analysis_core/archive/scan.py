"""What lies below a folder: takes, the static take of each, and what a studio says about them in archive.toml."""

from __future__ import annotations

import os
import re
import time
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ..errors import OptionError
from ..settings import Settings

ENDINGS = (".c3d", ".bvh")
FILE = "archive.toml"
#: Words in a file's name that say that the dancer stands still. Common habits of capture rooms, from memory.
STATIC_WORDS = ("static", "standing", "calibration", "cal", "neutral", "tpose", "t-pose")
#: A file changed so recently may still be written: it is looked at twice.
_YOUNG_S, _LOOK_AGAIN_S = 5.0, 0.3

_KEYS: dict[str, type | tuple[type, ...]] = {
    "static": str, "level": str, "tempo": (int, float), "offset": (int, float), "landmarks": str, "unit": str, "up": str,
    "rate": (int, float), "person": str, "dancer": str, "term": str, "phrase": str,
}  # fmt: skip


@dataclass(frozen=True)
class Found:
    """One take. path: relative to the folder, with forward slashes. static: likewise, None without one. said: archive.toml."""

    path: str
    size: int
    mtime_ns: int
    static: str | None
    settings: Settings
    dancer: str | None = None
    term: str = ""
    phrase: str = ""

    @property
    def stem(self) -> str:
        """The path without its ending: the place of its review. Two takes that differ by ending alone keep theirs."""
        return self.path.rpartition(".")[0]


@dataclass(frozen=True)
class Scan:
    """takes; statics that serve others, with how many; writing: files that are still being written."""

    takes: tuple[Found, ...]
    statics: Mapping[str, int]
    writing: tuple[str, ...]


def _listing(folder: Path, leave_out: Path) -> dict[str, os.stat_result]:
    """Takes below a folder by relative path; hidden files and folders, and the archive's own folder, are left out."""
    found = {}
    for above, names, files in os.walk(folder):
        here = Path(above)
        names[:] = sorted(name for name in names if not name.startswith(".") and (here / name).absolute() != leave_out)
        for name in sorted(files):
            if not name.startswith(".") and name.lower().endswith(ENDINGS):
                path = here / name
                try:
                    found[path.relative_to(folder).as_posix()] = path.stat()
                except FileNotFoundError:
                    continue
    return found


def _still_written(folder: Path, listing: Mapping[str, os.stat_result]) -> tuple[str, ...]:
    young = [path for path, stat in listing.items() if time.time() - stat.st_mtime < _YOUNG_S]
    if not young:
        return ()
    time.sleep(_LOOK_AGAIN_S)
    writing = []
    for path in young:
        try:
            now = (folder / path).stat()
        except FileNotFoundError:
            writing.append(path)
            continue
        if (now.st_size, now.st_mtime_ns) != (listing[path].st_size, listing[path].st_mtime_ns):
            writing.append(path)
    return tuple(writing)


def _read_toml(path: Path) -> dict[str, Any]:
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise OptionError(f"{path} cannot be read ({error}). Mend it or take it away.") from error
    for key, value in data.items():
        if key not in _KEYS:
            raise OptionError(f"{path}: there is no setting {key!r}. There are: {', '.join(_KEYS)}.")
        if not isinstance(value, _KEYS[key]) or isinstance(value, bool):
            raise OptionError(f"{path}: {key} = {value!r} is not what it must be.")
    for key in ("static", "landmarks"):
        if key in data:
            data[key] = str((path.parent / data[key]).absolute())
    return data


class _Said:
    """What archive.toml files say: the nearest above a take counts, key by key."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._by_place: dict[Path, dict[str, Any]] = {}

    def about(self, place: Path) -> dict[str, Any]:
        if place not in self._by_place:
            above = {} if place == self._folder else self.about(place.parent)
            file = place / FILE
            self._by_place[place] = {**above, **(_read_toml(file) if file.is_file() else {})}
        return self._by_place[place]


def is_static(path: str, words: Sequence[str] = STATIC_WORDS) -> bool:
    """Whether a file's name says that the dancer stands still: one of the words, standing alone in it."""
    stem = Path(path).stem.lower()
    return any(re.search(rf"(?<![a-z]){re.escape(word.lower())}(?![a-z])", stem) for word in words)


def _common(one: str, other: str) -> int:
    same = 0
    for letter, other_letter in zip(Path(one).stem.lower(), Path(other).stem.lower(), strict=False):
        if letter != other_letter:
            break
        same += 1
    return same


def static_of(take: str, statics: Sequence[str]) -> str | None:
    """The static take that serves a take: of the same kind, in the nearest folder at or above it, the name most alike.

    Of those alike the first by name; None when there is none.
    """
    place = Path(take).parent
    while True:
        here = [name for name in statics if Path(name).parent == place and Path(name).suffix.lower() == Path(take).suffix.lower()]
        if here:
            return min(here, key=lambda name: (-_common(name, take), name))
        if place == place.parent:
            return None
        place = place.parent


def _settings(said: Mapping[str, Any], given: Settings, static: Path | None) -> Settings:
    return replace(
        given,
        static=static,
        level=said.get("level", given.level),
        tempo_bpm=said.get("tempo", given.tempo_bpm),
        offset_s=float(said.get("offset", given.offset_s)),
        landmarks=Path(said["landmarks"]) if "landmarks" in said else given.landmarks,
        person=said.get("person", given.person),
        up=said.get("up", given.up),
        rate_hz=said.get("rate", given.rate_hz),
        unit=said.get("unit", given.unit),
    )


def scan(folder: Path, leave_out: Path, given: Settings, words: Sequence[str] = STATIC_WORDS) -> Scan:
    """Find all takes below a folder. given: what holds where no archive.toml says anything else.

    A static take that no take uses is a take itself. Raises OptionError for a folder that is none, or a wrong archive.toml.
    """
    if not folder.is_dir():
        raise OptionError(f"{folder} is no folder. Name the folder below which the takes lie.")
    folder = folder.absolute()
    listing = _listing(folder, leave_out.absolute())
    writing = _still_written(folder, listing)
    paths = [path for path in listing if path not in writing]
    named = [path for path in paths if is_static(path, words)]
    said = _Said(folder)
    takes, used = [], dict.fromkeys(named, 0)
    for path in [item for item in paths if item not in used]:
        about = said.about((folder / path).parent)
        static = static_of(path, named) if "static" not in about else None
        if static is not None:
            used[static] += 1
        takes.append(_found(folder, path, listing[path], about, given, static))
    unused = [path for path, count in used.items() if count == 0]
    takes += [_found(folder, path, listing[path], said.about((folder / path).parent), given, None) for path in unused]
    return Scan(tuple(takes), {path: count for path, count in used.items() if count}, writing)


def _found(
    folder: Path, path: str, stat: os.stat_result, about: Mapping[str, Any], given: Settings, static: str | None
) -> Found:  # fmt: skip
    at = Path(about["static"]) if "static" in about else None if static is None else folder / static
    return Found(
        path=path,
        size=stat.st_size,
        mtime_ns=stat.st_mtime_ns,
        static=static or (None if at is None else os.path.relpath(at, folder)),
        settings=_settings(about, given, at),
        dancer=about.get("dancer"),
        term=str(about.get("term", "")),
        phrase=str(about.get("phrase", "")),
    )
