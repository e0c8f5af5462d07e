"""By what a take is reviewed: a fingerprint that changes whenever a review would come out otherwise."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from functools import cache
from pathlib import Path

from ..findings.catalogue import PROFILES
from ..settings import Settings

_CORE = Path(__file__).resolve().parent.parent
#: Folders of the core whose code and tables decide what a review says.
_DECIDING = ("read", "clean", "body", "phrase", "findings")


@cache
def program_version() -> str:
    """A fingerprint of the code and tables that measure and judge."""
    digest = hashlib.sha256()
    for folder in _DECIDING:
        for path in sorted((_CORE / folder).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(path.relative_to(_CORE).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]


@cache
def _content(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def key_of(sha256: str, static_sha256: str | None, settings: Settings, keep: str) -> str:
    """What a review depends on, as one fingerprint: recording, static take, settings, own tables, program."""
    said = asdict(settings) | {"static": static_sha256}
    for name in ("level", "landmarks"):
        value = said[name]
        # A table of the studio's own counts by what it says, not by where it lies.
        own = value is not None and Path(str(value)).suffix == ".toml" and Path(str(value)).is_file()
        said[name] = _content(Path(str(value))) if own else value and str(value)
    facts = [sha256, said, keep, program_version(), str(PROFILES.name)]
    return hashlib.sha256(json.dumps(facts, sort_keys=True, default=str).encode()).hexdigest()
