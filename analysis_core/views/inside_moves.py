"""How a body is moved towards the edge of a band, a move for each way in which a number is made: few joints turned, feet where
they were. None where the legs do not reach or a foot would have to leave the floor.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..body.anatomy import LEG_JOINTS, OTHER
from ..body.geometry import UP
from ..body.movement import JOINTS, SEGMENTS, SIDES, SUFFIXES
from ..body.rotations import turned_by
from ..take import Floats
from . import pose as body
from .drawing import Sweep
from .moment import flat, normed, sweep_between
from .pose import Part, Pose
from .seen import Seen

#: Solved to within this, radians or metres; in at most so many steps.
_CLOSE, _STEPS = 1e-6, 40


@dataclass(frozen=True)
class Asked:
    """seen: the finding with its moment; pose: the dancer there; change: how far the number has to go to the nearest edge, in its
    unit; turn_rad: the same for a drawn angle, right-handed about the drawn axis; sweep: that angle."""

    seen: Seen
    pose: Pose
    change: float
    turn_rad: float
    sweep: Sweep | None

    @property
    def side(self) -> str:
        return self.seen.side

    @property
    def axis(self) -> Floats:
        """The axis of the drawn angle."""
        assert self.sweep is not None
        return self.sweep.axis


Move = Callable[[Asked], Pose | None]


def _solved(make: Callable[[float], Pose | None], reads: Callable[[Pose], float], aim: float, step: float) -> Pose | None:
    """The pose that reads ``aim``: by secants from 0 and ``step``; None where no such pose is found."""
    places, values = [0.0, step], []
    for place in places:
        pose = make(place)
        if pose is None:
            return None
        values.append(reads(pose) - aim)
    for _ in range(_STEPS):
        if abs(values[-1]) < _CLOSE:
            return make(places[-1])
        slope = (values[-1] - values[-2]) / (places[-1] - places[-2]) if places[-1] != places[-2] else 0.0
        if not np.isfinite(slope) or abs(slope) < 1e-9:
            return None
        places.append(places[-1] - float(np.clip(values[-1] / slope, -0.5, 0.5)))
        pose = make(places[-1])
        if pose is None:
            return None
        values.append(reads(pose) - aim)
    return None


# Turned as drawn ----------------------------------------------------------------------------------------------------------------


def _block(part: Callable[[str], Part], joint: str, *, sided: bool = False) -> Move:
    """Turn a part about a joint by the drawn angle. sided: of the leg that works, in the air; None while its foot stands."""

    def move(asked: Asked) -> Pose | None:
        if sided and asked.seen.evidence.on(asked.side)[asked.seen.frame]:
            return None
        about = asked.pose.joint(joint, asked.side if sided else None)
        return asked.pose.turned(part(asked.side), asked.axis, asked.turn_rad, about)

    return move


def trunk(asked: Asked) -> Pose | None:
    """All above the pelvis turned about the lumbosacral joint until the line from hips to neck stands as it would."""
    about = asked.pose.joint("lumbar")
    part = Part((), ("lumbar",)) + body.CHEST

    def line(pose: Pose) -> Floats:
        return pose.joint("neck") - pose.joint("pelvis")

    first = line(asked.pose)
    return _solved(
        lambda angle: asked.pose.turned(part, asked.axis, angle, about),
        lambda pose: sweep_between(first, line(pose), asked.axis),
        asked.turn_rad,
        asked.turn_rad,
    )


def _pelvis(asked: Asked, axis: Floats, about: Floats) -> Pose | None:
    """Turn the pelvis; the trunk goes with it as it is, standing legs reach for their feet, lifted ones hang on their hips."""
    pose = asked.pose.turned(body.PELVIS + Part(("lumbar",), ()), axis, asked.turn_rad, about)
    shift = pose.joint("lumbar") - asked.pose.joint("lumbar")
    pose = pose.shifted(Part((), ("lumbar",)) + body.CHEST, shift)
    return _on_feet(asked, pose)


def _on_feet(asked: Asked, pose: Pose) -> Pose | None:
    """After the hips moved: legs whose foot is on the floor reach for it, the others go with their hips."""
    for side in SIDES:
        now = pose.joint("hip", side)
        shift = now - asked.pose.joint("hip", side)
        if float(np.linalg.norm(shift)) < 1e-12:
            continue
        if not asked.seen.evidence.on(side)[asked.seen.frame]:
            pose = pose.shifted(body.leg(side), shift)
            continue
        # The leg is still as it was; only its hip has gone.
        back = pose.joints.copy()
        back[JOINTS.index("hip" + SUFFIXES[side])] = asked.pose.joint("hip", side)
        reached = replace(pose, joints=back).reaching(side, now, asked.pose.joint("ankle", side))
        if reached is None:
            return None
        joints = reached.joints.copy()
        joints[JOINTS.index("hip" + SUFFIXES[side])] = now
        pose = replace(reached, joints=joints)
    return pose


def pelvis_tilt(asked: Asked) -> Pose | None:
    """The pelvis tipped about the hips."""
    return _pelvis(asked, asked.axis, asked.pose.joint("pelvis"))


def pelvis_level(asked: Asked) -> Pose | None:
    """The pelvis levelled over the standing hip; over its middle on two feet."""
    one = asked.seen.finding.measure == "one_foot"
    about = asked.pose.joint("hip", OTHER[asked.side]) if one else asked.pose.joint("pelvis")
    forward = flat(asked.axis)
    return _pelvis(asked, forward, about)


def _other_stands(asked: Asked) -> bool:
    """Whether the other foot is on the floor, so that the body cannot be carried along."""
    return bool(asked.seen.evidence.on(OTHER[asked.side])[asked.seen.frame])


def standing_knee(asked: Asked) -> Pose | None:
    """The standing knee straightened or unlocked over its foot: all above is carried along the line of the leg."""
    pose, side = asked.pose, asked.side
    hip, knee, ankle = (pose.joint(name, side) for name in LEG_JOINTS)
    bend = sweep_between(knee - hip, ankle - knee, asked.axis) + asked.turn_rad
    upper, lower = float(np.linalg.norm(knee - hip)), float(np.linalg.norm(ankle - knee))
    length = np.sqrt(upper**2 + lower**2 + 2 * upper * lower * np.cos(bend))
    to = ankle + length * normed(hip - ankle)
    past = bool(bend * (bend - asked.turn_rad) < 0)
    moved = None if _other_stands(asked) else pose.reaching(side, to, ankle, np.pi if past else 0.0)
    if moved is None:
        return None
    return moved.shifted(body.PELVIS + body.TRUNK + body.leg(OTHER[side]), to - hip)


def whole_axis(asked: Asked) -> Pose | None:
    """The whole body but the standing foot brought over that foot."""
    side, ball = asked.side, asked.pose.point(asked.side, "ball")
    still = body.foot(side)
    ankle = asked.pose.joint("ankle", side)
    part = Part(
        tuple(name for name in body.WHOLE.joints if name not in still.joints),
        tuple(name for name in body.WHOLE.segments if name not in still.segments),
        (OTHER[side],),
    )

    def make(angle: float) -> Pose:
        pose = asked.pose.turned(part, asked.axis, angle, ankle)
        turn = turned_by(angle * asked.axis)
        return replace(pose, mass=turn @ (asked.pose.mass - ankle) + ankle)

    def reads(pose: Pose) -> float:
        return sweep_between(UP, pose.mass - ball, asked.axis)

    return _solved(make, reads, reads(asked.pose) + asked.turn_rad, asked.turn_rad)


# Legs and feet ------------------------------------------------------------------------------------------------------------------


def _knee_over(pose: Pose, side: str, twist: float) -> Pose | None:
    return pose.reaching(side, pose.joint("hip", side), pose.joint("ankle", side), twist)


def knee_direction(pose: Pose, side: str) -> Floats:
    hip, knee, ankle = (pose.joint(name, side) for name in LEG_JOINTS)
    line = normed(ankle - hip)
    away = knee - hip
    return flat(away - line * (line @ away))


def knee_turned(asked: Asked) -> Pose | None:
    """The leg turned about the line from hip to ankle until the knee points where it would; the foot stays."""
    first = knee_direction(asked.pose, asked.side)

    def reads(pose: Pose) -> float:
        return sweep_between(first, knee_direction(pose, asked.side), UP)

    return _solved(lambda twist: _knee_over(asked.pose, asked.side, twist), reads, asked.turn_rad, -asked.turn_rad)


def knee_in_plane(asked: Asked) -> Pose | None:
    """The same until the knee is so much nearer to the upright plane of its foot."""
    side, pose = asked.side, asked.pose
    foot = flat(pose.point(side, "ball") - pose.point(side, "heel"))
    inward = np.cross(UP, foot) * (-1.0 if side == "left" else 1.0)

    def reads(other: Pose) -> float:
        return float(other.joint("knee", side) @ inward)

    return _solved(lambda twist: _knee_over(pose, side, twist), reads, reads(pose) + asked.change / 1000, 0.05)


def foot_turned(asked: Asked) -> Pose | None:
    """The foot turned over its ball, which stays, and the leg with it."""
    side, pose = asked.side, asked.pose
    turned = pose.turned(body.foot(side), UP, asked.turn_rad, pose.point(side, "ball"))
    ball = pose.point(side, "ball")
    ankle = turned_by(asked.turn_rad * UP) @ (pose.joint("ankle", side) - ball) + ball
    # About the line of the leg, which points down, the other way round.
    twist = asked.turn_rad * float(np.sign((ankle - pose.joint("hip", side)) @ UP))
    reached = _with_ankle(turned, side, ankle, twist)
    if reached is not None:
        return reached
    # On a stretched leg all above goes with the ankle.
    if _other_stands(asked):
        return None
    twisted = _knee_over(pose, side, twist)
    if twisted is None:
        return None
    kept = replace(twisted, joints=twisted.joints.copy(), feet=turned.feet)
    for name in body.foot(side).joints:
        kept.joints[JOINTS.index(name)] = turned.joints[JOINTS.index(name)]
    for name in body.foot(side).segments:
        row = SEGMENTS.index(name)
        kept.rotations[row], kept.origins[row] = turned.rotations[row], turned.origins[row]
    return kept.shifted(_above(side), ankle - pose.joint("ankle", side)).shifted(
        Part(("ankle" + SUFFIXES[side],), ()), ankle - pose.joint("ankle", side)
    )


def _above(side: str) -> Part:
    """All but a foot and its ankle."""
    x = SUFFIXES[side]
    return Part(("knee" + x,), ("thigh" + x, "shank" + x)) + body.PELVIS + body.TRUNK + body.leg(OTHER[side])


def _with_ankle(pose: Pose, side: str, ankle: Floats, twist: float = 0.0) -> Pose | None:
    """The leg reaching for an ankle that has moved with its foot, which is there already."""
    feet, joints, rotations, origins = pose.feet.copy(), pose.joints.copy(), pose.rotations.copy(), pose.origins.copy()
    reached = pose.reaching(side, pose.joint("hip", side), ankle, twist)
    if reached is None:
        return None
    new_joints, new_rotations, new_origins = reached.joints.copy(), reached.rotations.copy(), reached.origins.copy()
    for name in body.foot(side).joints:
        new_joints[JOINTS.index(name)] = joints[JOINTS.index(name)]
    for name in body.foot(side).segments:
        row = SEGMENTS.index(name)
        new_rotations[row], new_origins[row] = rotations[row], origins[row]
    return replace(reached, joints=new_joints, rotations=new_rotations, origins=new_origins, feet=feet)


def _heel_to(asked: Asked, change_m: float) -> Pose | None:
    """The heel higher or lower over the ball, which stays. The ankle goes with it: the leg reaches with the hip in its place;
    where it is too short or the dancer stands on relevé, all above goes with the ankle."""
    side, pose = asked.side, asked.pose
    ball = pose.point(side, "ball")
    across = normed(np.cross(UP, flat(ball - pose.point(side, "heel"))))

    def make(angle: float) -> Pose:
        return pose.turned(body.foot(side) + Part(("ankle" + SUFFIXES[side],), ()), across, angle, ball)

    def reads(other: Pose) -> float:
        return float(other.point(side, "heel")[2])

    tipped = _solved(make, reads, reads(pose) + change_m, -change_m / 0.2)
    if tipped is None:
        return None
    ankle = tipped.joint("ankle", side)
    joints = tipped.joints.copy()
    joints[JOINTS.index("ankle" + SUFFIXES[side])] = pose.joint("ankle", side)
    still = replace(tipped, joints=joints)
    reached = None if asked.seen.finding.fault in _ON_RELEVE else _with_ankle(still, side, ankle)
    if reached is not None:
        return reached
    if _other_stands(asked):
        return None
    shift = ankle - pose.joint("ankle", side)
    return tipped.shifted(_above(side), shift)


_ON_RELEVE = ("low-releve", "balance-heel-sinks")


def heel(asked: Asked) -> Pose | None:
    """The heel as much lower as the number has to go; for a heel that sinks, higher."""
    sinks = asked.seen.finding.fault == "balance-heel-sinks"
    return _heel_to(asked, (-1.0 if sinks else 1.0) * asked.change / 1000)


def heel_share(asked: Asked) -> Pose | None:
    """The heel at a share of the dancer's own highest."""
    own = float(asked.seen.evidence.movement.standing.releve_m[SIDES.index(asked.side)])
    return _heel_to(asked, asked.change * own) if np.isfinite(own) else None


