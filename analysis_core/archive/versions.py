"""By what a take is reviewed, as fingerprints: of one review, and of the program on each machine."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from functools import cache
from pathlib import Path

from ..errors import OptionError
from ..findings.catalogue import load_profile
from ..findings.measures_version import measures_version
from ..settings import Settings

_CORE = Path(__file__).resolve().parent.parent
#: Folders of the core whose code and tables decide what a review says.
_DECIDING = ("read", "clean", "body", "phrase", "findings")


@cache
def program_version() -> str:
    """A fingerprint of the code and tables that measure and judge: the same on all machines of one run."""
    digest = hashlib.sha256()
    for folder in _DECIDING:
        for path in sorted((_CORE / folder).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(path.relative_to(_CORE).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


@cache
def _content(path: Path) -> str:
    if not path.is_file():
        raise OptionError(f"There is no file {path}, the table of labels.")
    return hashlib.sha256(path.read_bytes()).hexdigest()


@cache
def _measures_version(level: str) -> str:
    return measures_version(load_profile(level))


@cache
def _said(settings: Settings) -> str:
    """The settings as text; the static take counts by its content, which the caller adds."""
    said: dict[str, object] = asdict(settings) | {"static": None, "level": _measures_version(settings.level)}
    if settings.landmarks is not None:
        # A table of the studio's own counts by what it says, not by where it lies.
        said["landmarks"] = _content(settings.landmarks)
    return json.dumps(said, sort_keys=True)


def key_of(sha256: str, static_sha256: str | None, settings: Settings, keep: str) -> str:
    """What a review depends on, as one fingerprint: recording, static take, settings, own label table, measures and bands.

    Raises OptionError for a level that there is not.
    """
    known = json.dumps([sha256, static_sha256]), _said(settings), json.dumps(keep)
    return hashlib.sha256("\n".join(known).encode()).hexdigest()
