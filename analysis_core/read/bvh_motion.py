"""The motion block of a BVH file: frame count, frame time, and rows of numbers however they were broken into lines."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import TakeError
from ..take import Floats
from ..wording import reading as say
from .bvh_skeleton import LARGEST_NUMBER
from .infer import is_cut_short

_FRAMES = re.compile(r"frames\s*:?\s*(-?\d+)", re.IGNORECASE)
_FRAME_TIME = re.compile(r"frame\s*time\s*:?\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)", re.IGNORECASE)


@dataclass(frozen=True)
class MotionBlock:
    """Rows (F, C) of channel values, NaN where a row could not be read; the frame time as written; what was odd."""

    rows: Floats
    frame_time: str | None
    warnings: tuple[str, ...]


def _header(block: str) -> tuple[int | None, str | None, str]:
    """Announced frames, frame time as written, and the text behind them."""
    start = 0
    frames = _FRAMES.search(block, 0, 2000)
    time = _FRAME_TIME.search(block, 0, 2000)
    for found in (frames, time):
        if found:
            start = max(start, found.end())
    return (int(frames[1]) if frames else None, time[1] if time else None, block[start:])


def _numbers(text: str) -> Floats | None:
    """All numbers of a text of nothing but numbers; None when there is anything else in it."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text, dtype=np.float64, sep=" ")
        except (DeprecationWarning, ValueError):
            return None


def _numbers_per_line(text: str) -> NDArray[np.int64]:
    """How many words each line holds (L,)."""
    raw = np.frombuffer(text.encode("ascii", "replace"), dtype=np.uint8)
    blank = raw <= 32
    starts = ~blank & np.concatenate([[True], blank[:-1]])
    line = np.cumsum(raw == 10)
    return np.bincount(line[starts], minlength=int(line[-1]) + 1 if len(line) else 1).astype(np.int64)


def _rows_line_by_line(text: str, width: int, name: str) -> tuple[Floats, list[str]]:
    """Rows of a block in which some lines do not fit: such rows become NaN, a broken last row is left out."""
    # The slow way, for damaged files only.
    lines = [line for line in text.splitlines() if line.strip()]
    parsed = [_numbers(line) for line in lines]
    while parsed and (parsed[-1] is None or not len(parsed[-1])):
        parsed.pop()
    fits = [values is not None and len(values) == width for values in parsed]
    notes = []
    if parsed and not fits[-1]:
        notes.append(say.LAST_ROW_CUT)
        parsed.pop()
        fits.pop()
    bad = fits.count(False)
    if not fits or 2 * bad > len(fits):
        raise TakeError(
            f"{name}: its rows of motion do not hold the {width} numbers that its channels ask for. Export the take again as BVH."
        )
    if bad:
        notes.append(say.rows_of_another_width(bad, len(fits), width))
    rows = np.full((len(fits), width), np.nan)
    good = np.flatnonzero(fits)
    rows[good] = np.array([parsed[index] for index in good])
    return rows, notes


def _rows(text: str, width: int, announced: int | None, name: str) -> tuple[Floats, list[str]]:
    values = _numbers(text)
    if values is None or len(values) < width:
        return _rows_line_by_line(text, width, name)
    if announced and len(values) == announced * width:
        return values.reshape(-1, width), []
    whole = len(values) // width
    counts = _numbers_per_line(text)
    counts = counts[counts > 0]
    # Rows may be broken into lines anywhere, but a frame ends where a line ends; else short and long rows merely add up.
    regular = len(counts) == 1 or (counts == width).all()
    wrapped = counts.max() < width and np.isin(np.arange(1, whole + 1) * width, np.cumsum(counts)).all()
    if regular or wrapped:
        return values[: whole * width].reshape(-1, width), [say.LAST_ROW_CUT] if whole * width < len(values) else []
    return _rows_line_by_line(text, width, name)


def read_motion(block: str, channels: int, name: str) -> MotionBlock:
    """Read what follows the word MOTION; ``name`` of the file is for messages.

    Raises TakeError when there is no row at all or the rows do not fit the channels.
    """
    announced, frame_time, text = _header(block)
    if not channels:
        raise TakeError(f"{name}: none of its joints has a channel, so nothing moves. Export the take with its animation.")
    if not text.strip() or announced == 0:
        raise TakeError(f"{name}: it holds a skeleton but no frames. Export the take with its animation.")
    rows, notes = _rows(text, channels, announced, name)
    impossible = ~(np.abs(rows) <= LARGEST_NUMBER).all(axis=1)
    rows = np.where(impossible[:, None], np.nan, rows)
    if 2 * impossible.sum() > len(rows):
        raise TakeError(f"{name}: most of its rows of motion hold no numbers that make sense. Export the take again as BVH.")
    if not len(rows):
        raise TakeError(f"{name}: it holds a skeleton but no frames. Export the take with its animation.")
    if announced is None:
        notes.append(say.frames_found(len(rows)))
    elif is_cut_short(announced, len(rows)):
        raise TakeError(
            f"{name}: it is cut short: it announces {announced} frames and holds {len(rows)}. Copy it again from its source, "
            "or correct the number behind “Frames:” if it was shortened on purpose."
        )
    elif announced != len(rows):
        notes.append(say.frames_announced(announced, len(rows)))
    return MotionBlock(rows, frame_time, tuple(notes))
