"""For every measure of the catalogue: what to draw, from the joints that its number was made of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..body.geometry import UP
from ..body.movement import SIDES, SUFFIXES
from ..findings.evidence import Evidence
from ..findings.find import MEASURES
from ..findings.finding import Finding
from ..findings.observation import Observation
from ..phrase.phase import Jump, Landing, P, Turn
from ..review import Review
from ..take import Floats
from ..wording import findings as say
from ..wording import numbers
from .drawing import Area, Bracket, Drawing, Line, Marks, Reading, Shape, Sweep, Way
from .moment import Moment, flat, normed, sweep_between, turned

#: Lengths of drawn directions and of arcs, metres: as long as the limb they belong to. Proposed defaults.
_LONG_M, _FOOT_M, _ARC_M, _FOOT_ARC_M, _HEAD_M = 0.62, 0.34, 0.40, 0.26, 0.30
#: A band that is open on one side is drawn so far, degrees.
_OPEN_DEG = 15.0
#: What lies on the floor is drawn so far above it.
_ABOVE_FLOOR_M = 0.006


@dataclass(frozen=True)
class Seen:
    """A finding with what it was measured from. told: the observation, None where the measure does not tell it any more."""

    finding: Finding
    evidence: Evidence
    told: Observation | None

    @property
    def frame(self) -> int:
        """The decisive frame."""
        return self.told.peak if self.told is not None else self.evidence.frame(self.finding.peak_s)

    @property
    def now(self) -> Moment:
        """The decisive moment."""
        return Moment(self.evidence, self.frame)

    @property
    def before(self) -> Moment:
        """The moment from which the number is a change; the decisive one where it stands for itself."""
        against = None if self.told is None else self.told.against
        return Moment(self.evidence, self.frame if against is None else against)

    @property
    def side(self) -> str:
        """The side that the number is of; the right where none is said."""
        side = self.told.side if self.told is not None else self.finding.side
        return side if side in SIDES else "right"

    @property
    def value(self) -> float:
        """The number, in its unit."""
        return self.finding.value


Shapes = tuple[list[Shape], Reading, Floats]
Draw = Callable[[Seen], Shapes]


def observation_of(finding: Finding, evidence: Evidence) -> Observation | None:
    """What the measure of a finding tells again of its phase: the one whose number and side are the finding's."""
    measure = MEASURES.get(finding.fault)
    if measure is None:
        return None
    told = [
        item
        for item in measure(evidence)
        if isinstance(item, Observation) and item.phase.id == finding.phase and item.measure == finding.measure
    ]
    if finding.side in SIDES:
        told = [item for item in told if item.side == finding.side] or told
    return min(told, key=lambda item: abs(np.nan_to_num(item.value, nan=np.inf) - finding.value), default=None)


# Angles -------------------------------------------------------------------------------------------------------------------------


def _angle(
    seen: Seen,
    centre: Floats,
    measured: Floats,
    axis: Floats,
    *,
    per_degree: float = 1.0,
    long_m: float = _LONG_M,
    arc_m: float = _ARC_M,
    reference: Floats | None = None,
) -> Shapes:
    """Two directions and the angle between them: the reference turned by the number about the axis is what was measured.

    per_degree: +1 or -1, the sign with which the number turns about the axis. reference: where the body itself shows it; else it
    is told by the number.
    """
    value = np.radians(seen.value) * per_degree
    if reference is None:
        reference = turned(measured, axis, -value)
    shapes: list[Shape] = [
        Line(centre, centre + long_m * reference, "reference"),
        Line(centre, centre + long_m * measured, "measured"),
        Sweep(centre, reference, axis, sweep_between(reference, measured, axis), arc_m, "measured"),
    ]
    low, high = _drawn_band(seen.finding.band)
    first = turned(reference, axis, np.radians(low) * per_degree)
    shapes.append(Sweep(centre, first, axis, np.radians(high - low) * per_degree, 0.92 * arc_m, "band"))
    middle = normed(reference - axis * (axis @ reference) + measured - axis * (axis @ measured))
    return shapes, "angle", centre + 1.12 * arc_m * middle


