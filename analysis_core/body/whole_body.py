"""Linked segments fitted together: where a segment has lost its markers, its neighbours and its joints still hold it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .geometry import apply
from .rigid import nearest_rotation

#: Error of a marker of weight 1 against its segment, metres. Proposed default.
_MARKER_SD_M = 0.005
#: How far a segment may turn from where its neighbours in time have it, radians (1 SD): its long axis may swing, but it hardly
#: twists about it. In the order of its axes: X, Y (along the segment), Z. Proposed defaults.
_TURN_SD_RAD = np.array([0.5, 0.2, 0.5])
#: The root turns freely, and its place is free but for what keeps the equations solvable; radians, 1/m².
_ROOT_TURN_SD_RAD, _ROOT_PRIOR = np.ones(3), 1e-6
_MOST_STEPS, _SMALL_STEP_RAD = 20, 1e-5
#: So many frames are solved at once: enough to be fast, few enough to stay in memory.
_CHUNK = 2000


@dataclass(frozen=True)
class Link:
    """One segment of a tree.

    parent: its place in the tree before it, -1 for the root. joint_in_parent (N, 3), joint_in_own (3,): the joint that it
    hangs on, in the parent's axes and in its own (unused for the root). markers (m, 3): in its own axes; columns: their places
    among the measured points; weights (m,).
    """

    parent: int
    joint_in_parent: Floats
    joint_in_own: Floats
    markers: Floats
    columns: tuple[int, ...]
    weights: Floats


@dataclass(frozen=True)
class TreeFit:
    """Poses of a tree of S segments in N frames.

    rotations (N, S, 3, 3), origins (N, S, 3). residual_m (N, S): weighted root mean square distance of a segment's markers, NaN
    without any. turn_sd_rad (N, S, 3): how uncertain its direction is, 1 SD about each of its own axes. place_sd_m (N, S): how
    uncertain the joint is that it hangs on, 1 SD along the worst axis.
    """

    rotations: Floats
    origins: Floats
    residual_m: Floats
    turn_sd_rad: Floats
    place_sd_m: Floats


def _cross_matrix(vectors: Floats) -> Floats:
    """Matrices (..., 3, 3) that take the cross product with vectors (..., 3)."""
    zero = np.zeros(vectors.shape[:-1])
    x, y, z = np.moveaxis(vectors, -1, 0)
    rows = [np.stack(row, axis=-1) for row in ((zero, -z, y), (z, zero, -x), (-y, x, zero))]
    return np.stack(rows, axis=-2)


def _turned(rotation: Floats, turn: Floats) -> Floats:
    """Rotations (N, 3, 3) turned by rotation vectors (N, 3) in the laboratory (Rodrigues)."""
    angle = np.linalg.norm(turn, axis=1)[:, None, None]
    cross = _cross_matrix(turn)
    step = np.eye(3) + np.sinc(angle / np.pi) * cross + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * cross @ cross
    result: Floats = step @ rotation
    return result


def _neighbours(known: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """Of every frame: the last known one up to it, the next one from it on, and its share (F,) of the way between them."""
    there, frames = np.flatnonzero(known), np.arange(known.size)
    after = there[np.clip(np.searchsorted(there, frames), 0, there.size - 1)]
    before = there[np.clip(np.searchsorted(there, frames, side="right") - 1, 0, there.size - 1)]
    share: Floats = (frames - before) / np.maximum(after - before, 1)
    return before, after, share


def rotations_in_time(rotations: Floats) -> Floats:
    """Rotations (F, 3, 3) with the unknown frames (NaN) between their known neighbours; all NaN stays so."""
    known = np.isfinite(rotations).all(axis=(1, 2))
    if known.all() or not known.any():
        return rotations
    before, after, share = _neighbours(known)
    between = rotations[before] + share[:, None, None] * (rotations[after] - rotations[before])
    return np.where(known[:, None, None], rotations, nearest_rotation(between))


def places_in_time(places: Floats) -> Floats:
    """Places (F, 3) with the unknown frames (NaN) on the line between their known neighbours; all NaN stays so."""
    known = np.isfinite(places).all(axis=1)
    if known.all() or not known.any():
        return places
    before, after, share = _neighbours(known)
    return places[before] + share[:, None] * (places[after] - places[before])


def _places(links: Sequence[Link], rotations: Floats, root: Floats) -> tuple[Floats, Floats]:
    """Origins (N, S, 3) of all segments and the joints (N, S, 3) they hang on; the root hangs on its origin."""
    origins, joints = np.empty_like(rotations[..., 0]), np.empty_like(rotations[..., 0])
    for i, link in enumerate(links):
        if link.parent < 0:
            origins[:, i] = joints[:, i] = root
        else:
            joints[:, i] = origins[:, link.parent] + apply(rotations[:, link.parent], link.joint_in_parent)
            origins[:, i] = joints[:, i] - apply(rotations[:, i], link.joint_in_own)
    return origins, joints


def _own(index: int) -> slice:
    """The columns of a segment's turn among the unknowns; the root's place comes first."""
    return slice(3 + 3 * index, 6 + 3 * index)


def _carried(links: Sequence[Link], joints: Floats, index: int) -> Floats:
    """How (N, 6, U) the joint that a segment hangs on moves, and the segment turns, with all unknowns.

    A segment turns about the joint it hangs on; whatever hangs on it is carried along without turning.
    """
    moves = np.zeros((joints.shape[0], 6, 3 + 3 * len(links)))
    moves[:, :3, :3] = moves[:, 3:, _own(index)] = np.eye(3)
    child = index
    while links[child].parent >= 0:
        carrier = links[child].parent
        moves[:, :3, _own(carrier)] = -_cross_matrix(joints[:, child] - joints[:, carrier])
        child = carrier
    return moves


def _apart(link: Link, measured: Floats, rotation: Floats, origin: Floats) -> tuple[Floats, Floats]:
    """Where (N, m, 3) a segment's pose puts its markers, and how far from there they were measured; NaN where they were not."""
    at = np.einsum("nij,mj->nmi", rotation, link.markers) + origin[:, None]
    return at, measured[:, link.columns] - at


