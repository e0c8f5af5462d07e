"""The kinds of film and their speed. Light to import: the command line asks for it before anything is done."""

from __future__ import annotations

from typing import Literal, get_args

from ..errors import OptionError
from ..wording import numbers

Mode = Literal["hold", "play", "still-view"]
#: hold: slow into every correction, all the way round, on. play: the phrase plays while the stage turns. still-view: it plays,
#: seen from where its worst correction is best seen.
MODES: tuple[str, ...] = get_args(Mode)
#: Speed of the dancing near a hold, as a share of the dancer's own, unless another is asked for; elsewhere it is her own.
SLOW_INTO = 0.35
#: Slower than this nothing seems to move. Proposed defaults, as all in the plan.
SLOWEST = 0.05


def speed_of(slow: float | None, mode: str) -> float:
    """The share of the dancer's own speed: slow, or what the mode does without. Raises OptionError."""
    if slow is None:
        return SLOW_INTO if mode == "hold" else 1.0
    if not SLOWEST <= slow <= 1.0:
        asked, slowest = numbers.plain(slow), numbers.plain(SLOWEST)
        raise OptionError(f"--slow {asked} must lie between {slowest} and 1: 0.5 is half the dancer's own speed.")
    return slow