def _drawn_band(band: tuple[float | None, float | None]) -> tuple[float, float]:
    low, high = band
    if low is None and high is None:
        return 0.0, 0.0
    if low is None:
        assert high is not None
        return min(0.0, high - _OPEN_DEG), high
    return low, high if high is not None else low + _OPEN_DEG


def _trunk(seen: Seen, axis: Floats, sign: float, name: str) -> Shapes:
    """Middle of the hips to the base of the neck against upright, which is as the dancer stood."""
    now = seen.now
    base, neck = now.joint("pelvis"), now.joint("neck")
    line = neck - base
    measured = normed(line - axis * (axis @ line))
    upright = turned(UP, axis, sign * seen.evidence.movement.standing.angle(name))
    shapes, reading, place = _angle(seen, base, measured, axis, per_degree=sign, reference=upright)
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
    shapes, reading, place = _angle(seen, ball, normed(line), axis, long_m=1.35, arc_m=0.95, reference=UP)
    return [*shapes, Marks(now.mass[None], "measured")], reading, place


def chest_tip(seen: Seen) -> Shapes:
    """The chest's own upright axis, tipped back against standing."""
    now = seen.now
    axis = now.right
    up = now.axis("thorax", 1)
    return _angle(seen, now.joint("lumbar"), normed(up - axis * (axis @ up)), axis)


