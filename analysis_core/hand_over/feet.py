"""Feet held where they stand: one banded least squares for each foot, all of its contacts at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import cross
from ..body.rotations import turned_by
from ..runs import runs
from ..take import Floats, Kind
from .least_squares import Smooth
from .limits import limits
from .planted import Planted

#: Turns are solved for as small; so often they are made exact.
_ROUNDS = 2
#: Directions in which a point is asked for.
_UP = np.array([0.0, 0.0, 1.0])
_LEVEL = (np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]))


@dataclass(frozen=True)
class Sunk:
    """A stretch in which a point of a foot lies so deep that the floor is wrong there, or the foot is: left as it is, and told.

    side: 0 left, 1 right; point: which of the floor points; frames start ≤ t < stop; deep_m: at its deepest.
    """

    side: int
    point: int
    start: int
    stop: int
    deep_m: float


@dataclass(frozen=True)
class HeldFoot:
    """ankle_m (F, 3) and turned (F, 3, 3) of a foot that holds; kept: the stretches held; left: those that stay as danced, each
    with how far it would have moved the foot, metres; lifted (F,): where it is lifted to the floor."""

    ankle_m: Floats
    turned: Floats
    kept: tuple[Planted, ...]
    left: tuple[tuple[Planted, float], ...]
    lifted: NDArray[np.bool_]


def _ramp(start: int, stop: int, frames: int, rate_hz: float) -> Floats:
    """Weights of a stretch: rising over some decades at its ends, full at the ends of the take."""
    limit = limits()["hold"]
    index = np.arange(start, stop)
    from_begin = np.full(len(index), np.inf) if start == 0 else index - start
    to_end = np.full(len(index), np.inf) if stop >= frames else stop - 1 - index
    near = np.minimum(np.minimum(from_begin, to_end) / max(1.0, limit["ramp_s"] * rate_hz), 1.0)
    weights: Floats = limit["weight"] * 10.0 ** (-limit["ramp_decades"] * (1.0 - near))
    return weights


@dataclass(frozen=True)
class _Demands:
    """Points of a foot that are asked for along directions: in frames (N,), which may stand there often, the point at offset
    (N, 3) from the ankle at rest is to lie at target (N, 3) along (N, 3), metres; weights (N,)."""

    frames: NDArray[np.int64]
    offset: Floats
    target: Floats
    along: Floats
    weights: Floats


#: One point over a stretch: frames, offset (3,), target (3,) or (N, 3), along (3,), weights.
_Stretch = tuple[NDArray[np.int64], Floats, Floats, Floats, Floats]


def _together(stretches: Sequence[_Stretch]) -> _Demands:
    """The demands of all stretches in one."""
    nothing: _Stretch = (np.empty(0, dtype=np.int64), np.empty(3), np.empty(3), np.empty(3), np.empty(0))
    every = [nothing, *stretches]
    counts = [len(stretch[0]) for stretch in every]
    offset, along = (np.repeat([stretch[item] for stretch in every], counts, axis=0) for item in (1, 3))
    target = np.concatenate([np.broadcast_to(stretch[2], (len(stretch[0]), 3)) for stretch in every])
    frames, weights = np.concatenate([stretch[0] for stretch in every]), np.concatenate([stretch[4] for stretch in every])
    return _Demands(frames, offset, target, along, weights)


def _held_stretches(planted: Planted, held: list[Planted], frames: int, rate_hz: float) -> list[_Stretch]:
    """What is asked of a held point: along the floor, and up of the point that bears.

    A heel beside a held ball is not asked for along the foot: its length says that already, and asking twice for what no turn
    can mend would roll the foot about.
    """
    weights = _ramp(planted.start, planted.stop, frames, rate_hz)
    where = np.arange(planted.start, planted.stop)
    found: list[_Stretch] = [] if planted.level_only else [(where, planted.bears, planted.target, _UP, weights)]
    alone = np.ones(len(where), dtype=bool)
    for ball in held if planted.point == "heel" else ():
        if ball.point not in ("ball", "pivot"):
            continue
        beside = alone & (where >= ball.start) & (where < ball.stop)
        along = ball.target - planted.target
        across = np.array([-along[1], along[0], 0.0]) / max(float(np.hypot(along[0], along[1])), 1e-9)
        found.append((where[beside], planted.offset, planted.target, across, weights[beside]))
        alone &= ~beside
    return [*found, *((where[alone], planted.offset, planted.target, along, weights[alone]) for along in _LEVEL)]


class _Foot:
    """One foot with its demands; ``solve`` returns the foot that meets them.

    Demands are told against the captured foot, so that the pull and the smoothness are those of the whole correction; each is
    made exact around the correction found before (Newton on the rotation vector).
    """

    def __init__(self, ankle: Floats, turned: Floats, floor_points: Floats, floor_m: Floats, rate_hz: float, kind: Kind) -> None:
        self.captured_ankle, self.captured_turned, self.rate_hz, self.kind = ankle, turned, rate_hz, kind
        self.ankle, self.turned = ankle, turned
        self.floor_points, self.floor_m = floor_points, floor_m
        self.lifted = np.zeros(floor_m.shape, dtype=bool)
        self.pushed = np.zeros_like(floor_m)
        self._turn = np.zeros_like(ankle)

    def heights(self) -> Floats:
        """Heights (F, P) of the floor points as the foot now lies."""
        heights: Floats = self.ankle[:, None, 2] + np.einsum("fj,pj->fp", self.turned[:, 2], self.floor_points)
        return heights

    def solve(self, held: list[Planted], rounds: int) -> None:
        """Find the foot that meets its demands, from where it lies now."""
        limit, frames = limits()["hold"], len(self.ankle)
        tilt, yaw = limit["tilt_arm_m"][self.kind] ** 2, limit["yaw_arm_m"][self.kind] ** 2
        pull = np.array([1.0, 1.0, 1.0, tilt, tilt, yaw])
        stretches = [stretch for planted in held for stretch in _held_stretches(planted, held, frames, self.rate_hz)]
        holds, floor = _together(stretches), self._floor()
        for _ in range(rounds):
            system = Smooth(frames, pull, limit["smooth_s"] * self.rate_hz)
            system.ask(holds.frames, *self._rows(holds), holds.weights)
            rows, missing = self._rows(floor)
            system.ask(floor.frames, rows, missing, floor.weights)
            solution = system.solve()
            self._turn = solution[:, 3:]
            self.ankle = self.captured_ankle + solution[:, :3]
            self.turned = turned_by(self._turn) @ self.captured_turned
            # Point after point, as the demands of the floor stand.
            self.pushed.T[self.lifted.T] = missing - (rows * solution[floor.frames]).sum(axis=1)

    def _floor(self) -> _Demands:
        """What lifts every floor point to where it rests, one point after the other."""
        limit = limits()["hold"]
        stretches: list[_Stretch] = []
        for point, offset in enumerate(self.floor_points):
            frames = np.flatnonzero(self.lifted[:, point])
            target = np.zeros((len(frames), 3))
            target[:, 2] = self.floor_m[frames, point] - limit["rests_m"]
            stretches.append((frames, offset, target, _UP, np.full(len(frames), limit["floor_share"] * limit["weight"])))
        return _together(stretches)

    def _rows(self, demands: _Demands) -> tuple[Floats, Floats]:
        """Rows (N, 6) and values (N,): displacement + turn × arm = what is missing of a point of the foot to its target."""
        frames = demands.frames
        arm = np.einsum("nij,nj->ni", self.turned[frames], demands.offset)
        missing = demands.target - self.captured_ankle[frames] - arm
        rows = np.concatenate([demands.along, cross(arm, demands.along)], axis=1)
        return rows, (missing * demands.along).sum(axis=1) + (rows[:, 3:] * self._turn[frames]).sum(axis=1)


def _moved(planted: Planted, foot: _Foot) -> float:
    """How far a hold moves the held point or the ankle at most, metres."""
    stretch = slice(planted.start, planted.stop)
    shift = foot.ankle[stretch] - foot.captured_ankle[stretch]
    at_point = shift + (foot.turned[stretch] - foot.captured_turned[stretch]) @ planted.offset
    return float(max(np.linalg.norm(at_point, axis=1).max(), np.linalg.norm(shift, axis=1).max()))


def _too_far(held: list[Planted], foot: _Foot) -> list[tuple[Planted, float]]:
    """Holds beyond the limit that are the worst within a second around them: dropped together, since they do not touch."""
    furthest = limits()["hold"]["furthest_m"][foot.kind]
    moved = [(planted, _moved(planted, foot)) for planted in held]
    worst: list[tuple[Planted, float]] = []
    for planted, far in sorted(moved, key=lambda item: -item[1]):
        apart = all(planted.start > other.stop + foot.rate_hz or planted.stop < other.start - foot.rate_hz for other, _ in worst)
        if far > furthest and apart:
            worst.append((planted, far))
    return worst


def _standing_part(planted: Planted, far: float, foot: _Foot) -> tuple[list[Planted], list[tuple[Planted, float]]]:
    """Of a hold that is too far the part over which its foot stands nearly all the time, and the rest, which is left as danced.

    far: how far the whole moves the foot. A foot that stands for seconds and slides only at the end stands all the same.
    """
    limit, stretch = limits()["hold"], slice(planted.start, planted.stop)
    path = (foot.captured_ankle[stretch] + foot.captured_turned[stretch] @ planted.offset)[:, :2]
    beside = np.linalg.norm(path - np.median(path, axis=0), axis=1)
    near = runs(beside <= limit["stands_m"][foot.kind])
    first, last = max(near, key=lambda run: run[1] - run[0], default=(0, 0))
    if not limit["standing_share"] * len(path) <= last - first < len(path):
        return [], [(planted, far)]
    target = np.append(np.median(path[first:last], axis=0), planted.target[2])
    start, stop = planted.start + first, planted.start + last
    rest = ((planted.start, start, beside[:first]), (stop, planted.stop, beside[last:]))
    left = [(replace(planted, start=begin, stop=end), float(away.max())) for begin, end, away in rest if end > begin]
    return [replace(planted, start=start, stop=stop, target=target)], left


def too_deep(heights_m: Floats, floor_m: Floats, side: int) -> list[Sunk]:
    """Stretches in which floor points of a foot, heights_m (F, P), lie deeper below floor_m (F, P) than noise can say."""
    deep = floor_m - heights_m
    limit = limits()["hold"]
    return [
        Sunk(side, point, start, stop, float(deep[start:stop, point].max()))
        for point in range(deep.shape[1])
        for start, stop in runs(deep[:, point] > limit["sinks_m"])
        if deep[start:stop, point].max() > limit["deepest_m"]
    ]


def _lift(foot: _Foot, held: list[Planted], left: NDArray[np.bool_]) -> None:
    """Lift what lies below its floor, but not where it is left (F, P); a point that would rise by itself is let go again.

    What is held lies on the floor already, as near as the other holds of the foot allow: lifting it too would turn the foot about
    its own held point.
    """
    limit = limits()["hold"]
    free = ~left
    for planted in (item for item in held if not item.level_only):
        full = _ramp(planted.start, planted.stop, len(foot.ankle), foot.rate_hz) >= limit["weight"]
        bears = np.all(foot.floor_points == planted.bears, axis=1)
        free[planted.start : planted.stop] &= ~(full[:, None] & bears)
    for _ in range(limit["floor_rounds"]):
        deep = foot.floor_m - foot.heights()
        sunk = free & (deep > limit["sinks_m"])
        if not sunk.any():
            break
        foot.lifted = sunk | (foot.lifted & (foot.pushed > 0.0))
        foot.solve(held, 1)


def hold_foot(
    ankle: Floats,
    turned: Floats,
    planted: list[Planted],
    floor_points: Floats,
    floor_m: Floats,
    sunk: list[Sunk],
    rate_hz: float,
    kind: Kind,
) -> HeldFoot:
    """One foot with its planted points held.

    ankle (F, 3), turned (F, 3, 3): as captured. floor_points (P, 3): points from the ankle at rest that may not sink below
    floor_m (F, P), but where they are sunk, which stays. Holds that would move the foot further than the limit, the worst first,
    are asked along the floor only, where a foot is seen to slide; of what is too far then, too, the part over which the foot
    stands nearly all the time stays; the rest is dropped and listed.
    """
    foot = _Foot(ankle, turned, floor_points, floor_m, rate_hz, kind)
    held, dropped = list(planted), []
    foot.solve(held, _ROUNDS)
    while worst := _too_far(held, foot):
        gone = {id(item) for item, _ in worst}
        again = [replace(item, level_only=True) for item, _ in worst if not item.level_only]
        for stretch, far in worst:
            if stretch.level_only:
                part, left_as_danced = _standing_part(stretch, far, foot)
                again += part
                dropped += left_as_danced
        held = [*(item for item in held if id(item) not in gone), *again]
        foot.solve(held, 1)
    left = np.zeros(floor_m.shape, dtype=bool)
    for item in sunk:
        left[item.start : item.stop, item.point] = True
    _lift(foot, held, left)
    return HeldFoot(foot.ankle, foot.turned, tuple(held), tuple(dropped), foot.lifted.any(axis=1))
