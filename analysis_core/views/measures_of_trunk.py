"""What to draw for the angles of trunk, pelvis and head."""

from __future__ import annotations

import numpy as np

from ..body.geometry import UP
from ..body.movement import SIDES
from ..phrase.phase import Turn
from ..take import Floats
from .drawing import Line, Marks
from .drawn_numbers import angle
from .moment import flat, normed, sweep_between, turned
from .seen import ABOVE_FLOOR_M, Seen, Shapes

#: Length of a drawn direction of the head, metres. Proposed default.
_HEAD_M = 0.30


def _trunk(seen: Seen, axis: Floats, sign: float, name: str) -> Shapes:
    """Middle of the hips to the base of the neck against upright, which is as the dancer stood."""
    now = seen.now
    base, neck = now.joint("pelvis"), now.joint("neck")
    line = neck - base
    measured = normed(line - axis * (axis @ line))
    upright = turned(UP, axis, sign * seen.evidence.movement.standing.angle(name))
    shapes, reading, place = angle(seen, base, measured, axis, per_degree=sign, reference=upright)
    return [*shapes, Line(base * [1, 1, 0], base, "aid")], reading, place


def trunk_pitch(seen: Seen) -> Shapes:
    """Forward is a right-handed turn of "up" about the axis to the dancer's left."""
    return _trunk(seen, -seen.now.right, 1.0, "trunk_pitch")


def trunk_roll(seen: Seen) -> Shapes:
    """To the right is a right-handed turn of "up" about forward."""
    return _trunk(seen, seen.now.forward, 1.0, "trunk_roll")


def axis_tilt(seen: Seen) -> Shapes:
    """Ball of the standing foot to the centre of mass against the plumb line."""
    now = seen.now
    ball = now.foot(seen.side, "ball")
    line = now.mass - ball
    axis = normed(np.cross(UP, line))
    shapes, reading, place = angle(seen, ball, normed(line), axis, long_m=1.35, arc_m=0.95, reference=UP)
    return [*shapes, Marks(now.mass[None], "measured")], reading, place


def chest_tip(seen: Seen) -> Shapes:
    """The chest's own upright axis, tipped back against standing."""
    now = seen.now
    axis = now.right
    up = now.axis("thorax", 1)
    return angle(seen, now.joint("lumbar"), normed(up - axis * (axis @ up)), axis)


def pelvis_tilt(seen: Seen) -> Shapes:
    """The pelvis' own forward axis: tipped forward is down in front."""
    now = seen.now
    return angle(
        seen, now.joint("pelvis"), now.axis("pelvis", 0), now.axis("pelvis", 2), per_degree=-1.0, long_m=0.36, arc_m=0.28
    )


def hip_line(seen: Seen) -> Shapes:
    """Hip to hip, over the side that is lower; the line as the dancer stood."""
    now = seen.now
    left, right = now.joint("hip", "left"), now.joint("hip", "right")
    line = normed(right - left)
    axis = now.axis("pelvis", 0)
    if seen.finding.measure == "one_foot" and seen.side == "left":
        line = -line
        # The left side up is a right-handed turn of the line to the left about backward.
        axis = -axis
    # The right side up is a left-handed turn of the line to the right about forward.
    shapes, reading, place = angle(seen, now.joint("pelvis"), line, axis, per_degree=-1.0, long_m=0.42, arc_m=0.34)
    across = 0.5 * (seen.now.joint("shoulder", "right") - seen.now.joint("shoulder", "left"))
    neck = now.joint("neck")
    return [*shapes, Line(neck - across, neck + across, "aid"), Line(left, right, "aid")], reading, place


def head_pitch(seen: Seen) -> Shapes:
    """Where the face points: chin up is a right-handed turn about the axis to the right."""
    now = seen.now
    return angle(seen, now.joint("head"), now.axis("head", 0), now.axis("head", 2), long_m=_HEAD_M, arc_m=0.24)


def head_roll(seen: Seen) -> Shapes:
    """The head's own upright axis, tipped to a side."""
    now = seen.now
    return angle(seen, now.joint("neck"), now.axis("head", 1), now.axis("head", 0), long_m=0.42, arc_m=0.34)


def head_turned(seen: Seen) -> Shapes:
    """Where the face points against where the chest points, over the floor."""
    now = seen.now
    face, chest = flat(now.axis("head", 0)), flat(now.axis("thorax", 0))
    sign = 1.0 if sweep_between(chest, face, UP) >= 0 else -1.0
    return angle(seen, now.joint("head"), face, UP, per_degree=sign, long_m=_HEAD_M, arc_m=0.24)


def chest_twist(seen: Seen) -> Shapes:
    """Shoulder line against hip line, over the floor."""
    now = seen.now
    shoulders = [now.joint("shoulder", side) for side in SIDES]
    hips = [now.joint("hip", side) for side in SIDES]
    shapes, reading, place = angle(seen, now.joint("neck"), flat(now.axis("thorax", 0)), UP, long_m=0.45, arc_m=0.34)
    return [*shapes, Line(shoulders[0], shoulders[1], "aid"), Line(hips[0], hips[1], "aid")], reading, place


def pelvis_facing(seen: Seen) -> Shapes:
    """Where the pelvis faces at the end of a turn, against where it was meant to."""
    now = seen.now
    turns = [turn for turn in seen.evidence.phrase.of(Turn) if turn.id == seen.finding.phase]
    left = all((turn.turned_deg or 1.0) > 0 for turn in turns)
    centre = now.joint("pelvis") * [1, 1, 0] + UP * ABOVE_FLOOR_M
    return angle(seen, centre, now.forward, UP, per_degree=1.0 if left else -1.0)
