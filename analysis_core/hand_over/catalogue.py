"""Where the actions of Blender's file are filed: a catalogue of assets beside it."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from pathlib import Path

from ..write.files import whole_file

#: As Blender looks for it.
CATALOGUE_FILE = "blender_assets.cats.txt"
_TOP = "Dance"


def place_of(action: str) -> str:
    """The place of an action, by the kind of its step: Dance/turn, Dance/jump, …"""
    kind = action.rpartition("-")[0]
    return f"{_TOP}/{kind}" if kind else _TOP


def identifier(place: str) -> str:
    """The identifier of a place: the same every time."""
    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"in-the-round/{place}"))


def write_catalogue(folder: Path, actions: Iterable[str]) -> None:
    """Add the places of actions to the catalogue in a folder; those that other takes put there stay.

    Raises OutputError when it cannot be written.
    """
    path = folder / CATALOGUE_FILE
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else ["VERSION 1", ""]
    for place in dict.fromkeys([_TOP, *map(place_of, actions)]):
        line = f"{identifier(place)}:{place}:{place.replace('/', '-')}"
        if line not in lines:
            lines.append(line)
    with whole_file(path, overwrite=True) as temporary:
        temporary.write_text("\n".join(lines) + "\n", encoding="utf-8")
