"""What is asked of a film."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from ..errors import OptionError
from ..figure.looks import DEFAULT_LOOK
from .modes import MODES

#: Files of sound that can be played beside a take.
SOUNDS = (".wav", ".mp3", ".ogg", ".oga", ".flac", ".m4a", ".aac", ".opus", ".aif", ".aiff")


@dataclass(frozen=True)
class Wish:
    """size: pixels. seconds: length of the film. mode: of MODES. slow: share of the dancer's own speed, None for the mode's own.
    look: what the dancers wear. names: whether the takes' files are named. draft: quickly, with rough edges.

    music: a sound file, "" for none; at music_offset seconds of the file the first take begins. pictures: a folder that keeps the
    pictures as PNG, "" for none. Raises OptionError.
    """

    size: tuple[int, int] = (1280, 720)
    fps: int = 24
    seconds: float = 10.0
    mode: str = "hold"
    slow: float | None = None
    look: str = DEFAULT_LOOK
    names: bool = False
    draft: bool = False
    music: str = ""
    music_offset: float = 0.0
    pictures: str = ""

    def __post_init__(self) -> None:
        if self.mode not in MODES:
            raise OptionError(f"A film of the kind {self.mode!r} is not known. Choose {', '.join(MODES)}.")
        if not math.isfinite(self.music_offset):
            raise OptionError("--music-offset must be a number of seconds.")
        if not self.music:
            return
        file = Path(self.music)
        if not file.is_file():
            raise OptionError(f"{file} is not there, so no music can be played. Choose a sound file.")
        if file.suffix.lower() not in SOUNDS:
            raise OptionError(f"{file} is no sound file that is known. Choose one that ends in {', '.join(SOUNDS)}.")

    def to_json(self) -> dict[str, Any]:
        """As a job carries it."""
        return asdict(self)


def wish_from_json(told: Mapping[str, Any]) -> Wish:
    """The wish that a job carries."""
    return Wish(**{**told, "size": (int(told["size"][0]), int(told["size"][1]))})
