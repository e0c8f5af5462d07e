"""The samples of a checked C3D file, as arrays.

The check has parsed all that is needed to address them, so they are taken from the bytes in one go: no native reader can
crash the process that hosts this, the memory needed is a small multiple of the file's size, and files are read that
general readers refuse (MIPS byte order, parameters that contradict each other). The tests compare the result with two
independent readers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .c3d_file import C3dFile, floats


@dataclass(frozen=True)
class Samples:
    """points (F, N, 3) in the file's unit and axes, as stored, each coordinate of a point in one piece; valid (F, N): not
    marked as missing; analog (K, C) scaled."""

    points: Floats
    valid: NDArray[np.bool_]
    analog: Floats


def _words(file: C3dFile) -> tuple[NDArray[np.generic], int]:
    """All words of all frames (F, W), and how many of a frame are points."""
    point_words, analog_words = 4 * file.points, file.channels * file.analog_per_frame
    width = 4 if file.scale < 0 else 2
    size = file.frames * (point_words + analog_words) * width
    raw = file.data[file.data_start : file.data_start + size]
    if width == 4:
        words: NDArray[np.generic] = floats(raw, file.processor)
    else:
        words = np.frombuffer(raw, dtype=">i2" if file.processor == "mips" else "<i2")
    return words.reshape(file.frames, point_words + analog_words), point_words


def _all_numbers(file: C3dFile, key: str, default: float, *, unsigned: bool = False) -> Floats:
    """One number for each analog channel (C,): of the parameter and those that continue it, else the default."""
    found = [file.numbers(key, unsigned=unsigned).ravel(order="F")]
    while (continued := f"{key}{len(found) + 1}") in file.parameters:
        found.append(file.numbers(continued, unsigned=unsigned).ravel(order="F"))
    stored = np.concatenate(found)[: file.channels]
    return np.concatenate([stored, np.full(file.channels - len(stored), default)])


def _analog(file: C3dFile, words: NDArray[np.generic]) -> Floats:
    rows = file.frames * file.analog_per_frame
    if not file.channels or not rows:
        return np.empty((0, file.channels))
    unsigned = any("UNSIGNED" in text.upper() for text in file.texts("ANALOG:FORMAT"))
    if unsigned and words.dtype.kind == "i":
        words = words.astype(np.int16).view(np.uint16)
    general = file.numbers("ANALOG:GEN_SCALE")
    scale = _all_numbers(file, "ANALOG:SCALE", 1.0) * (general.flat[0] if general.size else 1.0)
    offset = _all_numbers(file, "ANALOG:OFFSET", 0.0, unsigned=unsigned)
    return (words.reshape(rows, file.channels).astype(np.float64) - offset) * scale


def read_samples(file: C3dFile) -> Samples:
    """Points and analog samples of a checked file."""
    # Damaged files hold bit patterns that are no numbers; they end up as missing or as not a number.
    with np.errstate(over="ignore", invalid="ignore"):
        words, point_words = _words(file)
        points = words[:, :point_words].reshape(file.frames, file.points, 4).astype(np.float64, order="F")
        positions = points[:, :, :3]
        # The fourth word carries the residual: negative, or no number at all, marks a sample that is missing.
        valid = points[:, :, 3] >= 0
        if file.scale > 0:
            # A value at the end of the integer range stands for one that did not fit into it.
            full = np.abs(positions) >= 32767
            valid &= ~(full[:, :, 0] & full[:, :, 1] & full[:, :, 2])
            positions = positions * file.scale
        return Samples(positions, valid, _analog(file, words[:, point_words:]))
