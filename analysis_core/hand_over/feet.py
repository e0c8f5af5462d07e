"""Feet held where they stand: one banded least squares for each foot, all of its contacts at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from ..runs import runs
from ..take import Floats, Kind
from .least_squares import Smooth
from .limits import limits
from .planted import Planted

#: Turns are solved for as small; so often they are made exact.
_ROUNDS = 2


@dataclass(frozen=True)
class HeldFoot:
    """ankle_m (F, 3) and turned (F, 3, 3) of a foot that holds; kept: the stretches held; left: those that stay as danced, each
    with how far it would have moved the foot, metres."""

    ankle_m: Floats
    turned: Floats
    kept: tuple[Planted, ...]
    left: tuple[tuple[Planted, float], ...]


def _skew(vectors: Floats) -> Floats:
    """Matrices (N, 3, 3) of the cross product r × …."""
    x, y, z = vectors.T
    zero = np.zeros_like(x)
    rows = [np.stack(row, axis=1) for row in ((zero, -z, y), (z, zero, -x), (-y, x, zero))]
    return np.stack(rows, axis=1)


def _ramp(start: int, stop: int, frames: int, rate_hz: float) -> Floats:
    """Weights of a stretch: rising over some decades at its ends, full at the ends of the take."""
    limit = limits()["hold"]
    index = np.arange(start, stop)
    from_begin = np.full(len(index), np.inf) if start == 0 else index - start
    to_end = np.full(len(index), np.inf) if stop >= frames else stop - 1 - index
    near = np.minimum(np.minimum(from_begin, to_end) / max(1.0, limit["ramp_s"] * rate_hz), 1.0)
    weights: Floats = limit["weight"] * 10.0 ** (-limit["ramp_decades"] * (1.0 - near))
    return weights


def _ask_held(system: Smooth, planted: Planted, ankle: Floats, turned: Floats, rate_hz: float) -> None:
    """Rows of one held point: displacement + turn × arm = what is missing to its target."""
    frames = np.arange(planted.start, planted.stop)
    arm = turned[frames] @ planted.offset
    missing = planted.target - (ankle[frames] + arm)
    weights = _ramp(planted.start, planted.stop, len(ankle), rate_hz)
    cross = -_skew(arm)
    for axis in range(3):
        rows = np.concatenate([np.tile(np.eye(3)[axis], (len(frames), 1)), cross[:, axis]], axis=1)
        system.ask(frames, rows, missing[:, axis], weights)


def _ask_floor(system: Smooth, below: _Below, ankle: Floats, turned: Floats, rate_hz: float) -> None:
    """Rows that lift a point of the foot to the floor where it lies below; they come and go softly, as holds do."""
    frames = np.arange(below.start, below.stop)
    arm = turned[frames] @ below.offset
    rows = np.concatenate([np.tile([0.0, 0.0, 1.0], (len(frames), 1)), -_skew(arm)[:, 2]], axis=1)
    missing = np.maximum(below.height_m - ankle[frames, 2] - arm[:, 2], 0.0)
    share = limits()["hold"]["floor_share"]
    system.ask(frames, rows, missing, share * _ramp(below.start, below.stop, len(ankle), rate_hz))


@dataclass(frozen=True)
class _Below:
    """A stretch in which a point of the foot lies below its floor."""

    start: int
    stop: int
    offset: Floats
    height_m: float


class _Foot:
    """One foot with its demands; ``solve`` returns the foot that meets them."""

    def __init__(self, ankle: Floats, turned: Floats, rate_hz: float, kind: Kind) -> None:
        self.ankle, self.turned, self.rate_hz, self.kind = ankle, turned, rate_hz, kind
        self.below: list[_Below] = []

    def solve(self, held: list[Planted]) -> tuple[Floats, Floats]:
        limit = limits()["hold"]
        tilt, yaw = limit["tilt_arm_m"][self.kind] ** 2, limit["yaw_arm_m"][self.kind] ** 2
        pull = np.array([1.0, 1.0, 1.0, tilt, tilt, yaw])
        ankle, turned = self.ankle, self.turned
        shift, turn = np.zeros_like(ankle), np.zeros_like(ankle)
        for _ in range(_ROUNDS):
            system = Smooth(len(ankle), pull, limit["smooth_s"] * self.rate_hz)
            # Demands are told against the captured foot, so that the pull and the smoothness are those of the whole correction.
            for planted in held:
                self._ask_round(system, planted, shift, turn)
            for below in self.below:
                _ask_floor(system, below, self.ankle, self.turned, self.rate_hz)
            solution = system.solve()
            shift, turn = solution[:, :3], solution[:, 3:]
            ankle, turned = self.ankle + shift, Rotation.from_rotvec(turn).as_matrix() @ self.turned
        return ankle, turned

    def _ask_round(self, system: Smooth, planted: Planted, shift: Floats, turn: Floats) -> None:
        """The demand of a stretch, its turn made exact around the one found before (Newton on the rotation vector)."""
        stretch = slice(planted.start, planted.stop)
        if not turn[stretch].any():
            _ask_held(system, planted, self.ankle, self.turned, self.rate_hz)
            return
        frames = np.arange(planted.start, planted.stop)
        exact = Rotation.from_rotvec(turn[stretch]).apply(self.turned[stretch] @ planted.offset)
        cross = -_skew(exact)
        linear = np.einsum("fij,fj->fi", cross, turn[stretch])
        missing = planted.target - self.ankle[stretch] - exact + linear
        weights = _ramp(planted.start, planted.stop, len(self.ankle), self.rate_hz)
        for axis in range(3):
            rows = np.concatenate([np.tile(np.eye(3)[axis], (len(frames), 1)), cross[:, axis]], axis=1)
            system.ask(frames, rows, missing[:, axis], weights)


def _moved(planted: Planted, foot: _Foot, ankle: Floats, turned: Floats) -> float:
    """How far a hold moves the held point or the ankle at most, metres."""
    stretch = slice(planted.start, planted.stop)
    before = foot.ankle[stretch] + foot.turned[stretch] @ planted.offset
    after = ankle[stretch] + turned[stretch] @ planted.offset
    at_point = np.linalg.norm(after - before, axis=1).max()
    at_ankle = np.linalg.norm(ankle[stretch] - foot.ankle[stretch], axis=1).max()
    return float(max(at_point, at_ankle))


def _too_far(held: list[Planted], foot: _Foot, ankle: Floats, turned: Floats) -> list[tuple[Planted, float]]:
    """Holds beyond the limit that are the worst within a second around them: dropped together, since they do not touch."""
    furthest = limits()["hold"]["furthest_m"][foot.kind]
    moved = [(planted, _moved(planted, foot, ankle, turned)) for planted in held]
    worst: list[tuple[Planted, float]] = []
    for planted, far in sorted(moved, key=lambda item: -item[1]):
        apart = all(planted.start > other.stop + foot.rate_hz or planted.stop < other.start - foot.rate_hz for other, _ in worst)
        if far > furthest and apart:
            worst.append((planted, far))
    return worst


def hold_foot(
    ankle: Floats, turned: Floats, planted: list[Planted], floor_points: Floats, floor_m: Floats, rate_hz: float, kind: Kind
) -> HeldFoot:
    """A foot whose planted points stand still.

    ankle (F, 3), turned (F, 3, 3): as captured. floor_points (P, 3): points from the ankle at rest that may not sink below
    floor_m (P,). Holds that would move the foot further than the limit are dropped, the worst first, and listed.
    """
    foot = _Foot(ankle, turned, rate_hz, kind)
    held, left = list(planted), []
    new_ankle, new_turned = foot.solve(held)
    while dropped := _too_far(held, foot, new_ankle, new_turned):
        left += dropped
        gone = {id(item) for item, _ in dropped}
        held = [item for item in held if id(item) not in gone]
        new_ankle, new_turned = foot.solve(held)
    furthest = limits()["hold"]["furthest_m"][kind]
    for _ in range(limits()["hold"]["floor_rounds"]):
        heights = (new_ankle[:, None] + np.einsum("fij,pj->fpi", new_turned, floor_points))[:, :, 2]
        # A floor that is wrong by centimetres is left alone: lifting the foot to it would invent a step.
        sunk = (heights < floor_m - limits()["hold"]["sinks_m"]) & (heights > floor_m - furthest)
        if not sunk.any():
            break
        for index in range(len(floor_points)):
            foot.below += [_Below(*run, floor_points[index], float(floor_m[index])) for run in runs(sunk[:, index])]
        new_ankle, new_turned = foot.solve(held)
    return HeldFoot(new_ankle, new_turned, tuple(held), tuple(left))
