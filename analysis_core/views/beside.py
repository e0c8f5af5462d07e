"""What plays beside a take, in step: music and the film of a phone. Remembered in the review folder, never copied."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from ..errors import ReviewError
from ..write.files import whole_file

BESIDE_FILE = "beside.json"
_FORMAT, _VERSION = "in-the-round/beside", 1
_DAMAGED = (OSError, AttributeError, KeyError, TypeError, ValueError, RecursionError)

Kind = Literal["music", "film"]
KINDS: tuple[Kind, ...] = ("music", "film")


@dataclass(frozen=True)
class Clip:
    """A file that plays beside a take. at_s: second of the file at which the take begins; negative where it begins later."""

    file: Path
    at_s: float = 0.0


@dataclass(frozen=True)
class Beside:
    """What plays beside a take; None where there is nothing."""

    music: Clip | None = None
    film: Clip | None = None


def read_beside(folder: Path) -> Beside:
    """What a review folder remembers; files that are not there any more too.

    Raises ReviewError when the file is damaged or of a newer version.
    """
    path = folder / BESIDE_FILE
    if not path.is_file():
        return Beside()
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        newer = data["format"] == _FORMAT and data["version"] > _VERSION
        found = Beside(*(_clip(data[kind], folder) for kind in KINDS))
    except _DAMAGED as error:
        raise ReviewError(f"{path} is damaged ({error}). Move it away, then choose music and film again.") from error
    if newer:
        raise ReviewError(f"{path} was written by a newer version of the program. Update the program, then open it again.")
    return found


def _clip(data: dict[str, Any] | None, folder: Path) -> Clip | None:
    return None if data is None else Clip(Path(os.path.normpath(folder.absolute() / data["file"])), float(data["at_s"]))


def write_beside(folder: Path, beside: Beside) -> None:
    """Remember in a review folder what plays beside its take, seen from the folder, so that all may move together.

    Raises OutputError when that cannot be written.
    """
    path = folder / BESIDE_FILE
    if beside == Beside():
        path.unlink(missing_ok=True)
        return
    told = {kind: _told(getattr(beside, kind), folder) for kind in KINDS}
    with whole_file(path, overwrite=True) as unfinished:
        unfinished.write_text(json.dumps({"format": _FORMAT, "version": _VERSION, **told}, indent=1), encoding="utf-8")


def _told(clip: Clip | None, folder: Path) -> dict[str, Any] | None:
    if clip is None:
        return None
    try:
        place = Path(os.path.relpath(clip.file.absolute(), folder.absolute())).as_posix()
    except ValueError:  # another drive
        place = clip.file.absolute().as_posix()
    return {"file": place, "at_s": clip.at_s}