def foot_stretched(asked: Asked) -> Pose | None:
    """The foot stretched to a share of the dancer's own furthest, about its ankle."""
    own = float(asked.seen.evidence.movement.standing.pointed_rad[SIDES.index(asked.side)])
    if not np.isfinite(own):
        return None
    pose, side = asked.pose, asked.side
    ankle = pose.joint("ankle", side)
    axis = normed(np.cross(pose.point(side, "ball") - ankle, ankle - pose.joint("knee", side)))
    return pose.turned(body.foot(side), axis, asked.change * own, ankle)


# Arms ---------------------------------------------------------------------------------------------------------------------------


def _arm_up(asked: Asked, side: str, end: str, change_m: float) -> Pose | None:
    """The arm lifted about its shoulder until its hand or wrist (end) is so much higher along the chest's upright."""
    pose = asked.pose
    up, shoulder = pose.axes("thorax")[:, 1], pose.joint("shoulder", side)
    axis = normed(np.cross(pose.joint(end, side) - shoulder, up))

    def reads(other: Pose) -> float:
        return float(other.joint(end, side) @ up)

    return _solved(
        lambda angle: pose.turned(body.arm(side), axis, angle, shoulder), reads, reads(pose) + change_m, change_m / 0.5
    )


def hand_lifted(asked: Asked) -> Pose | None:
    """The hand that sank, higher again."""
    return _arm_up(asked, asked.side, asked.seen.evidence.end_of_arm(asked.side), -asked.change / 1000)


