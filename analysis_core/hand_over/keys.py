"""Fewer keys: cubic curves through few frames that stay within a stated bound of the motion, fitted down the chain of bones.

A curve for each bone, whose components share their keys; stretches are halved until nothing in them exceeds the bound
(in the manner of Schneider 1990, an algorithm for automatically fitting digitized curves). Every bone is fitted after its parents
and aimed at where its next joint should be, so that errors do not add up towards hands and feet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded

from ..body.anatomy import LEG_SEGMENTS, NEXT
from ..body.rotations import continuous, matrices_of, quaternions_of
from ..take import Floats
from .legs import swing
from .limits import limits
from .planted import Planted
from .rig import Rig

Frames = NDArray[np.int64]
Mask = NDArray[np.bool_]
#: Bones whose errors reach the foot, by the part of their name before the side.
_LEG = LEG_SEGMENTS[:3]


@dataclass(frozen=True)
class Curve:
    """A cubic between keys, with one slope at each (C1): frames (K,) rising; values (K, C); slopes (K, C) a frame."""

    frames: Frames
    values: Floats
    slopes: Floats

    def at(self, frames: Frames) -> tuple[Floats, Floats]:
        """Values and slopes (N, C) at frames (N,) between the first and the last key."""
        left = np.clip(np.searchsorted(self.frames, frames, side="right") - 1, 0, len(self.frames) - 2)
        span = (self.frames[left + 1] - self.frames[left]).astype(np.float64)[:, None]
        share = (frames - self.frames[left])[:, None] / span
        right = left + 1
        four = np.stack([self.values[left], span * self.slopes[left], self.values[right], span * self.slopes[right]])
        values: Floats = (_basis(share) * four).sum(axis=0)
        slopes: Floats = (_basis_slopes(share) * four).sum(axis=0) / span
        return values, slopes

    def cut(self, start: int, stop: int) -> Curve:
        """The curve over frames start ≤ t < stop, counted from start; a cubic that is cut stays the same cubic."""
        inside = self.frames[(self.frames > start) & (self.frames < stop - 1)]
        frames = np.unique(np.concatenate([[start], inside, [stop - 1]]))
        return Curve(frames - start, *self.at(frames))

    def through(self, matrix: Floats, shift: Floats | float = 0.0) -> Curve:
        """The curve of values · matrixᵀ + shift: linear maps leave a cubic one."""
        return Curve(self.frames, self.values @ matrix.T + shift, self.slopes @ matrix.T)


def of_quaternions(matrix: Floats) -> Floats:
    """The map (4, 4) of quaternions w, x, y, z whose axis is seen through a rotation (3, 3)."""
    whole = np.eye(4)
    whole[1:, 1:] = matrix
    return whole


def _basis(share: Floats) -> Floats:
    """Hermite's four (4, …): value and slope at the left key, value and slope at the right one."""
    s2, s3 = share * share, share * share * share
    return np.stack([2 * s3 - 3 * s2 + 1, s3 - 2 * s2 + share, 3 * s2 - 2 * s3, s3 - s2])


def _basis_slopes(share: Floats) -> Floats:
    s2 = share * share
    return np.stack([6 * s2 - 6 * share, 3 * s2 - 4 * share + 1, 6 * share - 6 * s2, 3 * s2 - 2 * share])


@dataclass(frozen=True)
class Reduced:
    """Curves of all bones: turns, one for each: quaternions w, x, y, z away from rest against the parent, in the world's axes
    at rest; places: of the bones that move, from their parents' heads in the parents' axes at rest.

    share: keys against one on every frame; joints_m, turned_rad: 99 % and greatest error against the motion; rig: the motion that
    the curves make.
    """

    turns: tuple[Curve, ...]
    places: dict[int, Curve]
    share: float
    joints_m: tuple[float, float]
    turned_rad: tuple[float, float]
    rig: Rig


