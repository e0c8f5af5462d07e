"""When which point of a foot is planted: a contact says that a foot is near the ground, not that it stands still."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..body.movement import FOOT_POINTS, SIDES, Movement
from ..phrase.phase import Contact
from ..phrase.signals import derivative
from ..runs import runs
from ..take import Floats
from .limits import limits

Mask = NDArray[np.bool_]
Point = Literal["ball", "toe", "heel", "pivot"]

_HEEL, _INNER, _OUTER, _TOE = (FOOT_POINTS.index(name) for name in FOOT_POINTS)


@dataclass(frozen=True)
class Planted:
    """A stretch in which a point of a foot stands: frames start ≤ t < stop; offset (3,) of the point from the ankle in the foot's
    own axes at rest; target (3,) where it is held, metres. bears (3,): offset of the point whose height is held: of a pivot it is
    the ball, since a point beside it lies higher or lower as soon as the heel rises. level_only: held along the floor, its height
    as danced."""

    side: int
    point: Point
    start: int
    stop: int
    offset: Floats
    target: Floats
    bears: Floats
    level_only: bool = False


def _mask(contacts: tuple[Contact, ...], side: int, part: str, rate_hz: float, frames: int) -> Mask:
    mask = np.zeros(frames, dtype=bool)
    for contact in contacts:
        if contact.foot == SIDES[side] and contact.part == part:
            mask[max(0, round(contact.start_s * rate_hz)) : round(contact.end_s * rate_hz) + 1] = True
    return mask


def within(planted: Sequence[Planted], first: int, share: float, frames: int) -> tuple[Planted, ...]:
    """Stretches in frames of a cut that begins at frame ``first`` and has ``share`` times the rate; what lies outside is left."""
    found = []
    for item in planted:
        start, stop = (max(0.0, (frame - first) * share) for frame in (item.start, item.stop - 1))
        begin, end = int(np.ceil(start - 1e-9)), min(frames, int(np.floor(stop + 1e-9)) + 1)
        if end - begin >= 2:
            found.append(replace(item, start=begin, stop=end))
    return tuple(found)


def feet_on_floor(contacts: tuple[Contact, ...], rate_hz: float, frames: int) -> Mask:
    """Whether (F, 2) the left and the right foot is in contact."""
    return np.stack([_mask(contacts, side, "foot", rate_hz, frames) for side in range(2)], axis=1)


def speed_of(path: Floats, rate_hz: float) -> Floats:
    """Speed (F,) of a path (F, 2 or 3), m/s, over the window in which a point counts as planted."""
    window = max(limits()["planted"]["speed_window_s"], 3.0 / rate_hz)
    speed: Floats = np.linalg.norm(derivative(path, rate_hz, 1, window), axis=1)
    return speed


def _standing(mask: Mask, path: Floats, rate_hz: float) -> list[tuple[int, int]]:
    """Stretches of a mask (F,) in which a path (F, 3) stands still, both ends trimmed to where it has come to rest."""
    limit = limits()["planted"]
    speed = speed_of(path, rate_hz)
    found = []
    for start, stop in runs(mask & (speed <= limit["fastest_m_s"])):
        still = np.flatnonzero(speed[start:stop] <= limit["settled_m_s"])
        if not still.size:
            continue
        first, last = start + int(still[0]), start + int(still[-1]) + 1
        if last - first >= max(2, limit["shortest_s"] * rate_hz):
            found.append((first, last))
    return found


def _pivot(turned: Floats, ankle: Floats, ball: Floats) -> Floats:
    """The point (3,) of the foot, from the ankle in the foot's axes, that moves least while the foot turns.

    Least squares over p + R c = w with c kept near the ball by a ridge; turned (N, 3, 3), ankle (N, 3). After Lyard and
    Magnenat-Thalmann 2007.
    """
    frames = len(ankle)
    rows = np.concatenate([turned[:, :2], -np.broadcast_to(np.eye(2, 3), (frames, 2, 3))], axis=2).reshape(-1, 6)
    keep = limits()["planted"]["pivot_ridge_m"] * np.sqrt(frames)
    ridge = np.concatenate([keep * np.eye(3), np.zeros((3, 3))], axis=1)
    level = np.array([[0.0, 0.0, 0.0, 0.0, 0.0, 1.0]])
    left = np.concatenate([rows, ridge, level])
    right = np.concatenate([-ankle[:, :2].ravel(), keep * ball, [0.0]])
    solution, *_ = np.linalg.lstsq(left, right, rcond=None)
    # Height is no matter of the pivot: it stays the ball's.
    return np.array([solution[0], solution[1], ball[2]])


def ball_of(points: Floats) -> Floats:
    """Middle of the ball (…, 3) of FOOT_POINTS (…, 4, 3)."""
    middle: Floats = 0.5 * (points[..., _INNER, :] + points[..., _OUTER, :])
    return middle


def heights_of(movement: Movement, side: int, which: Point) -> Floats:
    """How far (F,) the ball, heel or toe of a foot is above its own flat height, metres."""
    heights = movement.foot_heights_m[:, side]
    if which in ("ball", "pivot"):
        middle: Floats = 0.5 * (heights[:, _INNER] + heights[:, _OUTER])
        return middle
    return heights[:, _HEEL if which == "heel" else _TOE]


def flat_height(movement: Movement, ankles: Floats, turned: Floats, side: int, which: Point, offset: Floats) -> float:
    """Where a point of the skeleton's own foot lies when the foot is flat, metres: what is held there agrees with the dancer.

    The median of the point's height without what the recording says it is above flat; the quarter of all frames counts in which
    the foot is nearest to its ground. On stairs the lowest quarter would be the last step, and the foot on its way there.
    """
    flat = heights_of(movement, side, which)
    near = np.abs(flat) <= np.nanquantile(np.abs(flat), 0.25)
    path = ankles[near, side] + turned[near, side] @ offset
    return float(np.nanmedian(path[:, 2] - flat[near] - movement.ground_m[near, side]))


def _turns(yaw: Floats, rate_hz: float) -> bool:
    limit = limits()["planted"]
    span = float(np.degrees(yaw.max() - yaw.min()))
    fastest = float(np.degrees(np.abs(derivative(yaw, rate_hz, 1, 0.05))).max(initial=0.0))
    return bool(span >= limit["pivot_deg"] and fastest > limit["pivot_deg_s"])


def _point_of(
    name: Point, offset: Floats, turned: Floats, ankle: Floats, yaw: Floats, start: int, stop: int, rate_hz: float
) -> tuple[Point, Floats]:
    if name == "ball" and _turns(yaw[start:stop], rate_hz):
        return "pivot", _pivot(turned[start:stop], ankle[start:stop], offset)
    return name, offset


def find_planted(
    movement: Movement, contacts: tuple[Contact, ...], turned: Floats, ankles: Floats, feet_at_rest: Floats
) -> list[Planted]:
    """All stretches in which ball, heel or toe tip of a foot stands.

    turned (F, 2, 3, 3): rotation of each foot away from rest; ankles (F, 2, 3); feet_at_rest (2, 4, 3): FOOT_POINTS from the
    ankle at rest. Ball down: the ball is held; toe tip where only the forefoot touches; heel where the heel does, so that a
    flat foot keeps its direction and a foot on relevé may turn and tip. Frames that are not known are never planted.
    """
    limit, rate = limits()["planted"], movement.rate_hz
    found: list[Planted] = []
    for side in range(2):
        on = [_mask(contacts, side, part, rate, movement.frames) for part in ("foot", "heel", "toe")]
        ball_height = heights_of(movement, side, "ball")
        down_m = limit["down_m"][movement.kind]
        ball_down = on[0] & (ball_height < down_m)
        heel_down = on[1] & (heights_of(movement, side, "heel") < down_m)
        masks: dict[Point, Mask] = {"ball": ball_down, "toe": on[2] & ~ball_down & (ball_height > 0), "heel": heel_down}
        rest = feet_at_rest[side]
        offsets: dict[Point, Floats] = {"ball": ball_of(rest), "toe": rest[_TOE], "heel": rest[_HEEL]}
        forward = turned[:, side] @ np.array([0.0, -1.0, 0.0])
        yaw = np.unwrap(np.arctan2(forward[:, 1], forward[:, 0]))
        for name, mask in masks.items():
            path = ankles[:, side] + turned[:, side] @ offsets[name]
            flat = flat_height(movement, ankles, turned, side, name, offsets[name])
            for start, stop in _standing(mask, path, rate):
                point, offset = _point_of(name, offsets[name], turned[:, side], ankles[:, side], yaw, start, stop, rate)
                stood = ankles[start:stop, side] + turned[start:stop, side] @ offset
                height = flat + float(np.nanmedian(movement.ground_m[start:stop, side]))
                target = np.append(np.median(stood[:, :2], axis=0), height)
                found.append(Planted(side, point, start, stop, offset, target, offsets[name]))
    return _agreed(found)


def _agreed(found: list[Planted]) -> list[Planted]:
    """The same stretches, every heel as far from the ball that is held with it as the foot is long: no foot can meet both else.

    The median places of a heel and a ball that wandered are nearer or further; the ball keeps its place.
    """
    agreed = []
    for item in found:
        beside = [
            (min(other.stop, item.stop) - max(other.start, item.start), other)
            for other in found
            if item.point == "heel" and other.point in ("ball", "pivot") and other.side == item.side
        ]
        shared, ball = max(beside, key=lambda pair: pair[0], default=(0, item))
        if shared > 0:
            apart = item.target - ball.target
            level = float(np.linalg.norm(apart[:2]))
            length = float(np.linalg.norm(item.offset - ball.offset))
            far = np.sqrt(max(length**2 - apart[2] ** 2, 0.0))
            if level > 0.0:
                target = np.append(ball.target[:2] + apart[:2] * (far / level), item.target[2])
                agreed.append(replace(item, target=target))
                continue
        agreed.append(item)
    return agreed
