"""A drawing as strokes and faces: the same for Blender, films, stills and the student's page. Nothing here draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..body.geometry import interpolated
from ..take import Floats
from .drawing import Area, Bracket, Line, Role, Shape, Sweep, Way

#: Thickness of a line of each role, in units of the drawing's own; the rim goes round it on both sides.
THICK: dict[Role, float] = {"measured": 1.0, "reference": 0.7, "band": 0.7, "aid": 0.4}
RIM = 0.55
#: Dashes and the gaps between them, in units of the line's thickness.
DASH, GAP = 4.0, 3.0
#: The band's stripe, as shares of its arc's radius; as a step, its width in thicknesses.
_STRIPE, _STEP = (0.80, 1.0), 3.0
_ARC_STEPS = 48


@dataclass(frozen=True)
class Eye:
    """From where a drawing is seen. place (3,), right (3,), up (3,): of the camera.

    nearer: share of the way from the eye at which the drawing lies, 1 = in its own place. Brought nearer it looks the same and
    hides behind nothing, in every engine.
    """

    place: Floats
    right: Floats
    up: Floats
    nearer: float = 1.0

    def brought(self, points: Floats, depth: float = 1.0) -> Floats:
        """Places (K, 3) brought nearer; ``depth`` below 1 still nearer."""
        return np.asarray(self.place + self.nearer * depth * (points - self.place))

    def behind(self, points: Floats, distance_m: float) -> Floats:
        """Places (K, 3) moved straight away from the eye: they look the same and lie behind what was there."""
        away = points - self.place
        return np.asarray(points + distance_m * away / np.linalg.norm(away, axis=1, keepdims=True))


def dashed(line: Floats, dash: float, gap: float) -> list[Floats]:
    """A polyline cut into dashes."""
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    whole = float(along[-1])
    if whole <= dash:
        return [line]
    count = max(2, round((whole + gap) / (dash + gap)))
    scale = whole / (count * (dash + gap) - gap)
    cut = []
    for number in range(count):
        start = number * (dash + gap) * scale
        places = np.linspace(start, min(start + dash * scale, whole), 5)
        cut.append(interpolated(places, along, line))
    return cut


def arc_of(sweep: Sweep, radius: float) -> Floats:
    """Points (K, 3) along a sweep at a radius."""
    angles = np.linspace(0.0, sweep.angle_rad, _ARC_STEPS)[:, None]
    axis, first = sweep.axis, sweep.first
    turned = np.cos(angles) * first + np.sin(angles) * np.cross(axis, first) + (1 - np.cos(angles)) * axis * (axis @ first)
    return np.asarray(sweep.centre + radius * turned)


def lines_of(shape: Shape, thickness: float, eye: Eye) -> list[Floats]:
    """The polylines of a shape; the band's stripes are faces and none of these."""
    if isinstance(shape, Line):
        return [np.stack([shape.start, shape.end])]
    if isinstance(shape, Sweep):
        return [arc_of(shape, shape.radius_m), *_arrow(arc_of(shape, shape.radius_m), thickness, shape)]
    if isinstance(shape, Bracket):
        along = shape.tip - shape.base
        across = eye.right if abs(along @ eye.up) > abs(along @ eye.right) else eye.up
        bar = 4.0 * thickness * across
        return [np.stack([shape.base, shape.tip])] + [np.stack([end - bar, end + bar]) for end in (shape.base, shape.tip)]
    if isinstance(shape, Way):
        return [shape.points]
    if isinstance(shape, Area):
        return [np.concatenate([shape.corners, shape.corners[:1]])]
    size = 2.0 * thickness
    return [np.stack([p - size * way, p + size * way]) for p in shape.points for way in (eye.right, eye.up)]


def brackets_reach(shapes: Sequence[Shape], thickness_m: float, eye: Eye) -> Floats:
    """Places (K, 3) at the outer ends of all brackets as they are drawn: with their bars, the band's step, and the rim."""
    places = []
    for shape in shapes:
        if not isinstance(shape, Bracket):
            continue
        stripe = stripe_of(shape, thickness_m, eye) if shape.role == "band" else None
        half = 0.0 if stripe is not None else (THICK[shape.role] / 2 + RIM) * thickness_m
        drawn = stripe[1] if stripe is not None else np.concatenate(lines_of(shape, THICK[shape.role] * thickness_m, eye))
        places += [drawn + half * (along * eye.right + up * eye.up) for along in (-1, 1) for up in (-1, 1)]
    return np.concatenate(places) if places else np.empty((0, 3))


def _arrow(arc: Floats, thickness: float, sweep: Sweep) -> list[Floats]:
    """The head of an arrow at the end of an arc that is long enough for one."""
    length = abs(sweep.angle_rad) * sweep.radius_m
    size = min(5.0 * thickness, 0.6 * length)
    if length < 3.0 * thickness:
        return []
    end = arc[-1]
    back = arc[-2] - end
    back = back / np.linalg.norm(back)
    outward = np.cross(back, sweep.axis)
    return [np.stack([end, end + size * (0.85 * back + side * 0.5 * outward)]) for side in (-1.0, 1.0)]


def stripe_of(shape: Shape, thickness: float, eye: Eye) -> tuple[list[Floats], Floats] | None:
    """The faces of a band: quads (4, 3) of a ring or a step, and its outline (K, 3)."""
    if isinstance(shape, Sweep):
        inner, outer = (arc_of(shape, share * shape.radius_m) for share in _STRIPE)
        quads = [np.stack([inner[i], outer[i], outer[i + 1], inner[i + 1]]) for i in range(len(inner) - 1)]
        return quads, np.concatenate([inner, outer[::-1], inner[:1]])
    if isinstance(shape, Bracket):
        along = shape.tip - shape.base
        across = eye.right if abs(along @ eye.up) > abs(along @ eye.right) else eye.up
        near, far = (-across * thickness * (5.0 + offset) for offset in (0.0, _STEP))
        corners = np.stack([shape.base + near, shape.base + far, shape.tip + far, shape.tip + near])
        return [corners], np.concatenate([corners, corners[:1]])
    return None
