"""What to draw for bends and heights of the legs."""

from __future__ import annotations

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..body.geometry import UP
from ..body.movement import SIDES, SUFFIXES
from ..take import Floats
from .drawing import Line, Shape, Sweep
from .drawn_numbers import angle
from .moment import Moment, normed, turned
from .seen import Seen, Shapes


def _knee_axis(now: Moment, side: str) -> Floats:
    """The axis about which the knee bends, right-handed: across thigh and shank; of a straight leg the shank's own."""
    hip, knee, ankle = (now.joint(name, side) for name in LEG_JOINTS)
    across = np.cross(knee - hip, ankle - knee)
    own = -now.axis("shank" + SUFFIXES[side], 2)
    if np.linalg.norm(across) < 0.15 * np.linalg.norm(knee - hip) * np.linalg.norm(ankle - knee):
        return own
    across = normed(across)
    return across if across @ own > 0 else own


def knee_bend(seen: Seen) -> Shapes:
    """The shank against where it would be in a straight leg as the dancer stands; the thigh's line goes on as an aid."""
    now, side = seen.now, seen.side
    hip, knee, ankle = (now.joint(name, side) for name in LEG_JOINTS)
    sign = -1.0 if seen.finding.fault == "knee-hyperextends" else 1.0
    length = float(np.linalg.norm(ankle - knee))
    shapes, reading, place = angle(
        seen, knee, normed(ankle - knee), _knee_axis(now, side), per_degree=sign, long_m=length, arc_m=0.7 * length
    )
    return [*shapes, Line(hip, knee, "measured")], reading, place


def one_knee_bends_more(seen: Seen) -> Shapes:
    """The shank of the knee that bends more, against where it would be with as much bend as the other."""
    shapes, reading, place = knee_bend(seen)
    now, other = seen.now, SIDES[1 - SIDES.index(seen.side)]
    hip, knee, ankle = (now.joint(name, other) for name in LEG_JOINTS)
    return [*shapes, Line(hip, knee, "aid"), Line(knee, ankle, "aid")], reading, place


def bend_share(seen: Seen) -> Shapes:
    """The bend of the knee and the dancer's own demi-plié, both from the straight line of the thigh."""
    now = seen.now
    sides = (seen.side,) if seen.finding.side in SIDES else SIDES
    bends = seen.evidence.movement.standing.demi_plie_rad
    own = float(np.degrees(np.mean([bends[SIDES.index(side)] for side in sides])))
    side = max(sides, key=lambda one: float(np.nan_to_num(now.of(seen.evidence.degrees("knee_flexion", one)))))
    hip, knee, ankle = (now.joint(name, side) for name in LEG_JOINTS)
    axis, shank = _knee_axis(now, side), normed(ankle - knee)
    # Both knees together make the number; it is drawn on the one that is seen, from where that much bend began.
    straight = turned(shank, axis, -np.radians(seen.value * own))
    length = float(np.linalg.norm(ankle - knee))
    low = seen.finding.band[0] or 0.0
    asked = turned(straight, axis, np.radians(low * own))
    shapes: list[Shape] = [
        Line(hip, knee, "measured"),
        Line(knee, ankle, "measured"),
        Line(knee, knee + length * straight, "aid"),
        Line(knee, knee + length * turned(straight, axis, np.radians(own)), "reference"),
        Sweep(knee, straight, axis, np.radians(seen.value * own), 0.7 * length, "measured"),
        Sweep(knee, straight, axis, np.radians(own), 0.85 * length, "reference"),
        Sweep(knee, asked, axis, np.radians(max(own * (1.0 - low), 0.0)), 0.62 * length, "band"),
    ]
    return shapes, "angles", knee + 0.9 * length * normed(shank + turned(straight, axis, np.radians(own)))


def leg_height(seen: Seen) -> Shapes:
    """The lifted leg against the height of the other one: hip to ankle, in the upright plane of the leg."""
    now, side = seen.now, seen.side
    hip, ankle = now.joint("hip", side), now.joint("ankle", side)
    leg = normed(ankle - hip)
    axis = normed(np.cross(leg, UP))
    # Lower is a left-handed turn about the axis that lifts.
    return angle(seen, hip, leg, axis, per_degree=-1.0, long_m=float(np.linalg.norm(ankle - hip)), arc_m=0.55)


def foot_deviation(seen: Seen) -> Shapes:
    """Ankle to ball against the line of the leg: sickled is inward."""
    now, side = seen.now, seen.side
    ankle, ball = now.joint("ankle", side), now.foot(side, "ball")
    line = normed(ball - ankle)
    lateral = now.axis("shank" + SUFFIXES[side], 2) * (1.0 if side == "right" else -1.0)
    axis = normed(np.cross(line, lateral))
    length = float(np.linalg.norm(ball - ankle))
    shapes, reading, place = angle(seen, ankle, line, axis, long_m=1.5 * length, arc_m=1.25 * length)
    return [*shapes, Line(now.joint("knee", side), ankle, "aid")], reading, place


def stretch_share(seen: Seen) -> Shapes:
    """How far the foot is stretched from a right angle to the shank, and the dancer's own furthest."""
    now, side = seen.now, seen.side
    ankle, ball = now.joint("ankle", side), now.foot(side, "ball")
    own = float(np.degrees(seen.evidence.movement.standing.pointed_rad[SIDES.index(side)]))
    foot = normed(ball - ankle)
    shank = normed(ankle - now.joint("knee", side))
    axis = normed(np.cross(foot, shank))
    right_angle = turned(foot, axis, -np.radians(seen.value * own))
    low = seen.finding.band[0] or 0.0
    asked = turned(right_angle, axis, np.radians(low * own))
    length = 1.5 * float(np.linalg.norm(ball - ankle))
    shapes: list[Shape] = [
        Line(ankle, ankle + length * foot, "measured"),
        Line(ankle, ankle + length * turned(right_angle, axis, np.radians(own)), "reference"),
        Line(ankle - 0.25 * shank, ankle, "aid"),
        Line(ankle, ankle + length * right_angle, "aid"),
        Sweep(ankle, right_angle, axis, np.radians(seen.value * own), 0.8 * length, "measured"),
        Sweep(ankle, right_angle, axis, np.radians(own), 0.95 * length, "reference"),
        Sweep(ankle, asked, axis, np.radians(max(own * (1.0 - low), 0.0)), 0.7 * length, "band"),
    ]
    return shapes, "angles", ankle + 1.1 * length * normed(foot + turned(right_angle, axis, np.radians(own)))
