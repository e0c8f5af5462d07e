"""Clothes and hair on the skin of a figure: where each of them lies."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_SEGMENTS, SIDE_SUFFIXES
from ..body.movement import SEGMENTS
from ..take import Floats
from .looks import LOOKS
from .palette import SKIN
from .proportions import Rest
from .shape import HEAD_HEIGHT, bun_place

#: Far inside or outside, metres.
_FAR_M = 1.0


class _Places:
    """Points of a skin at rest, and what moves them."""

    def __init__(self, rest: Rest, vertices: Floats, weights: Floats) -> None:
        self.rest = rest
        self.size = rest.stature_m
        self.vertices = vertices
        self.weights = weights
        self.height = vertices[:, 2]
        self.outward = np.abs(vertices[:, 1])

    def of(self, *names: str) -> Floats:
        moved: Floats = self.weights[:, [SEGMENTS.index(name) for name in names]].sum(axis=1)
        return moved

    def sided(self, *names: str) -> Floats:
        return self.of(*(name + suffix for name in names for suffix in SIDE_SUFFIXES))


def _within(distance: Floats, where: NDArray[np.bool_]) -> Floats:
    """A distance where something is, far outside elsewhere."""
    return np.where(where, distance, -_FAR_M)


def _leotard(places: _Places) -> Floats:
    """Cut high over the hip and low at neck and back; straps over the shoulders."""
    size, height, outward = places.size, places.height, places.outward
    hips, neck = places.rest.head_of("pelvis")[2], places.rest.head_of("neck")[2]
    above = height - (hips - 0.036 * size + 0.55 * np.maximum(outward - 0.030 * size, 0.0))
    below = neck - 0.055 * size + 0.30 * outward - height
    trunk = places.of("pelvis", "lumbar", "thorax", "thigh.L", "thigh.R", "clavicle.L", "clavicle.R")
    return _within(np.minimum(np.minimum(above, below), 0.100 * size - outward), trunk > 0.5)


def _shirt(places: _Places) -> Floats:
    """From the hips to the root of the neck, with sleeves to half-way down the upper arm."""
    size, rest = places.size, places.rest
    neck = rest.head_of("neck")
    below = neck[2] - 0.004 * size - 0.45 * (places.vertices[:, 0] - neck[0]) - places.height
    below += 0.35 * np.maximum(places.outward - 0.036 * size, 0.0)
    distance = np.minimum(below, places.height - _hem(rest))
    for suffix in SIDE_SUFFIXES:
        shoulder, elbow = rest.head_of(f"upper_arm{suffix}"), rest.head_of(f"forearm{suffix}")
        length = np.linalg.norm(elbow - shoulder)
        along = (places.vertices - shoulder) @ (elbow - shoulder) / length
        arm = places.of(*(name + suffix for name in ARM_SEGMENTS)) > 0.5
        distance = np.where(arm, 0.55 * length - along, distance)
    return _within(distance, places.of("head") < 0.5)


def _hem(rest: Rest) -> float:
    """Height of the lower edge of the shirt."""
    return float(rest.head_of("pelvis")[2]) - 0.012 * rest.stature_m


def _leggings(places: _Places) -> Floats:
    """From under the shirt to above the ankle."""
    ankle = places.rest.head_of("foot.L")[2] + 0.034 * places.size
    legs = places.of("pelvis", "lumbar") + places.sided("thigh", "shank", "foot") > 0.5
    return _within(np.minimum(_hem(places.rest) - places.height, places.height - ankle), legs)


def _hair(places: _Places, bun: bool) -> Floats:
    rest = places.rest
    size, centre = rest.head_m / HEAD_HEIGHT, rest.ends["head"]
    forward, up = places.vertices[:, 0] - centre[0], places.height - centre[2]
    hair = np.minimum(up - 0.024 * size - 0.55 * (forward - 0.030 * size), up + (0.026 if bun else 0.034) * size)
    if bun:
        hair = np.maximum(hair, 0.028 * size - np.linalg.norm(places.vertices - bun_place(centre, size), axis=1))
    ear = np.stack([forward + 0.004 * size, places.outward - 0.046 * size, up + 0.012 * size])
    hair = np.minimum(hair, np.linalg.norm(ear, axis=0) - 0.015 * size)
    return _within(hair, places.of("head") > 0.5)


def _shoes(places: _Places) -> Floats:
    distance = np.full(len(places.vertices), -_FAR_M)
    for side, suffix in enumerate(SIDE_SUFFIXES):
        foot = places.of(f"foot{suffix}", f"toes{suffix}") > 0.5
        ankle = places.rest.head_of(f"foot{suffix}")[2]
        from_heel = np.abs(places.vertices[:, 0] - places.rest.feet[side, 0, 0] - 0.05 * places.size)
        distance = np.where(foot, ankle * 0.62 + 0.25 * from_heel - places.height, distance)
    return distance


def covers(look: str, rest: Rest, vertices: Floats, weights: Floats) -> Floats:
    """How far (V, 4) points (V, 3) of a skin at rest lie inside each of COVERS, metres; negative outside.

    weights (V, S): what moves each point. Continuous at every edge, so that edges can be drawn crisp on a coarse mesh.
    """
    places = _Places(rest, vertices, weights)
    bare = np.full(len(vertices), -_FAR_M)
    clothes = [_leotard(places), bare] if look == "leotard" else [_shirt(places), _leggings(places)]
    return np.stack([*clothes, _hair(places, LOOKS[look].bun), _shoes(places)], axis=1)


def colours_of(look: str, covered: Floats, edge_m: float) -> Floats:
    """Linear colours (V, 3) of points that are covered so far (V, 4); colours mix over ``edge_m``."""
    colours = np.tile(np.array(SKIN), (len(covered), 1))
    for column, colour in zip(covered.T, LOOKS[look].colours, strict=True):
        share = np.clip(column / edge_m + 0.5, 0.0, 1.0)[:, None]
        colours = colours * (1.0 - share) + np.array(colour) * share
    return colours
