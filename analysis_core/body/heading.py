"""Where a segment of the trunk faces, and how far it has turned: also through moments in which it has no heading."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from ..paths import side_by_side
from ..take import Floats
from .anatomy import LEG_JOINTS, SIDE_SUFFIXES
from .geometry import UP, dot, horizontal, unit

#: Up to the first tilt from upright the forward axis alone tells the heading; between the two the turn about the vertical takes
#: over, which a tip straight forward or back does not change; beyond the second (penché, cambré, floor work) there is no heading:
#: a roll on the floor would read as a turn. Proposed defaults.
_PLAIN_TILT, _LARGEST_TILT = np.radians(45.0), np.radians(75.0)
#: Joints that tell how the whole of trunk and legs turns; fewer than so many in two frames tell nothing.
_LIMBS = (*LEG_JOINTS, "shoulder")
_WHOLE_BODY = ("lumbar", "neck", "head", *(f"{name}{side}" for name in _LIMBS for side in SIDE_SUFFIXES))
_LEAST_JOINTS = 5
#: What trunk and legs turned through an unknown stretch has to agree with the headings before and after it within this.
_AGREE_RAD = np.radians(90.0)
#: The rate on either side of a stretch in which nothing is seen is the mean over so many frames.
_BESIDE_FRAMES = 5


def facing(rotation: Floats) -> Floats:
    """Horizontal unit vectors (F, 3) in which segments (F, 3, 3) of the trunk face; NaN where tilt leaves them no heading."""
    forward, upright, right = rotation[..., :, 0], rotation[..., :, 1], rotation[..., :, 2]
    # The turn about the vertical that is left when the tilt is taken off by the shortest way.
    turned = horizontal(forward) + horizontal(np.cross(UP, right))
    near, far = np.cos(_PLAIN_TILT), np.cos(_LARGEST_TILT)
    plain = np.clip((np.linalg.norm(horizontal(forward), axis=-1) - far) / (near - far), 0.0, 1.0)[..., None]
    ahead = unit(plain * unit(horizontal(forward)) + (1 - plain) * unit(turned))
    known = (dot(upright, UP) > far)[..., None]
    return np.where(known, ahead, np.nan)


def whole_body_steps(joints: Mapping[str, Floats]) -> Floats:
    """How far (F - 1,) trunk and legs together turn about the vertical from each frame to the next, radians, + to the left.

    joints: places (F, 3) by name of JOINTS. The turn that carries the joints, seen from above and about their middle, best onto
    where they are next (Kabsch in the plane); NaN where too few joints are known.
    """
    points = side_by_side(joints[name][:, :2] for name in _WHOLE_BODY)
    both = np.isfinite(points[:-1]).all(axis=2) & np.isfinite(points[1:]).all(axis=2)
    count = both.sum(axis=1)
    before, after = (np.where(both[..., None], part, 0.0) for part in (points[:-1], points[1:]))
    share = np.maximum(count, 1)[:, None, None]
    before, after = (np.where(both[..., None], part - part.sum(axis=1, keepdims=True) / share, 0.0) for part in (before, after))
    x_before, y_before, x_after, y_after = before[..., 0], before[..., 1], after[..., 0], after[..., 1]
    across = (x_before * y_after - y_before * x_after).sum(axis=1)
    return np.where(count >= _LEAST_JOINTS, np.arctan2(across, (before * after).sum(axis=(1, 2))), np.nan)


def _wrapped(angle: float) -> float:
    return float(np.angle(np.exp(1j * angle)))


def _rate_beside(yaw: Floats, first: int, last: int) -> float:
    """Mean step of unwrapped headings from one frame to another, both included; 0 when there is none."""
    steps = np.diff(yaw[max(first, 0) : last + 1])
    steps = steps[np.isfinite(steps)]
    return float(steps.mean()) if steps.size else 0.0


def _gaps(known: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The last known frame before and the first one behind every inner gap."""
    there = np.flatnonzero(known)
    wide = np.diff(there) > 1
    return list(zip(there[:-1][wide].tolist(), there[1:][wide].tolist(), strict=True))


def _beside(yaw: Floats, before: int, after: int) -> tuple[float, float]:
    """Steps a frame before and behind a gap."""
    return _rate_beside(yaw, before - _BESIDE_FRAMES, before), _rate_beside(yaw, after, after + _BESIDE_FRAMES)


def followed(ahead: Floats, steps: Floats, seen: NDArray[np.bool_]) -> Floats:
    """Headings (F,) of directions (F, 3), unwrapped, radians, + to the left, followed through stretches without a heading.

    steps (F - 1,): what the whole body turned between frames; seen (F,): where the segment itself is known. Behind a stretch
    without a heading it goes on by as many turns as the whole body made, or where that is not known by as many as the rates on
    both sides would have made (``count_is_known`` says whether that can be relied on). Within the stretch it goes with the whole
    body where that tells all of it, agrees with both sides and the segment is seen, only too tilted; else it is NaN.
    """
    yaw = np.arctan2(ahead[:, 1], ahead[:, 0])
    known = np.isfinite(yaw)
    yaw[known] = np.unwrap(yaw[known])
    result = yaw.copy()
    for before, after in _gaps(known):
        gone = np.cumsum(steps[before:after])
        path = np.concatenate([[0.0], gone])
        change = yaw[after] - yaw[before]
        told = bool(np.isfinite(path[-1]))
        expected = float(path[-1]) if told else 0.5 * sum(_beside(yaw, before, after)) * (after - before)
        off = _wrapped(change - expected)
        result[after:] += expected + off - change
        if told and abs(off) < _AGREE_RAD:
            through = result[before] + path + off * np.linspace(0.0, 1.0, path.size)
            result[before:after] = np.where(seen[before:after], through[:-1], result[before:after])
    return result


def count_is_known(yaw: Floats, steps: Floats) -> NDArray[np.bool_]:
    """For unwrapped headings (F,) with gaps: False (F,) in every gap in which a turn may have gone uncounted.

    That is one in which, by the faster of the rates on both sides, half a turn or more may have been made, and which the whole
    body's turning (steps, F - 1) does not tell, or tells otherwise than the headings on both sides. Gaps at the start and the end
    of a take hide no turn that is counted.
    """
    result = np.ones(yaw.size, dtype=bool)
    for before, after in _gaps(np.isfinite(yaw)):
        off = float(steps[before:after].sum()) - (yaw[after] - yaw[before])
        # Not a number is no agreement.
        if not abs(off) < _AGREE_RAD and max(abs(rate) for rate in _beside(yaw, before, after)) * (after - before) >= np.pi:
            result[before + 1 : after] = False
    return result
