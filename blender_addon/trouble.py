"""The last thing that went wrong, as a report that can be sent: versions and places in the program, never a name or a path."""

from __future__ import annotations

import platform
import sys
from collections.abc import Sequence
from importlib import metadata
from pathlib import Path

import bpy

from .analysis_core.errors import places_of

#: Libraries whose version decides what is measured.
_LIBRARIES = ("numpy", "scipy")
_last: list[str] = []


def _version() -> str:
    import tomllib

    manifest = Path(__file__).with_name("blender_manifest.toml")
    return str(tomllib.loads(manifest.read_text(encoding="utf-8"))["version"])


def _library(name: str) -> str:
    try:
        return f"{name} {metadata.version(name)}"
    except metadata.PackageNotFoundError:
        return f"{name} of Blender's own" if name in sys.modules else f"{name} is not there"


def remember(error: BaseException, where: Sequence[str] = ()) -> None:
    """Keep what went wrong. where: places in a process that did the work; without them the error's own."""
    lines = [
        f"In the Round {_version()}",
        f"Blender {bpy.app.version_string}, Python {platform.python_version()}, {', '.join(map(_library, _LIBRARIES))}",
        f"{platform.system()} {platform.machine()}",
        # Not its sentence: that may name a file, and a file a dancer. The place in the program leads to it.
        f"{type(error).__name__} at",
        *(f"  {place}" for place in (tuple(where) or places_of(error))),
    ]
    _last[:] = ["\n".join(lines)]


def forget() -> None:
    """What follows went well."""
    _last.clear()


def report() -> str | None:
    """The report of the last thing that went wrong; None when nothing did."""
    return _last[0] if _last else None
