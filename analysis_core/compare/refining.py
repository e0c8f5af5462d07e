"""The time of B for every time of A made exact: where the poses fit best, without sudden changes of speed."""

from __future__ import annotations

import numpy as np

from ..take import Floats
from .poses import FACING, POSES_HZ, Poses, at_times

#: How far a part may be away, leg lengths, before it counts less: it is danced differently. Proposed default.
_DIFFERENT = 0.05
#: Speeds of the pose below this tell nothing of the time, leg lengths a second for all parts (root of the sum of squares): so
#: fast move parts whose places are known to a millimetre or two. Proposed default.
STILL = 0.10
#: Change of speed against A that is expected from one sample to the next, as a share, and error of a part, leg lengths. Their
#: ratio says how smooth the time is. Proposed defaults, tried on simulated pairs with a known course of time.
_CHANGE, _PART_ERROR = 0.1, 0.01
#: Error of a landmark where its own kinds of movement place it, seconds. Proposed default.
_LANDMARK_S = 0.08
#: How far from their approximate times the two ends may lie, seconds: where a dancer stands still, nothing else holds them.
_END_S = 0.1
#: B may go at most so many times faster, or slower, than A.
_STEEPEST = 8.0
_ROUNDS, _FURTHEST_S = 12, 0.1


def _with_heading(poses: Poses, turned: float = 0.0) -> Floats:
    """Parts (K, Q + 1, 3) with the facing as one more part."""
    heading = poses.heading - turned
    facing = FACING * np.stack([np.cos(heading), np.sin(heading), np.zeros_like(heading)], axis=1)
    return np.concatenate([poses.parts, facing[:, None]], axis=1)


def facing_between(a: Poses, b: Poses, a_s: Floats, b_s: Floats) -> float:
    """How much further left B faces than A over what answers to each other, radians."""
    apart = at_times(b.heading, b_s) - at_times(a.heading, a_s)
    return float(np.arctan2(np.sin(apart).mean(), np.cos(apart).mean()))


def refine(a: Poses, b: Poses, a_s: Floats, b_s: Floats, turned: float, landmarks: tuple[Floats, Floats]) -> Floats:
    """Times of B (K,) for evenly spaced times of A (K,), from approximate ones.

    turned: how much further left B faces, radians. landmarks: times of A and of B that are known to about a tenth of a second.
    Minimises the robust squared distance of the poses together with the squared change of speed by Gauss and Newton; where the
    body stands still, time goes on evenly.
    """
    if len(a_s) < 5:
        return b_s
    want, have = at_times(_with_heading(a), a_s), _with_heading(b, turned)
    known_a = np.concatenate([a.known, np.ones((len(a.known), 1), dtype=bool)], axis=1)
    known_b = np.concatenate([b.known, np.ones((len(b.known), 1), dtype=bool)], axis=1)
    weight_a, weight_b = at_times(known_a.astype(np.float64), a_s), known_b.astype(np.float64)
    speed, speed_a = (
        np.gradient(have, 1.0 / POSES_HZ, axis=0),
        at_times(np.gradient(_with_heading(a), 1.0 / POSES_HZ, axis=0), a_s),
    )
    step_s = float(a_s[1] - a_s[0])
    smooth = 1.0 / (_CHANGE * step_s) ** 2
    place = np.clip(np.searchsorted(a_s, landmarks[0]), 0, len(a_s) - 1)
    warped = b_s.copy()
    for _ in range(_ROUNDS):
        apart, along = want - at_times(have, warped), at_times(speed, warped)
        weight = weight_a * at_times(weight_b, warped) / (1.0 + (apart**2).sum(axis=2) / _DIFFERENT**2) ** 2
        weight = weight * _agreement(speed_a, along)
        pull = (weight * (apart * along).sum(axis=2)).sum(axis=1)
        hold = (weight * (along**2).sum(axis=2)).sum(axis=1)
        moving = hold**2 / (hold**2 + STILL**4) / _PART_ERROR**2
        pull, hold = pull * moving, hold * moving
        np.add.at(pull, place, (landmarks[1] - warped[place]) / _LANDMARK_S**2)
        np.add.at(hold, place, 1.0 / _LANDMARK_S**2)
        pull[[0, -1]] += (b_s - warped)[[0, -1]] / _END_S**2
        hold[[0, -1]] += 1.0 / _END_S**2
        change = np.clip(_solved(hold, pull, warped, smooth), -_FURTHEST_S, _FURTHEST_S)
        warped = _rising(warped + change, step_s, float(b.time_s[-1]))
        if np.abs(change).max() < 1e-4:
            break
    return warped


def _agreement(one: Floats, other: Floats) -> Floats:
    """How far velocities (K, Q, 3) are the same movement (K, Q): 1 where they are equal, 0 where only one part moves."""
    both = 2.0 * (one * other).sum(axis=2) / ((one**2).sum(axis=2) + (other**2).sum(axis=2) + 1e-9)
    return np.asarray(np.clip(both, 0.0, 1.0))


def _solved(hold: Floats, pull: Floats, warped: Floats, smooth: float) -> Floats:
    """The change of times that balances the pull of the poses and an even speed: one banded system."""
    from scipy.linalg import solveh_banded  # loaded when takes are compared

    count = len(hold)
    bands = np.zeros((3, count))
    bands[0, 2:] = smooth
    bands[1, 1:] = -4.0 * smooth
    bands[1, [1, -1]] = -2.0 * smooth
    bands[2] = 6.0 * smooth
    bands[2, [0, -1]] = smooth
    bands[2, [1, -2]] = 5.0 * smooth
    bands[2] += hold + 1e-9 * smooth
    bend = warped[:-2] - 2 * warped[1:-1] + warped[2:]
    slack = np.zeros(count)
    slack[:-2] += bend
    slack[1:-1] -= 2 * bend
    slack[2:] += bend
    return np.asarray(solveh_banded(bands, pull - smooth * slack))


def _rising(times: Floats, step_s: float, last: float) -> Floats:
    """Times that rise everywhere, by at least the smallest speed, inside the take."""
    least = np.arange(len(times)) * step_s / _STEEPEST
    risen = np.maximum.accumulate(times - least) + least
    return np.asarray(np.clip(risen, 0.0, last))
