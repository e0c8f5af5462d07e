"""A film as it may travel: the same pictures and sound, without what its file says about where and when it was made."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

from ..errors import OptionError

#: Boxes of an MP4 (ISO/IEC 14496-12) that hold others, and those that hold words about the film.
_HOLDERS = {b"moov", b"trak", b"mdia", b"minf", b"stbl", b"moof", b"traf", b"mvex", b"edts"}
_WORDS = {b"udta", b"meta", b"uuid"}
#: Boxes that begin with the times of making and changing.
_TIMED = {b"mvhd", b"tkhd", b"mdhd"}


def _boxes(data: bytes | bytearray, start: int, end: int) -> Iterator[tuple[bytes, int, int, int]]:
    """Kind, beginning, beginning of what is in it, and end of every box, also of those within holders (ISO/IEC 14496-12, 4.2).

    Whoever asks may change a box before asking for the next. Raises ValueError for a box that is longer than what holds it.
    """
    at = start
    while at + 8 <= end:
        size, kind = struct.unpack_from(">I4s", data, at)
        head = 8
        if size == 1:
            size, head = struct.unpack_from(">Q", data, at + 8)[0], 16
        elif size == 0:
            size = end - at
        if size < head or at + size > end:
            raise ValueError("a box of the film is longer than the film")
        yield kind, at, at + head, at + size
        if kind in _HOLDERS:
            yield from _boxes(data, at + head, at + size)
        at += size


def _sizes(data: bytes) -> Iterator[tuple[float, float]]:
    """Width and height of every track of a film whose boxes are whole: the last two numbers of its header, 16 bits before the
    point and 16 behind it (ISO/IEC 14496-12, 8.3.2). Sound has none."""
    for kind, _, _, end in _boxes(data, 0, len(data)):
        if kind == b"tkhd":
            wide, high = struct.unpack_from(">II", data, end - 8)
            if wide and high:
                yield wide / 65536, high / 65536


def size_of(film: bytes) -> tuple[float, float] | None:
    """Width and height of a film as ``film_of`` gives it, pixels; None where it names none."""
    return next(_sizes(film), None)


def _clean(data: bytearray) -> None:
    """Take words and times out of a film, in place: nothing behind them moves."""
    for kind, start, inside, end in _boxes(data, 0, len(data)):
        if kind in _WORDS:
            # A free box of the same length.
            data[start + 4 : start + 8] = b"free"
            data[inside:end] = bytes(end - inside)
        elif kind in _TIMED:
            width = 16 if data[inside] == 1 else 8
            data[inside + 4 : inside + 4 + width] = bytes(width)


def film_of(path: Path) -> bytes:
    """The bytes of an MP4 film without words, dates and places. Raises OptionError when it is none, or cannot be read."""
    try:
        data = bytearray(path.read_bytes())
    except OSError as error:
        raise OptionError(f"{path} cannot be read: {error.strerror}. Choose a film that in-the-round turntable made.") from error
    if data[4:8] != b"ftyp":
        raise OptionError(f"{path} is no MP4 film. Choose one that in-the-round turntable made.")
    try:
        _clean(data)
    except (ValueError, struct.error) as error:
        raise OptionError(f"{path} is damaged ({error}). Render the film again.") from error
    return bytes(data)