def hands_even(asked: Asked) -> Pose | None:
    """The lower hand, nearer to the other's height."""
    up, end = asked.pose.axes("thorax")[:, 1], asked.seen.evidence.end_of_arm(*SIDES)
    lower = min(SIDES, key=lambda side: float(asked.pose.joint(end, side) @ up))
    return _arm_up(asked, lower, end, -asked.change / 1000)


def shoulder_lowered(asked: Asked) -> Pose | None:
    """The shoulder lower, turned about the base of the neck; its arm hangs on it as it was."""
    pose, side = asked.pose, asked.side
    up, neck = pose.axes("thorax")[:, 1], pose.joint("neck")
    before = pose.joint("shoulder", side)
    axis = normed(np.cross(before - neck, up))
    x = SUFFIXES[side]
    part = Part(("shoulder" + x,), ("clavicle" + x,))

    def reads(other: Pose) -> float:
        return float(other.joint("shoulder", side) @ up)

    moved = _solved(
        lambda angle: pose.turned(part, axis, angle, neck), reads, reads(pose) + asked.change / 1000, asked.change / 200
    )
    return None if moved is None else moved.shifted(body.arm(side), moved.joint("shoulder", side) - before)


_HEAD = _block(lambda _: body.HEAD, "neck")
_CHEST = _block(lambda _: body.CHEST, "lumbar")
#: Fault and measure -> how the body is moved. What is not here has no pose of its own: hops, travelling, counts, forces, times.
MOVES: dict[tuple[str, str], Move] = {
    ("trunk-leans", "pitch"): trunk,
    ("side-bends", "roll"): trunk,
    ("ribs-flare", "tip"): _CHEST,
    ("shoulders-lead", "twist"): _CHEST,
    ("head-lifts", "pitch"): _HEAD,
    ("head-lifts", "roll"): _HEAD,
    ("late-spot", "apart"): _HEAD,
    ("back-arches", "tilt"): pelvis_tilt,
    ("pelvis-tucks", "tilt"): pelvis_tilt,
    ("hip-hikes", "one_foot"): pelvis_level,
    ("hip-hikes", "two_feet"): pelvis_level,
    ("shoulders-lift", "height"): shoulder_lowered,
    ("arms-drop", "drop"): hand_lifted,
    ("arms-drop", "difference"): hands_even,
    ("axis-tilts", "tilt"): whole_axis,
    ("knee-inside-toes", "angle"): knee_turned,
    ("knee-inside-toes", "displacement"): knee_in_plane,
    ("foot-forces-turnout", "angle"): knee_turned,
    ("turnout-lost-working", "loss"): knee_turned,
    ("turnout-lost-supporting", "loss"): foot_turned,
    ("turnout-lost-finish", "loss"): foot_turned,
    ("turnout-lost-finish", "skid"): foot_turned,
    ("turnout-lost-in-air", "loss"): foot_turned,
    ("foot-slips-parallel", "yaw"): foot_turned,
    ("balance-hops", "turn"): foot_turned,
    ("knee-bends-supporting", "flexion"): standing_knee,
    ("knee-hyperextends", "beyond"): standing_knee,
    ("knee-bends-working", "flexion"): _block(body.shank, "knee", sided=True),
    ("uneven-height", "difference"): _block(body.leg, "hip", sided=True),
    ("foot-sickles", "working"): _block(body.foot, "ankle", sided=True),
    ("heels-lift-in-plie", "height"): heel,
    ("heels-miss-floor", "height"): heel,
    ("heel-lifts-early", "height"): heel,
    ("balance-heel-sinks", "sink"): heel,
    ("low-releve", "share"): heel_share,
    ("feet-not-pointed", "share"): foot_stretched,
}