def _solve(wanted: Floats, weights: Floats, frames: Frames) -> Curve:
    """The curve with these keys that lies nearest to wanted (F, C), weighted (F,): one banded system for all components."""
    count, columns = len(frames), wanted.shape[1]
    index = np.arange(len(wanted))
    left = np.clip(np.searchsorted(frames, index, side="right") - 1, 0, count - 2)
    span = (frames[left + 1] - frames[left]).astype(np.float64)
    value_0, slope_0, value_1, slope_1 = _basis(np.asarray((index - frames[left]) / span, dtype=np.float64))
    rows = np.stack([value_0, span * slope_0, value_1, span * slope_1], axis=1)
    normal, right = np.zeros((4, 2 * count)), np.zeros((2 * count, columns))
    for first in range(4):
        for column in range(columns):
            sums = np.bincount(left, weights * rows[:, first] * wanted[:, column], count)
            right[first : first + 2 * count - 2 : 2, column] += sums[: count - 1]
        for second in range(first, 4):
            sums = np.bincount(left, weights * rows[:, first] * rows[:, second], count)
            normal[second - first, first : first + 2 * count - 2 : 2] += sums[: count - 1]
    # A slope that no frame asks for (keys on neighbouring frames) stays small instead of unknown.
    normal[0] += 1e-9 * normal[0].max()
    solved = solveh_banded(normal, right, lower=True, check_finite=False)
    return Curve(frames, solved[0::2], solved[1::2])


