"""The last thing that went wrong, as a report that can be sent: versions and places in the program, never a name or a path."""

from __future__ import annotations

import platform
import sys
from collections.abc import Sequence
from importlib import metadata
from pathlib import Path

import bpy

from .analysis_core.errors import places_of
from .analysis_core.wording import sent_report as words

#: Libraries whose version decides what is measured.
_LIBRARIES = ("numpy", "scipy")
_last: list[str] = []
#: What went wrong, in a sentence: for the panel only, since it may hold a name or a path.
_said: list[str] = []


def _version() -> str:
    import tomllib

    manifest = Path(__file__).with_name("blender_manifest.toml")
    return str(tomllib.loads(manifest.read_text(encoding="utf-8"))["version"])


def _library(name: str) -> str:
    try:
        return words.library(name, metadata.version(name))
    except metadata.PackageNotFoundError:
        return words.of_blender(name) if name in sys.modules else words.missing(name)


def remember(error: BaseException, where: Sequence[str] = ()) -> None:
    """Keep what went wrong. where: places in a process that did the work; without them the error's own."""
    system, libraries = f"{platform.system()} {platform.machine()}", [*map(_library, _LIBRARIES)]
    kind, places = type(error).__name__, tuple(where) or places_of(error)
    running = words.versions(_version(), bpy.app.version_string, platform.python_version(), libraries)
    _last[:] = [words.report(running, system, kind, places)]
    _said[:] = [str(error)]


def forget() -> None:
    """What follows went well."""
    _last.clear()
    _said.clear()


def report() -> str | None:
    """The report of the last thing that went wrong; None when nothing did."""
    return _last[0] if _last else None


def said() -> str:
    """The sentence of the last thing that went wrong; empty when nothing did."""
    return _said[0] if _said else ""
