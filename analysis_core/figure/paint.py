"""The figure's colours as one small picture and a place on it for every corner: for viewers that show no colours of points.

A column of the picture is a colour; across a ring and the gap to the next one is its height, so that rings repeat along a limb.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from . import palette
from .looks import COVERS, LOOKS
from .picture import srgb
from .skin import Skin

#: Columns of the picture behind those of the look: what cannot be told, and what is to be worked on.
_UNKNOWN, _MARKED = len(COVERS) + 1, len(COVERS) + 2
_COLUMNS, _WIDE, _HIGH = 8, 8, 32
#: A face that reaches further along its limb than this share of a ring lies across two limbs: no ring there.
_ACROSS = 0.75


@dataclass(frozen=True)
class Paint:
    """picture: a PNG. corners (Q, 4, 2): where each corner of a face lies on it, 0 to 1 across and up; up repeats."""

    picture: bytes
    corners: Floats


def _png(pixels: NDArray[np.uint8]) -> bytes:
    """A picture (height, width, 3) as PNG (ISO/IEC 15948), without words or dates."""

    def chunk(kind: bytes, inside: bytes) -> bytes:
        return struct.pack(">I", len(inside)) + kind + inside + struct.pack(">I", zlib.crc32(kind + inside))

    high, wide, _ = pixels.shape
    rows = np.concatenate([np.zeros((high, 1), dtype=np.uint8), pixels.reshape(high, -1)], axis=1).tobytes()
    head = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows, 9)) + chunk(b"IEND", b"")


def _mixed(first: Floats, second: palette.Colour, share: Floats | float) -> Floats:
    mixed: Floats = first + (np.array(second) - first) * share
    return mixed


def _columns(look: str, level: float) -> Floats:
    """Linear colours (height, columns, 3), from the top of the picture; level: of what is marked, 0 to 1."""
    up = 1.0 - (np.arange(_HIGH) + 0.5) / _HIGH
    plain = [palette.SKIN, *LOOKS[look].colours, palette.CANNOT_TELL]
    turned = float(np.clip((level - palette.TURNS_AT) * palette.TURNS_GAIN, 0.0, 1.0))
    shown = _mixed(np.array(palette.SKIN), palette.WATCH, float(np.clip(level * palette.SHOWN_GAIN, 0.0, 1.0)))
    marked = np.tile(_mixed(shown, palette.FAULT, turned), (_HIGH, 1))
    ringed = np.asarray(np.sin(2.0 * np.pi * up) > palette.RING_ABOVE, dtype=np.float64)
    ring = ringed * turned * palette.RING_STRENGTH
    columns = np.tile(np.array([*plain, *[palette.SKIN] * (_COLUMNS - len(plain))]), (_HIGH, 1, 1))
    columns[:, _MARKED] = _mixed(marked, palette.RING, ring[:, None])
    return columns


def _along(skin: Skin) -> Floats:
    """How many rings along its limb each corner (Q, 4) lies; in a gap where a face lies across two limbs."""
    along = skin.along_m[skin.quads] / palette.RING_EVERY_M
    rings: Floats = np.where(np.ptp(along, axis=1, keepdims=True) > _ACROSS, 0.75, along)
    return rings


def paint_of(skin: Skin, look: str, marked: list[int], level: float, unknown: NDArray[np.bool_]) -> Paint:
    """How a skin is painted while the SEGMENTS ``marked`` are at ``level``, 0 to 1; unknown (S,): what cannot be told."""
    inside = skin.covered_m[skin.quads].mean(axis=1)
    column = np.where((inside > 0).any(axis=1), 1 + np.max(np.where(inside > 0, np.arange(len(COVERS)), 0), axis=1), 0)
    weights = skin.weights[skin.quads].mean(axis=1)
    column[weights[:, marked].sum(axis=1) > 0.5] = _MARKED
    column[weights @ unknown > 0.5] = _UNKNOWN
    across = np.repeat(((column + 0.5) / _COLUMNS)[:, None], 4, axis=1)
    pixels = srgb(np.repeat(_columns(look, level), _WIDE, axis=1).reshape(-1, 3)).reshape(_HIGH, _COLUMNS * _WIDE, 3)
    return Paint(_png(pixels), np.stack([across, _along(skin)], axis=-1))