def _fit(wanted: Floats, bound: Floats, keys: Frames, *, rotations: bool) -> Curve:
    """The curve with as few keys as it takes to stay within a bound (F,), in the unit of ``wanted`` (F, C), or in radians.

    keys: where keys stand whatever happens.
    """
    last, spacing = len(wanted) - 1, limits()["keys"]["spacing"]
    frames = np.unique(np.concatenate([np.linspace(0, last, max(2, last // spacing)).round().astype(np.int64), keys]))
    weights = (bound.max() / bound) ** 2
    index = np.arange(len(wanted))
    while True:
        curve = _solve(wanted, weights, frames)
        if rotations:
            long = np.linalg.norm(curve.values, axis=1, keepdims=True)
            curve = Curve(frames, curve.values / long, curve.slopes / long)
        away = curve.at(index)[0]
        if rotations:
            # Half the chord between unit quaternions is the sine of a quarter of the turn between them.
            away = away / np.linalg.norm(away, axis=1, keepdims=True)
            error = 4.0 * np.arcsin(np.clip(0.5 * np.linalg.norm(away - wanted, axis=1), 0.0, 1.0))
        else:
            error = np.linalg.norm(away - wanted, axis=1)
        beyond = np.maximum.reduceat(error / bound, frames[:-1]) > 1.0
        halved = np.flatnonzero(beyond & (np.diff(frames) > 1))
        if not halved.size:
            return curve
        # Halves, not the worst frames: those lie beside keys that are there, and keys would crowd.
        frames = np.union1d(frames, (frames[halved] + frames[halved + 1]) // 2)


def _aimed(rig: Rig, index: int, origin: Floats, names: Sequence[str]) -> Floats:
    """World rotations (F, 3, 3) of a bone that begins at ``origin`` (F, 3), swung so that it points at its wanted next joint."""
    base, dot, side = rig.names[index].partition(".")
    after = NEXT.get(base, "") + dot + side
    turned: Floats = rig.turned[:, index]
    if after not in names:
        return turned
    child = rig.names.index(after)
    before = turned @ (rig.heads[child] - rig.heads[index])
    aimed: Floats = swing(before, rig.origins_m[:, child] - origin) @ turned
    return aimed


def _held_frames(planted: Sequence[Planted], frames: int) -> Mask:
    """Frames (F, 2) in which a point of the left or right foot is held."""
    held = np.zeros((frames, 2), dtype=bool)
    for item in planted:
        held[item.start : item.stop, item.side] = True
    return held


def _bounds(rig: Rig, index: int, held: Mask) -> tuple[Floats, Floats]:
    """Bounds (F,) of a bone's rotation, radians, and of its place, metres: closer where a foot that hangs on it is held."""
    limit = limits()["keys"]
    base, _, side = rig.names[index].partition(".")
    either = held.any(axis=1) & (base in ("root", "pelvis"))
    close = held[:, 0 if side == "L" else 1] if base in _LEG else either
    turn = np.radians(np.where(close, limit["held_deg"], limit["bound_deg"]))
    return turn, np.where(close, limit["held_m"], limit["bound_m"])


def reduce_keys(rig: Rig, planted: Sequence[Planted]) -> Reduced:
    """Curves with few keys for all bones of a rig. planted: the stretches in which feet are held, in frames of the rig."""
    held = _held_frames(planted, rig.frames)
    changes = np.flatnonzero(np.diff(held, axis=0).any(axis=1)) + 1
    nowhere = np.empty(0, dtype=np.int64)
    turned, origins = np.empty_like(rig.turned), np.empty_like(rig.origins_m)
    turns: list[Curve] = []
    places: dict[int, Curve] = {}
    index_of = np.arange(rig.frames)
    for index, name in enumerate(rig.names):
        parent = int(rig.parents[index])
        above = np.broadcast_to(np.eye(3), (rig.frames, 3, 3)) if parent < 0 else turned[:, parent]
        begin = np.zeros((rig.frames, 3)) if parent < 0 else origins[:, parent]
        turn_bound, place_bound = _bounds(rig, index, held)
        keys = changes if name.partition(".")[0] in (*_LEG, "root", "pelvis") else nowhere
        if index in rig.moved:
            place = np.einsum("fji,fj->fi", above, rig.origins_m[:, index] - begin)
            places[index] = _fit(place, place_bound, keys, rotations=False)
            place = places[index].at(index_of)[0]
        else:
            place = np.broadcast_to(rig.offsets[index], (rig.frames, 3))
        origins[:, index] = begin + np.einsum("fij,fj->fi", above, place)
        wanted = np.swapaxes(above, 1, 2) @ _aimed(rig, index, origins[:, index], rig.names)
        curve = _fit(continuous(quaternions_of(wanted)), turn_bound, keys, rotations=True)
        shown = curve.at(index_of)[0]
        turned[:, index] = above @ matrices_of(shown / np.linalg.norm(shown, axis=1, keepdims=True))
        turns.append(curve)
    return _told(rig, replace(rig, turned=turned, origins_m=origins), tuple(turns), places)


def told(reduced: Reduced) -> dict[str, Any]:
    """What the note says of few keys: the bounds, what was kept, and what it costs, in millimetres and degrees."""
    limit = limits()["keys"]
    return {
        "bound_mm": 1000 * limit["bound_m"],
        "bound_deg": limit["bound_deg"],
        "share": reduced.share,
        "joints_mm": {"p99": 1000 * reduced.joints_m[0], "greatest": 1000 * reduced.joints_m[1]},
        "turned_deg": {"p99": float(np.degrees(reduced.turned_rad[0])), "greatest": float(np.degrees(reduced.turned_rad[1]))},
        "formats": ["glb", "blend"],
    }


def _told(rig: Rig, reduced: Rig, turns: tuple[Curve, ...], places: dict[int, Curve]) -> Reduced:
    """The curves with what they cost and lose."""
    curves = [*turns, *places.values()]
    keys = sum(curve.values.size for curve in curves)
    every = sum(curve.values.shape[1] for curve in curves) * rig.frames
    apart = np.linalg.norm(reduced.origins_m - rig.origins_m, axis=2)
    chord = np.linalg.norm(reduced.turned - rig.turned, axis=(2, 3))
    turn = 2.0 * np.arcsin(np.clip(chord / np.sqrt(8.0), 0.0, 1.0))
    joints, angles = ((float(np.quantile(values, 0.99)), float(values.max())) for values in (apart, turn))
    return Reduced(turns, places, keys / every, joints, angles, reduced)