def pelvis_tilt(seen: Seen) -> Shapes:
    """The pelvis' own forward axis: tipped forward is down in front."""
    now = seen.now
    return _angle(
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
    shapes, reading, place = _angle(seen, now.joint("pelvis"), line, axis, per_degree=-1.0, long_m=0.42, arc_m=0.34)
    across = 0.5 * (seen.now.joint("shoulder", "right") - seen.now.joint("shoulder", "left"))
    neck = now.joint("neck")
    return [*shapes, Line(neck - across, neck + across, "aid"), Line(left, right, "aid")], reading, place


def head_pitch(seen: Seen) -> Shapes:
    """Where the face points: chin up is a right-handed turn about the axis to the right."""
    now = seen.now
    return _angle(seen, now.joint("head"), now.axis("head", 0), now.axis("head", 2), long_m=_HEAD_M, arc_m=0.24)


def head_roll(seen: Seen) -> Shapes:
    """The head's own upright axis, tipped to a side."""
    now = seen.now
    return _angle(seen, now.joint("neck"), now.axis("head", 1), now.axis("head", 0), long_m=0.42, arc_m=0.34)


def head_turned(seen: Seen) -> Shapes:
    """Where the face points against where the chest points, over the floor."""
    now = seen.now
    face, chest = flat(now.axis("head", 0)), flat(now.axis("thorax", 0))
    sign = 1.0 if sweep_between(chest, face, UP) >= 0 else -1.0
    return _angle(seen, now.joint("head"), face, UP, per_degree=sign, long_m=_HEAD_M, arc_m=0.24)


def chest_twist(seen: Seen) -> Shapes:
    """Shoulder line against hip line, over the floor."""
    now = seen.now
    shoulders = [now.joint("shoulder", side) for side in SIDES]
    hips = [now.joint("hip", side) for side in SIDES]
    shapes, reading, place = _angle(seen, now.joint("neck"), flat(now.axis("thorax", 0)), UP, long_m=0.45, arc_m=0.34)
    return [*shapes, Line(shoulders[0], shoulders[1], "aid"), Line(hips[0], hips[1], "aid")], reading, place


def pelvis_facing(seen: Seen) -> Shapes:
    """Where the pelvis faces at the end of a turn, against where it was meant to."""
    now = seen.now
    turns = [turn for turn in seen.evidence.phrase.of(Turn) if turn.id == seen.finding.phase]
    left = all((turn.turned_deg or 1.0) > 0 for turn in turns)
    centre = now.joint("pelvis") * [1, 1, 0] + UP * _ABOVE_FLOOR_M
    return _angle(seen, centre, now.forward, UP, per_degree=1.0 if left else -1.0)


# Feet and knees over the floor --------------------------------------------------------------------------------------------------


def _on_floor(place: Floats, height: float = _ABOVE_FLOOR_M) -> Floats:
    return np.array([place[0], place[1], height])


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
    height = max(_ABOVE_FLOOR_M, float(now.foot(seen.side, "ball")[2]) - 0.02)
    centre = _on_floor(now.foot(seen.side, "heel"), height)
    per_degree = _out(seen.side) * (1.0 if seen.finding.measure == "skid" else -1.0)
    return _angle(seen, centre, measured, UP, per_degree=per_degree, long_m=_FOOT_M, arc_m=_FOOT_ARC_M, reference=reference)


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
    centre = _on_floor(now.foot(seen.side, "heel"))
    reference = _near(earlier, measured, seen, sign)
    return _angle(seen, centre, measured, UP, per_degree=sign, long_m=_FOOT_M, arc_m=_FOOT_ARC_M, reference=reference)


def knee_direction_lost(seen: Seen) -> Shapes:
    """Where the bent knee points, against its widest, both from the line hip to ankle."""
    now, before = seen.now, seen.before
    measured = now.knee_direction(seen.side)
    reference = _near(_from_pelvis(before.knee_direction(seen.side), before, now), measured, seen, -_out(seen.side))
    hip = now.joint("hip", seen.side)
    knee = now.joint("knee", seen.side)
    centre = np.array([hip[0], hip[1], knee[2]])
    return _angle(seen, centre, measured, UP, per_degree=-_out(seen.side), reference=reference)


def _foot_plane(now: Moment, side: str) -> tuple[Floats, Floats, Area]:
    """The upright plane through the ankle along the foot: its place, its direction, and a piece of it."""
    ankle, direction = now.joint("ankle", side), now.foot_direction(side)
    low, high = -0.06, 0.34
    top = float(now.joint("knee", side)[2]) + 0.08
    corners = [ankle + along * direction for along in (low, high)]
    floor = [np.array([*corner[:2], _ABOVE_FLOOR_M]) for corner in corners]
    above = [np.array([*corner[:2], top]) for corner in corners]
    return ankle, direction, Area(np.stack([floor[0], floor[1], above[1], above[0]]), "aid")


def knee_against_foot(seen: Seen) -> Shapes:
    """Where the foot points against where the knee points, on the floor from the ankle; and the upright plane of the foot."""
    now, side = seen.now, seen.side
    ankle, direction, plane = _foot_plane(now, side)
    knee = now.knee_direction(side)
    # Knee inside the foot: the knee's direction is turned inward from the foot's.
    shapes, reading, place = _angle(
        seen, _on_floor(ankle), knee, UP, per_degree=-_out(side), long_m=_FOOT_M, arc_m=_FOOT_ARC_M,
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
    shapes, reading, place = _length(seen, knee - inward * seen.value / 1000, knee, inward)
    return [*shapes, plane, Line(ankle, knee, "aid")], reading, place


def both_feet(seen: Seen) -> Shapes:
    """The angle between the feet, against what the hips were measured to allow: the excess drawn on the left foot."""
    now = seen.now
    left, right = (now.foot_direction(side) for side in SIDES)
    centre = _on_floor(now.foot("left", "heel"))
    shapes, reading, place = _angle(seen, centre, left, UP, long_m=_FOOT_M, arc_m=_FOOT_ARC_M)
    other = _on_floor(now.foot("right", "heel"))
    return [*shapes, Line(other, other + _FOOT_M * right, "aid")], reading, place


# Legs ---------------------------------------------------------------------------------------------------------------------------


def _knee_axis(now: Moment, side: str) -> Floats:
    """The axis about which the knee bends, right-handed: across thigh and shank; of a straight leg the shank's own."""
    hip, knee, ankle = (now.joint(name, side) for name in ("hip", "knee", "ankle"))
    across = np.cross(knee - hip, ankle - knee)
    own = -now.axis("shank" + SUFFIXES[side], 2)
    if np.linalg.norm(across) < 0.15 * np.linalg.norm(knee - hip) * np.linalg.norm(ankle - knee):
        return own
    across = normed(across)
    return across if across @ own > 0 else own


def knee_bend(seen: Seen) -> Shapes:
    """The shank against where it would be in a straight leg as the dancer stands; the thigh's line goes on as an aid."""
    now, side = seen.now, seen.side
    hip, knee, ankle = (now.joint(name, side) for name in ("hip", "knee", "ankle"))
    sign = -1.0 if seen.finding.fault == "knee-hyperextends" else 1.0
    length = float(np.linalg.norm(ankle - knee))
    shapes, reading, place = _angle(
        seen, knee, normed(ankle - knee), _knee_axis(now, side), per_degree=sign, long_m=length, arc_m=0.7 * length
    )
    return [*shapes, Line(hip, knee, "measured")], reading, place


def one_knee_bends_more(seen: Seen) -> Shapes:
    """The shank of the knee that bends more, against where it would be with as much bend as the other."""
    shapes, reading, place = knee_bend(seen)
    now, other = seen.now, SIDES[1 - SIDES.index(seen.side)]
    hip, knee, ankle = (now.joint(name, other) for name in ("hip", "knee", "ankle"))
    return [*shapes, Line(hip, knee, "aid"), Line(knee, ankle, "aid")], reading, place


def bend_share(seen: Seen) -> Shapes:
    """The bend of the knee and the dancer's own demi-plié, both from the straight line of the thigh."""
    now = seen.now
    sides = (seen.side,) if seen.finding.side in SIDES else SIDES
    own = float(np.degrees(np.mean([seen.evidence.movement.standing.demi_plie_rad[SIDES.index(side)] for side in sides])))
    side = max(sides, key=lambda one: float(np.nan_to_num(now.of(seen.evidence.degrees("knee_flexion", one)))))
    hip, knee, ankle = (now.joint(name, side) for name in ("hip", "knee", "ankle"))
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
    return _angle(seen, hip, leg, axis, per_degree=-1.0, long_m=float(np.linalg.norm(ankle - hip)), arc_m=0.55)


def foot_deviation(seen: Seen) -> Shapes:
    """Ankle to ball against the line of the leg: sickled is inward."""
    now, side = seen.now, seen.side
    ankle, ball = now.joint("ankle", side), now.foot(side, "ball")
    line = normed(ball - ankle)
    lateral = now.axis("shank" + SUFFIXES[side], 2) * (1.0 if side == "right" else -1.0)
    axis = normed(np.cross(line, lateral))
    length = float(np.linalg.norm(ball - ankle))
    shapes, reading, place = _angle(seen, ankle, line, axis, long_m=1.5 * length, arc_m=1.25 * length)
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


# Heights and ways ---------------------------------------------------------------------------------------------------------------


def _length(seen: Seen, base: Floats, tip: Floats, along: Floats) -> Shapes:
    """A bracket of the number's length, and the band as a step beside it along the same direction."""
    shapes: list[Shape] = [Bracket(base, tip, "measured")]
    low, high = seen.finding.band
    ends = (max(low or 0.0, -1e3), high if high is not None else (low or 0.0))
    if ends[1] > ends[0]:
        shapes.append(Bracket(base + along * ends[0] / 1000, base + along * ends[1] / 1000, "band"))
    return shapes, "length", 0.5 * (base + tip)


def heel_height(seen: Seen) -> Shapes:
    """The heel above its own height on the flat foot."""
    now, side = seen.now, seen.side
    heel = now.foot(side, "heel")
    shapes, reading, place = _length(seen, heel - UP * seen.value / 1000, heel, UP)
    ball = now.foot(side, "ball")
    return [*shapes, Line(heel, ball, "measured"), Line(_on_floor(heel), _on_floor(ball), "reference")], reading, place


def heel_sunk(seen: Seen) -> Shapes:
    """The heel below where it was."""
    now, side = seen.now, seen.side
    heel = now.foot(side, "heel")
    was = heel + UP * seen.value / 1000
    shapes, reading, place = _length(seen, was, heel, -UP)
    ball = now.foot(side, "ball")
    return [*shapes, Line(was, ball, "reference"), Line(heel, ball, "measured")], reading, place


def forefoot_height(seen: Seen) -> Shapes:
    """The ball of the foot above the floor."""
    now, side = seen.now, seen.side
    ball = now.foot(side, "ball")
    base = ball - UP * seen.value / 1000
    shapes, reading, place = _length(seen, base, ball, UP)
    direction = 0.12 * now.foot_direction(side)
    return [*shapes, Line(base - direction, base + direction, "reference")], reading, place


def arch_drop(seen: Seen) -> Shapes:
    """The inner arch below where it was: between heel and ball."""
    now, side = seen.now, seen.side
    arch = 0.5 * (now.foot(side, "heel") + now.foot(side, "ball_medial"))
    return _length(seen, arch + UP * seen.value / 1000, arch, -UP)


def releve_share(seen: Seen) -> Shapes:
    """The heel's height, and the dancer's own highest."""
    now, side = seen.now, seen.side
    heel = now.foot(side, "heel")
    own = float(seen.evidence.movement.standing.releve_m[SIDES.index(side)])
    floor = heel - UP * seen.value * own
    beside = 0.05 * now.outward(side)
    low = seen.finding.band[0] or 0.0
    shapes: list[Shape] = [
        Bracket(floor, heel, "measured"),
        Bracket(floor + beside, floor + beside + UP * own, "reference"),
        Bracket(floor + UP * low * own, floor + UP * own, "band"),
        Line(heel, now.foot(side, "ball"), "measured"),
    ]
    return shapes, "lengths", 0.5 * (floor + heel)


def retire_share(seen: Seen) -> Shapes:
    """The toe's height above the standing ankle, and the knee's."""
    now, working = seen.now, seen.side
    support = SIDES[1 - SIDES.index(working)]
    ankle, knee, toe = now.joint("ankle", support), now.joint("knee", support), now.joint("toe", working)
    height = float(knee[2] - ankle[2])
    base = np.array([toe[0], toe[1], ankle[2]])
    beside = np.array([knee[0], knee[1], ankle[2]])
    low = seen.finding.band[0] or 0.0
    shapes: list[Shape] = [
        Bracket(base, base + UP * seen.value * height, "measured"),
        Bracket(beside, beside + UP * height, "reference"),
        Bracket(base + UP * low * height, base + UP * height, "band"),
        Line(ankle, knee, "aid"),
    ]
    return shapes, "lengths", base + UP * 0.5 * seen.value * height


def hand_sunk(seen: Seen) -> Shapes:
    """The hand below where it was, along the upright axis of the chest."""
    now, side = seen.now, seen.side
    wrist, up = now.joint("wrist", side), now.axis("thorax", 1)
    was = wrist + up * seen.value / 1000
    shapes, reading, place = _length(seen, was, wrist, -up)
    return [*shapes, Line(now.joint("elbow", side), wrist, "measured")], reading, place


def hands_apart(seen: Seen) -> Shapes:
    """How much lower one hand is than the other has become, along the upright axis of the chest."""
    now, up = seen.now, seen.now.axis("thorax", 1)
    wrists = [now.joint("wrist", side) for side in SIDES]
    lower = min(wrists, key=lambda wrist: float(wrist @ up))
    shapes, reading, place = _length(seen, lower + up * seen.value / 1000, lower, -up)
    return [*shapes, Line(wrists[0], wrists[1], "aid")], reading, place


def shoulder_up(seen: Seen) -> Shapes:
    """The shoulder above where it stands, along the upright axis of the chest."""
    now, side = seen.now, seen.side
    shoulder, up = now.joint("shoulder", side), now.axis("thorax", 1)
    shapes, reading, place = _length(seen, shoulder - up * seen.value / 1000, shoulder, up)
    across = 0.5 * (now.joint("shoulder", "right") - now.joint("shoulder", "left"))
    middle = now.joint("neck")
    return [*shapes, Line(middle - across, middle + across, "aid")], reading, place


def hips_beside(seen: Seen) -> Shapes:
    """Middle of the hips beside the middle of the feet, on the floor."""
    now = seen.now
    across = flat(now.joint("ankle", "right") - now.joint("ankle", "left"))
    hips = now.joint("pelvis")
    tip = _on_floor(hips)
    shapes, reading, place = _length(seen, tip - across * seen.value / 1000, tip, across)
    feet = [_on_floor(now.joint("ankle", side)) for side in SIDES]
    return [*shapes, Line(tip, hips, "aid"), Line(feet[0], feet[1], "aid")], reading, place


def way_on_floor(seen: Seen) -> Shapes:
    """The way of the standing foot over the floor, and how far apart its ends are."""
    side, point = seen.side, "heel" if seen.finding.measure == "slip" else "ball"
    start = (
        seen.told.against
        if seen.told is not None and seen.told.against is not None
        else seen.evidence.frame(seen.finding.start_s)
    )
    places = seen.evidence.foot_point(side, "heel") if point == "heel" else seen.evidence.ball(side)
    points = places[start : seen.frame + 1].copy()
    points[:, 2] = _ABOVE_FLOOR_M
    known = np.isfinite(points).all(axis=1)
    tip = _on_floor(seen.now.foot(side, point))
    first = points[known][0] if known.any() else tip
    along = flat(tip - first)
    length = seen.value / 1000 * _turns(seen)
    base = tip - along * length
    times = seen.evidence.movement.time_s[start : seen.frame + 1]
    shapes: list[Shape] = [Bracket(base, tip, "measured"), Way(points[known], times[known], "measured")]
    high = seen.finding.band[1]
    if high is not None:
        circle = np.linspace(0, 2 * np.pi, 33)[:-1]
        radius = high / 1000 * _turns(seen)
        corners = base + radius * np.stack([np.cos(circle), np.sin(circle), np.zeros_like(circle)], axis=1)
        shapes.append(Area(corners, "band"))
    return shapes, "length", 0.5 * (base + tip)


def _step(seen: Seen, kind: type[P]) -> P | None:
    """The step in which the number was measured, where it is of a kind."""
    return seen.told.phase if seen.told is not None and isinstance(seen.told.phase, kind) else None


def _turns(seen: Seen) -> float:
    """Turns that a length is divided by."""
    turn = _step(seen, Turn)
    if seen.finding.fault != "turn-travels" or turn is None:
        return 1.0
    return max(1.0, turn.revolutions or 1.0)


def support_margin(seen: Seen) -> Shapes:
    """Where the centre of mass is going, against the edge of the feet that carry."""
    now = seen.now
    points = np.concatenate([seen.evidence.movement.foot_points_m[seen.frame, index] for index in range(2)])
    low = points[np.isfinite(points).all(axis=1) & (points[:, 2] < points[:, 2].min() + 0.05)]
    middle = low.mean(axis=0) if len(low) else now.mass
    place = _on_floor(now.mass)
    away = flat(place - _on_floor(middle))
    # Inside the edge lies back towards the feet.
    edge = place + away * seen.value / 1000
    shapes, reading, number = _length(seen, edge, place, -away)
    order = np.argsort(np.arctan2(low[:, 1] - middle[1], low[:, 0] - middle[0]))
    corners = low[order] * [1, 1, 0] + UP * _ABOVE_FLOOR_M
    return [*shapes, Area(corners, "aid"), Line(now.mass, place, "aid")], reading, number


def jump_share(seen: Seen) -> Shapes:
    """The height of this jump, and of the best of the same step."""
    now = seen.now
    jump = _step(seen, Jump)
    height = (jump.height_m if jump else None) or 0.1
    beside = 0.45 * now.right
    base = now.mass - UP * height + beside
    best = height / seen.value if seen.value > 0 else height
    low = seen.finding.band[0] or 0.0
    shapes: list[Shape] = [
        Bracket(base, base + UP * height, "measured"),
        Bracket(base + 0.06 * now.right, base + 0.06 * now.right + UP * best, "reference"),
        Bracket(base + UP * low * best, base + UP * best, "band"),
    ]
    return shapes, "lengths", base + UP * 0.5 * height


def fall_and_stop(seen: Seen) -> Shapes:
    """How far the centre of mass fell, and how far it went down while it was stopped."""
    now = seen.now
    landing = _step(seen, Landing)
    stop = (landing.stopping_m if landing else None) or 0.1
    fall = (seen.value - 1.0) * stop
    lowest = now.mass + 0.45 * now.right
    contact = lowest + UP * stop
    shapes: list[Shape] = [
        Bracket(contact + UP * fall, contact, "measured"),
        Bracket(contact, lowest, "measured"),
        Line(now.mass, lowest, "aid"),
    ]
    high = seen.finding.band[1]
    if high is not None and high > 1.0:
        shapes.append(Bracket(contact, contact - UP * fall / (high - 1.0), "band"))
    return shapes, "fall and stop", 0.5 * (contact + lowest)


# Times, counts, areas -----------------------------------------------------------------------------------------------------------


def _time(seen: Seen, places: Floats) -> Shapes:
    """The way of a point (F, 3) in the time that the number tells, up to the decisive moment where there is room before it."""
    movement = seen.evidence.movement
    length = abs(seen.value)
    end = seen.frame / movement.rate_hz
    start = max(end - length, 0.0)
    inside = np.linspace(start, start + length, 24)
    points = np.stack([np.interp(inside, movement.time_s, places[:, axis]) for axis in range(3)], axis=1)
    known = np.isfinite(points).all(axis=1)
    points = np.where(known[:, None], points, seen.now.mass)
    return [Way(points, inside, "measured"), Marks(points[[0, -1]], "measured")], "time", points[-1]


def heel_time(seen: Seen) -> Shapes:
    """The way of the heel."""
    return _time(seen, seen.evidence.foot_point(seen.side, "heel"))


def head_time(seen: Seen) -> Shapes:
    """The way of the face: a hand's breadth before the middle of the head."""
    return _time(seen, seen.evidence.joint("head") + 0.14 * seen.evidence.movement.segment("head")[:, :, 0])


def toe_time(seen: Seen) -> Shapes:
    """The way of the foot that comes later."""
    return _time(seen, seen.evidence.joint("toe", seen.side))


def mass_time(seen: Seen) -> Shapes:
    """The way of the centre of mass."""
    return _time(seen, seen.evidence.movement.centre_of_mass_m)


def touches(seen: Seen) -> Shapes:
    """A mark on the floor for every touch of the heel."""
    heel = _on_floor(seen.now.foot(seen.side, "heel"))
    count = max(round(seen.value), 1)
    step = 0.05 * seen.now.outward(seen.side)
    points = np.stack([heel + number * step for number in range(count)])
    return [Marks(points, "measured")], "count", points[-1] + UP * 0.06


def sway(seen: Seen) -> Shapes:
    """The area in which the centre of mass wandered, and the usual one, on the floor."""
    start, end = (seen.told.start, seen.told.end) if seen.told is not None else (seen.frame, seen.frame + 1)
    path = seen.evidence.movement.centre_of_mass_m[start : end + 1] * [1, 1, 0] + UP * _ABOVE_FLOOR_M
    known = path[np.isfinite(path).all(axis=1)]
    middle, covariance = known.mean(axis=0), np.cov(known[:, :2].T)
    values, vectors = np.linalg.eigh(covariance)
    # 95 % of a plane normal distribution: the square root of 5.991 SD along each axis.
    half = np.sqrt(5.991 * np.maximum(values, 1e-12))
    circle = np.linspace(0, 2 * np.pi, 65)[:-1]
    ring = (np.stack([np.cos(circle), np.sin(circle)], axis=1) * half) @ vectors.T
    outline = np.concatenate([ring, np.zeros((len(ring), 1))], axis=1)
    shrunk = outline / np.sqrt(max(seen.value, 1e-6))
    times = seen.evidence.movement.time_s[start : start + len(known)]
    shapes: list[Shape] = [
        Area(middle + outline, "measured"),
        Area(middle + shrunk, "reference"),
        Way(known, times, "aid"),
    ]
    high = seen.finding.band[1]
    if high is not None:
        shapes.append(Area(middle + shrunk * np.sqrt(high), "band"))
    return shapes, "areas", middle + np.array([0.0, 0.0, 0.08])


#: Fault and measure -> what is drawn.
DRAW: dict[tuple[str, str], Draw] = {
    ("heel-lifts-early", "height"): heel_height,
    ("heel-lifts-early", "lead"): heel_time,
    ("foot-slips-parallel", "yaw"): foot_turned_on_floor,
    ("foot-slips-parallel", "slip"): way_on_floor,
    ("turnout-lost-supporting", "loss"): foot_turnout_lost,
    ("turnout-lost-working", "loss"): knee_direction_lost,
    ("turnout-lost-finish", "loss"): foot_turnout_lost,
    ("turnout-lost-finish", "skid"): foot_turnout_lost,
    ("axis-tilts", "tilt"): axis_tilt,
    ("turn-travels", "travel"): way_on_floor,
    ("turn-hops", "clearance"): forefoot_height,
    ("late-spot", "lead"): head_time,
    ("late-spot", "apart"): head_turned,
    ("arms-drop", "drop"): hand_sunk,
    ("arms-drop", "difference"): hands_apart,
    ("turn-angle-off", "residual"): pelvis_facing,
    ("low-retire", "height"): retire_share,
    ("low-releve", "share"): releve_share,
    ("low-releve", "sink"): heel_sunk,
    ("shoulders-lead", "twist"): chest_twist,
    ("trunk-leans", "pitch"): trunk_pitch,
    ("side-bends", "roll"): trunk_roll,
    ("ribs-flare", "tip"): chest_tip,
    ("back-arches", "tilt"): pelvis_tilt,
    ("pelvis-tucks", "tilt"): pelvis_tilt,
    ("shoulders-lift", "height"): shoulder_up,
    ("head-lifts", "pitch"): head_pitch,
    ("head-lifts", "roll"): head_roll,
    ("hip-hikes", "one_foot"): hip_line,
    ("hip-hikes", "two_feet"): hip_line,
    ("knee-hyperextends", "beyond"): knee_bend,
    ("knee-inside-toes", "angle"): knee_against_foot,
    ("knee-inside-toes", "displacement"): knee_from_plane,
    ("foot-forces-turnout", "angle"): knee_against_foot,
    ("foot-forces-turnout", "beyond_hips"): both_feet,
    ("foot-sickles", "working"): foot_deviation,
    ("foot-sickles", "supporting"): foot_deviation,
    ("foot-wings", "drop"): arch_drop,
    ("knee-bends-working", "flexion"): knee_bend,
    ("knee-bends-supporting", "flexion"): knee_bend,
    ("uneven-height", "difference"): leg_height,
    ("uneven-plie", "bend"): one_knee_bends_more,
    ("uneven-plie", "shift"): hips_beside,
    ("heels-lift-in-plie", "height"): heel_height,
    ("shallow-plie", "share"): bend_share,
    ("heavy-landing", "load"): fall_and_stop,
    ("stiff-landing", "share"): bend_share,
    ("uneven-landing", "bend"): one_knee_bends_more,
    ("uneven-landing", "time"): toe_time,
    ("heels-miss-floor", "height"): heel_height,
    ("heels-miss-floor", "touches"): touches,
    ("rushed-take-off", "share"): bend_share,
    ("low-jump", "share"): jump_share,
    ("feet-not-pointed", "share"): stretch_share,
    ("turnout-lost-in-air", "loss"): foot_turnout_lost,
    ("landing-off-axis", "margin"): support_margin,
    ("landing-off-axis", "settling"): mass_time,
    ("off-the-count", "late"): mass_time,
    ("off-the-count", "spread"): mass_time,
    ("balance-sways", "area"): sway,
    ("balance-hops", "shift"): way_on_floor,
    ("balance-hops", "turn"): foot_turned_on_floor,
    ("balance-heel-sinks", "sink"): heel_sunk,
}


def drawing_of(finding: Finding, review: Review, evidence: Evidence | None = None) -> Drawing | None:
    """What to draw for a finding; None for a correction of the teacher's own, and where the body parts were not seen.

    evidence: of the review, where many findings are drawn.
    """
    draw = DRAW.get((finding.fault, finding.measure))
    if draw is None:
        return None
    evidence = evidence or Evidence(review.movement, review.phrase)
    seen = Seen(finding, evidence, observation_of(finding, evidence))
    shapes, reading, place = draw(seen)
    words = numbers.together(say.value(finding))
    drawing = Drawing(finding.id, seen.frame / evidence.rate_hz, tuple(shapes), reading, place, words, _turns(seen))
    return drawing if all(np.isfinite(point).all() for point in drawing.points) else None
