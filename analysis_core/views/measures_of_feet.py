"""What to draw for feet and knees over the floor."""

from __future__ import annotations

import numpy as np

from ..body.geometry import UP
from ..body.movement import SIDES
from ..take import Floats
from .drawing import Area, Line
from .drawn_numbers import angle, length
from .moment import Moment, sweep_between, turned
from .seen import ABOVE_FLOOR_M, Seen, Shapes, on_floor

#: Lengths of drawn directions and of arcs, metres: as long as a foot. Proposed defaults.
_FOOT_M, _FOOT_ARC_M = 0.34, 0.26


def _out(side: str) -> float:
    """Sign of a turn outward about the vertical: to the left for the left side."""
    return 1.0 if side == "left" else -1.0


def _from_pelvis(direction: Floats, then: Moment, now: Moment) -> Floats:
    """A direction of an earlier moment, carried with the pelvis to the present one."""
    return turned(direction, UP, sweep_between(then.forward, now.forward, UP))


def foot_turnout_lost(seen: Seen) -> Shapes:
    """Where the foot points, against where it pointed from the pelvis before."""
    now, before = seen.now, seen.before
    measured = now.foot_direction(seen.side)
    reference = None
    if seen.told is not None and seen.told.against is not None and seen.finding.measure == "loss":
        reference = _near(_from_pelvis(before.foot_direction(seen.side), before, now), measured, seen, -_out(seen.side))
    height = max(ABOVE_FLOOR_M, float(now.foot(seen.side, "ball")[2]) - 0.02)
    centre = on_floor(now.foot(seen.side, "heel"), height)
    per_degree = _out(seen.side) * (1.0 if seen.finding.measure == "skid" else -1.0)
    return angle(seen, centre, measured, UP, per_degree=per_degree, long_m=_FOOT_M, arc_m=_FOOT_ARC_M, reference=reference)


def _near(reference: Floats, measured: Floats, seen: Seen, per_degree: float) -> Floats | None:
    """The reference of the body itself where it tells the finding's number to a degree; else the number tells it."""
    apart = np.degrees(sweep_between(reference, measured, UP)) * per_degree
    return reference if abs(apart - seen.value) < 1.0 else None


def foot_turned_on_floor(seen: Seen) -> Shapes:
    """Where the foot points, against where it pointed on the floor before."""
    now, before = seen.now, seen.before
    measured, earlier = now.foot_direction(seen.side), before.foot_direction(seen.side)
    inward = -_out(seen.side)
    sign = inward if seen.finding.fault == "foot-slips-parallel" else 1.0 if sweep_between(earlier, measured, UP) > 0 else -1.0
    centre = on_floor(now.foot(seen.side, "heel"))
    reference = _near(earlier, measured, seen, sign)
    return angle(seen, centre, measured, UP, per_degree=sign, long_m=_FOOT_M, arc_m=_FOOT_ARC_M, reference=reference)


def knee_direction_lost(seen: Seen) -> Shapes:
    """Where the bent knee points, against its widest, both from the line hip to ankle."""
    now, before = seen.now, seen.before
    measured = now.knee_direction(seen.side)
    reference = _near(_from_pelvis(before.knee_direction(seen.side), before, now), measured, seen, -_out(seen.side))
    hip = now.joint("hip", seen.side)
    knee = now.joint("knee", seen.side)
    centre = np.array([hip[0], hip[1], knee[2]])
    return angle(seen, centre, measured, UP, per_degree=-_out(seen.side), reference=reference)


def _foot_plane(now: Moment, side: str) -> tuple[Floats, Floats, Area]:
    """The upright plane through the ankle along the foot: its place, its direction, and a piece of it."""
    ankle, direction = now.joint("ankle", side), now.foot_direction(side)
    low, high = -0.06, 0.34
    top = float(now.joint("knee", side)[2]) + 0.08
    corners = [ankle + along * direction for along in (low, high)]
    floor = [np.array([*corner[:2], ABOVE_FLOOR_M]) for corner in corners]
    above = [np.array([*corner[:2], top]) for corner in corners]
    return ankle, direction, Area(np.stack([floor[0], floor[1], above[1], above[0]]), "aid")


def knee_against_foot(seen: Seen) -> Shapes:
    """Where the foot points against where the knee points, on the floor from the ankle; and the upright plane of the foot."""
    now, side = seen.now, seen.side
    ankle, direction, plane = _foot_plane(now, side)
    knee = now.knee_direction(side)
    # Knee inside the foot: the knee's direction is turned inward from the foot's.
    shapes, reading, place = angle(
        seen, on_floor(ankle), knee, UP, per_degree=-_out(side), long_m=_FOOT_M, arc_m=_FOOT_ARC_M,
        reference=_near(direction, knee, seen, -_out(side)),
    )  # fmt: skip
    upper = now.joint("knee", side)
    return [*shapes, plane, Line(ankle, upper, "aid")], reading, place


def knee_from_plane(seen: Seen) -> Shapes:
    """How far the knee is from the upright plane of the foot."""
    now, side = seen.now, seen.side
    ankle, direction, plane = _foot_plane(now, side)
    knee = now.joint("knee", side)
    inward = np.cross(UP, direction) * _out(side) * -1.0
    shapes, reading, place = length(seen, knee - inward * seen.value / 1000, knee, inward)
    return [*shapes, plane, Line(ankle, knee, "aid")], reading, place


def both_feet(seen: Seen) -> Shapes:
    """The angle between the feet, against what the hips were measured to allow: the excess drawn on the left foot."""
    now = seen.now
    left, right = (now.foot_direction(side) for side in SIDES)
    centre = on_floor(now.foot("left", "heel"))
    shapes, reading, place = angle(seen, centre, left, UP, long_m=_FOOT_M, arc_m=_FOOT_ARC_M)
    other = on_floor(now.foot("right", "heel"))
    return [*shapes, Line(other, other + _FOOT_M * right, "aid")], reading, place
