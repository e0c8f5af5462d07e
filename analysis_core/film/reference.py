"""The reference film of a phone beside a film's dancer: which of its frames each picture shows, and what is remembered of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import InTheRoundError
from ..take import Floats
from ..views.beside import read_beside
from .wish import Wish

#: A moment that lies this near before a frame's own, in frames, is that frame's: sums of seconds are not exact.
_NEAR = 1e-6


def frames_at(time_s: Floats, at_s: float, rate_hz: float, count: int) -> NDArray[np.int64]:
    """The frame (K,), from 0, that a film of ``count`` frames shows at moments of the take (K,); the take begins at its at_s.

    Before it begins and after its end the film stands still on its first or last frame.
    """
    whole = np.floor((np.asarray(time_s) + at_s) * rate_hz + _NEAR)
    return np.asarray(np.clip(whole, 0, count - 1), dtype=np.int64)


def with_remembered(wish: Wish, folder: Path, takes: int) -> tuple[Wish, list[str]]:
    """The wish with the music and the film that the first take's review folder remembers, where it names none itself.

    What cannot be had, and a film where there is no room for it, is said in sentences, and the wish goes on without it.
    """
    said: list[str] = []
    try:
        beside = read_beside(folder)
    except InTheRoundError as error:
        return wish, [str(error)]
    if beside.music is not None and not wish.music:
        try:
            wish = replace(wish, music=str(beside.music.file), music_offset=beside.music.at_s, remembered=("music",))
        except InTheRoundError as error:
            said.append(str(error))
    if beside.film is not None and not wish.reference:
        try:
            remembered = (*wish.remembered, "reference")
            wished = replace(wish, reference=str(beside.film.file), reference_offset=beside.film.at_s, remembered=remembered)
            wished.require_room(takes)
            wish = wished
        except InTheRoundError as error:
            said.append(str(error))
    return wish, said
