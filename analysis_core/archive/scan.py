"""What lies below a folder: takes, the static take of each, and what a studio says about them in archive.toml."""

from __future__ import annotations

import os
import re
import time
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from ..errors import OptionError, reason
from ..settings import AUTO, SETTINGS, Settings

ENDINGS = (".c3d", ".bvh")
FILE = "archive.toml"
#: Words in a file's name that say that the dancer stands still. Common habits of capture rooms, from memory.
STATIC_WORDS = ("static", "standing", "calibration", "cal", "neutral", "tpose", "t-pose")
#: A file changed so recently may still be written: it is looked at twice.
_YOUNG_S, _LOOK_AGAIN_S = 5.0, 0.3

#: What archive.toml may say: settings of the review, and whose take it is.
_NUMBERS = {setting.name for setting in SETTINGS if setting.kind == "number"}
_FILES = tuple(setting.name for setting in SETTINGS if setting.kind == "file")
_PROPOSED = {setting.name for setting in SETTINGS if setting.proposed}
_KEYS = (*(setting.name for setting in SETTINGS), "dancer", "term", "phrase")


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
    """Takes below a folder by relative path; hidden files and folders, and the archive's own folder, are left out.

    Paths are plain words here and below: an object for each of ten thousand would cost more than all else.
    """
    found = {}
    for above, names, files in os.walk(folder):
        names[:] = sorted(name for name in names if not name.startswith(".") and os.path.join(above, name) != str(leave_out))
        place = "" if above == str(folder) else Path(above).relative_to(folder).as_posix() + "/"
        for name in sorted(files):
            if not name.startswith(".") and name.lower().endswith(ENDINGS):
                try:
                    found[place + name] = os.stat(os.path.join(above, name))
                except FileNotFoundError:
                    continue
    return found


def _place(path: str) -> str:
    """The folder of a relative path, empty for the topmost one."""
    return path.rpartition("/")[0]


def _stem_and_ending(path: str) -> tuple[str, str]:
    """A file's name in lower case, parted before its ending."""
    return os.path.splitext(path.rpartition("/")[2].lower())


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


def _fits(key: str, value: object) -> bool:
    if key in _PROPOSED and value == AUTO:
        return True
    return isinstance(value, (int, float) if key in _NUMBERS else str) and not isinstance(value, bool)


def _read_toml(path: Path) -> dict[str, Any]:
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise OptionError(f"{path} cannot be read ({reason(error)}). Mend it or take it away.") from error
    for key, value in data.items():
        if key not in _KEYS:
            raise OptionError(f"{path}: there is no setting {key!r}. There are: {', '.join(_KEYS)}.")
        if not _fits(key, value):
            raise OptionError(f"{path}: {key} = {value!r} is not what it must be.")
    for key in _FILES:
        if key in data:
            data[key] = str((path.parent / data[key]).absolute())
    return data


class _Said:
    """What archive.toml files say: the nearest above a take counts, key by key."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._by_place: dict[str, dict[str, Any]] = {}

    def about(self, place: str) -> dict[str, Any]:
        if place not in self._by_place:
            above = {} if place == "" else self.about(_place(place))
            file = self._folder / place / FILE
            self._by_place[place] = {**above, **(_read_toml(file) if file.is_file() else {})}
        return self._by_place[place]


@cache
def _pattern(words: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile("|".join(rf"(?<![a-z]){re.escape(word.lower())}(?![a-z])" for word in words))


def is_static(path: str, words: Sequence[str] = STATIC_WORDS) -> bool:
    """Whether a file's name says that the dancer stands still: one of the words, standing alone in it."""
    return _pattern(tuple(words)).search(_stem_and_ending(path)[0]) is not None


def _letters_alike(one: str, other: str) -> int:
    """How many letters two names begin with alike."""
    pairs = zip(one, other, strict=False)
    return next((at for at, (letter, letter_there) in enumerate(pairs) if letter != letter_there), min(len(one), len(other)))


class Statics:
    """Which of the static takes serves a take."""

    def __init__(self, paths: Iterable[str]) -> None:
        self._at: dict[tuple[str, str], list[str]] = {}
        for path in sorted(paths):
            self._at.setdefault((_place(path), _stem_and_ending(path)[1]), []).append(path)

    def serving(self, take: str) -> str | None:
        """Of the same kind, in the nearest folder at or above the take, the name most alike; of those alike the first by name.

        None when there is none.
        """
        place, (stem, ending) = _place(take), _stem_and_ending(take)
        while True:
            here = self._at.get((place, ending))
            if here:
                # The first of the greatest: they are in order.
                return max(here, key=lambda path: _letters_alike(_stem_and_ending(path)[0], stem))
            if not place:
                return None
            place = _place(place)


def _settings(said: Mapping[str, Any], given: Settings, static: Path | None) -> Settings:
    values: dict[str, Any] = {
        setting.field: Path(said[setting.name]) if setting.kind == "file" else said[setting.name]
        for setting in SETTINGS
        if setting.name in said
    }
    return replace(given, **{**values, "static": static})


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
    used = dict.fromkeys((path for path in paths if is_static(path, words)), 0)
    statics, finder = Statics(used), _Finder(folder, given)
    takes = []
    for path in [item for item in paths if item not in used]:
        static = statics.serving(path) if "static" not in finder.said(path) else None
        if static is not None:
            used[static] += 1
        takes.append(finder.found(path, listing[path], static))
    takes += [finder.found(path, listing[path], None) for path, count in used.items() if count == 0]
    return Scan(tuple(takes), {path: count for path, count in used.items() if count}, writing)


class _Finder:
    """Puts together what is known of a take. Takes of one folder with one static take share their settings."""

    def __init__(self, folder: Path, given: Settings) -> None:
        self._folder, self._given, self._said = folder, given, _Said(folder)
        self._shared: dict[tuple[str, str | None], tuple[str | None, Settings]] = {}

    def said(self, path: str) -> Mapping[str, Any]:
        return self._said.about(_place(path))

    def found(self, path: str, stat: os.stat_result, static: str | None) -> Found:
        about = self.said(path)
        known = (_place(path), static)
        if known not in self._shared:
            at = Path(about["static"]) if "static" in about else None if static is None else self._folder / static
            relative = static or (None if at is None else os.path.relpath(at, self._folder))
            self._shared[known] = (relative, _settings(about, self._given, at))
        static, settings = self._shared[known]
        return Found(
            path=path,
            size=stat.st_size,
            mtime_ns=stat.st_mtime_ns,
            static=static,
            settings=settings,
            dancer=about.get("dancer"),
            term=str(about.get("term", "")),
            phrase=str(about.get("phrase", "")),
        )
