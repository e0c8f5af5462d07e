"""A picture of a posed figure without Blender: points on its surface, the nearest one to the eye wins.

Quick rather than fine: for contact sheets and tests, where many moments are looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .skin import normals_of

_BACKGROUND = (0.80, 0.81, 0.82)
_FLOOR = (0.62, 0.63, 0.64)
#: Towards the light, in the eye's axes: right, up, towards the eye.
_LIGHT = np.array([-0.35, 0.60, 0.72]) / np.linalg.norm([-0.35, 0.60, 0.72])
_AMBIENT = 0.42
#: Points a side on every quad at least; more where quads are large in the picture.
_LEAST_POINTS, _MOST_POINTS = 2, 8


@dataclass(frozen=True)
class Eye:
    """Where the picture is seen from: level and without perspective.

    azimuth_rad: direction from the aim to the eye, in the laboratory. aim_m (3,): middle of the picture. height_m: what the
    picture is high in metres.
    """

    azimuth_rad: float
    aim_m: Floats
    height_m: float

    def axes(self) -> Floats:
        """Right, up, towards the eye, as rows (3, 3)."""
        sine, cosine = np.sin(self.azimuth_rad), np.cos(self.azimuth_rad)
        return np.array([[-sine, cosine, 0.0], [0.0, 0.0, 1.0], [cosine, sine, 0.0]])


def srgb(linear: Floats) -> NDArray[np.uint8]:
    """Linear colours as bytes (IEC 61966-2-1)."""
    clipped = np.clip(linear, 0.0, 1.0)
    curve = np.where(clipped <= 0.0031308, 12.92 * clipped, 1.055 * clipped ** (1 / 2.4) - 0.055)
    told: NDArray[np.uint8] = np.round(255.0 * curve).astype(np.uint8)
    return told


def picture_of(vertices: Floats, quads: NDArray[np.int32], colours: Floats, eye: Eye, size: tuple[int, int]) -> NDArray[np.uint8]:
    """An image (height, width, 3) of vertices (V, 3), quads (Q, 4) and linear colours (V, 3); size: width, height."""
    width, height = size
    scale = height / eye.height_m
    axes = eye.axes()
    places = (vertices - eye.aim_m) @ axes.T
    normals = normals_of(vertices, quads) @ axes.T
    shade = _AMBIENT + (1.0 - _AMBIENT) * np.clip(normals @ _LIGHT, 0.0, 1.0)
    values = np.concatenate([places * scale, colours * shade[:, None]], axis=1)
    towards = normals[quads].mean(axis=1)[:, 2] > -0.3
    corners = values[quads[towards]]
    extent = np.ptp(corners[:, :, :2], axis=1).max(initial=0.0)
    steps = int(np.clip(np.ceil(extent * 1.5), _LEAST_POINTS, _MOST_POINTS))
    share = (np.arange(steps) + 0.5) / steps
    u, v = (grid.ravel()[None, :, None] for grid in np.meshgrid(share, share))
    bilinear = ((1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v)
    points = sum(part * corners[:, None, corner] for corner, part in enumerate(bilinear)).reshape(-1, 6)
    column = np.floor(points[:, 0] + width / 2.0).astype(np.int64)
    row = np.floor(height / 2.0 - points[:, 1]).astype(np.int64)
    seen = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    pixel, points = (row * width + column)[seen], points[seen]
    # The last one written stays: the nearest to the eye.
    order = np.argsort(points[:, 2], kind="stable")
    image = np.empty((height * width, 3))
    image[:] = _BACKGROUND
    floor_row = int(np.clip(height / 2.0 + eye.aim_m[2] * scale, 0, height))
    image[floor_row * width :] = _FLOOR
    image[pixel[order]] = points[order, 3:]
    return srgb(image).reshape(height, width, 3)