def _held_by_markers(link: Link, arms: Floats, apart: Floats, certain: Floats) -> tuple[Floats, Floats]:
    """How firmly (N, 6, 6) the markers of a link hold its joint and turn, and where they pull (N, 6).

    arms (N, M, 3): from the joint to where the markers would be; apart (N, M, 3): how far they are from there.
    """
    count = arms.shape[0]
    there = np.isfinite(apart).all(axis=2)
    weight = np.where(there, link.weights * certain, 0.0) / _MARKER_SD_M**2
    jacobian = np.zeros((count, len(link.columns), 3, 6))
    jacobian[..., :3] = np.eye(3)
    jacobian[..., 3:] = -_cross_matrix(arms)
    pulled = jacobian * weight[..., None, None]
    flat = (count, -1, 6)
    held = pulled.reshape(flat).swapaxes(1, 2) @ jacobian.reshape(flat)
    return held, np.einsum("nmia,nmi->na", pulled, np.where(there[..., None], apart, 0.0))


def _left_over(link: Link, apart: Floats) -> Floats:
    """Weighted root mean square (N,) of how far (N, M, 3) the markers of a link are from where they would be."""
    squared = (apart**2).sum(axis=2)
    weight = np.isfinite(squared) * link.weights
    total = weight.sum(axis=1)
    mean = (weight * np.nan_to_num(squared)).sum(axis=1) / np.where(total > 0, total, 1.0)
    return np.where(total > 0, np.sqrt(mean), np.nan)


def _fit(links: Sequence[Link], measured: Floats, certain: Floats, start: Floats, root: Floats) -> TreeFit:
    rotations, root = start.copy(), root.copy()
    count, size = rotations.shape[0], 3 * len(links) + 3
    moved = np.zeros((count, size))
    prior = np.zeros((count, size, size))
    prior[:, :3, :3] = _ROOT_PRIOR * np.eye(3)
    for i, link in enumerate(links):
        prior_sd = _ROOT_TURN_SD_RAD if link.parent < 0 else _TURN_SD_RAD
        prior[:, _own(i), _own(i)] = start[:, i] / prior_sd**2 @ start[:, i].swapaxes(1, 2)
    normal = prior
    for _ in range(_MOST_STEPS):
        origins, joints = _places(links, rotations, root)
        normal = prior.copy()
        right = -np.einsum("nab,nb->na", prior, moved)
        for i, link in enumerate(links):
            if link.columns:
                at, apart = _apart(link, measured, rotations[:, i], origins[:, i])
                held, pull = _held_by_markers(link, at - joints[:, i, None], apart, certain[:, link.columns])
                moves = _carried(links, joints, i)
                normal += moves.swapaxes(1, 2) @ held @ moves
                right += np.einsum("nau,na->nu", moves, pull)
        step = np.linalg.solve(normal, right[..., None])[..., 0]
        moved += step
        root += step[:, :3]
        for i in range(len(links)):
            rotations[:, i] = _turned(rotations[:, i], step[:, _own(i)])
        if np.abs(step[:, 3:]).max(initial=0.0) < _SMALL_STEP_RAD:
            break
    origins, joints = _places(links, rotations, root)
    covariance = np.linalg.inv(normal)
    spread, placed = np.empty((count, len(links), 3)), np.empty((count, len(links)))
    residual = np.full((count, len(links)), np.nan)
    for i, link in enumerate(links):
        moves = _carried(links, joints, i)
        both = moves @ covariance @ moves.swapaxes(1, 2)
        own = rotations[:, i].swapaxes(1, 2) @ both[:, 3:, 3:] @ rotations[:, i]
        spread[:, i] = np.sqrt(np.diagonal(own, axis1=1, axis2=2))
        placed[:, i] = np.sqrt(np.linalg.eigvalsh(both[:, :3, :3])[:, -1])
        if link.columns:
            residual[:, i] = _left_over(link, _apart(link, measured, rotations[:, i], origins[:, i])[1])
    return TreeFit(rotations, origins, residual, spread, placed)


def fit_tree(links: Sequence[Link], measured: Floats, error_m: Floats, start: Floats, root: Floats) -> TreeFit:
    """Turn all segments of a tree so that their markers fit best while the joints stay joined, for all frames at once.

    links: parents before children. measured (N, M, 3): points in metres, NaN where missing; error_m (N, M): their expected 1-SD
    errors, which make them count less. start (N, S, 3, 3), root (N, 3): from where to begin, all known. Gauss-Newton on the
    rotations of all segments and the place of the root, with exact derivatives; a segment that nothing holds stays near its start
    (_TURN_SD_RAD), and says so in turn_sd_rad. Source: Lu and O'Connor 1999 (global optimisation); catalogue 1.6.
    """
    certain = _MARKER_SD_M**2 / (_MARKER_SD_M**2 + np.nan_to_num(error_m) ** 2)
    parts = []
    for first in range(0, start.shape[0], _CHUNK):
        some = slice(first, first + _CHUNK)
        held = [replace(link, joint_in_parent=link.joint_in_parent[some]) for link in links]
        parts.append(_fit(held, measured[some], certain[some], start[some], root[some]))
    joined = [np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(TreeFit)]
    return TreeFit(*joined)
