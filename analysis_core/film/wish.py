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

    music: a sound file, "" for none; at music_offset seconds of the file the first take begins. reference, reference_offset:
    a film beside the dancer likewise. remembered: of "music" and "reference" those that nobody named for this film: where they
    cannot be played it goes on without. pictures: a folder that keeps the pictures as PNG, "" for none. Raises OptionError.
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
    reference: str = ""
    reference_offset: float = 0.0
    remembered: tuple[str, ...] = ()
    pictures: str = ""

    def __post_init__(self) -> None:
        if self.mode not in MODES:
            raise OptionError(f"A film of the kind {self.mode!r} is not known. Choose {', '.join(MODES)}.")
        if not math.isfinite(self.music_offset):
            raise OptionError("--music-offset must be a number of seconds.")
        if not math.isfinite(self.reference_offset):
            raise OptionError("--reference-offset must be a number of seconds.")
        if self.reference and not Path(self.reference).is_file():
            raise OptionError(f"The reference film {self.reference} is not there. Choose a film, or leave it out.")
        if not self.music:
            return
        file = Path(self.music)
        if not file.is_file():
            raise OptionError(f"{file} is not there, so no music can be played. Choose a sound file.")
        if file.suffix.lower() not in SOUNDS:
            raise OptionError(f"{file} is no sound file that is known. Choose one that ends in {', '.join(SOUNDS)}.")

    def require_room(self, takes: int) -> None:
        """Raise OptionError where a reference film would have no room beside the dancers."""
        if self.reference and takes > 1:
            raise OptionError("A reference film has room beside one take only. Leave the second take or the reference film out.")

    def to_json(self) -> dict[str, Any]:
        """As a job carries it."""
        return asdict(self)


def wish_from_json(told: Mapping[str, Any]) -> Wish:
    """The wish that a job carries."""
    pairs = {"size": (int(told["size"][0]), int(told["size"][1])), "remembered": tuple(told.get("remembered", ()))}
    return Wish(**{**told, **pairs})
