"""What to draw for heights, lengths and ways."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..body.geometry import UP
from ..body.movement import SIDES
from ..phrase.phase import Jump, Landing
from .drawing import Area, Bracket, Line, Shape, Way
from .drawn_numbers import length
from .moment import flat, normed
from .seen import ABOVE_FLOOR_M, Seen, Shapes, on_floor, step_of, turns_of


def heel_height(seen: Seen) -> Shapes:
    """The heel above its own height on the flat foot."""
    now, side = seen.now, seen.side
    heel = now.foot(side, "heel")
    shapes, reading, place = length(seen, heel - UP * seen.value / 1000, heel, UP)
    ball = now.foot(side, "ball")
    return [*shapes, Line(heel, ball, "measured"), Line(on_floor(heel), on_floor(ball), "reference")], reading, place


def heel_sunk(seen: Seen) -> Shapes:
    """The heel below where it was."""
    now, side = seen.now, seen.side
    heel = now.foot(side, "heel")
    was = heel + UP * seen.value / 1000
    shapes, reading, place = length(seen, was, heel, -UP)
    ball = now.foot(side, "ball")
    return [*shapes, Line(was, ball, "reference"), Line(heel, ball, "measured")], reading, place


def forefoot_height(seen: Seen) -> Shapes:
    """The ball of the foot above the floor."""
    now, side = seen.now, seen.side
    ball = now.foot(side, "ball")
    base = ball - UP * seen.value / 1000
    shapes, reading, place = length(seen, base, ball, UP)
    direction = 0.12 * now.foot_direction(side)
    return [*shapes, Line(base - direction, base + direction, "reference")], reading, place


def arch_drop(seen: Seen) -> Shapes:
    """The inner arch below where it was: between heel and ball."""
    now, side = seen.now, seen.side
    arch = 0.5 * (now.foot(side, "heel") + now.foot(side, "ball_medial"))
    return length(seen, arch + UP * seen.value / 1000, arch, -UP)


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


def toe_off_leg(seen: Seen) -> Shapes:
    """The way of the toe straight away from the standing leg, which is drawn from the hip over the knee to the ankle."""
    now, working = seen.now, seen.side
    support = SIDES[1 - SIDES.index(working)]
    leg = [now.joint(name, support) for name in LEG_JOINTS]
    toe = now.joint("toe", working)
    from_bones = []
    for first, last in pairwise(leg):
        bone, beyond = last - first, toe - first
        share = float(np.clip(beyond @ bone / (bone @ bone), 0.0, 1.0))
        from_bones.append(beyond - share * bone)
    away = normed(from_bones[int(np.argmin(np.linalg.norm(from_bones, axis=1)))])
    shapes, reading, place = length(seen, toe - away * seen.value / 1000, toe, away)
    return [*shapes, *(Line(first, last, "aid") for first, last in pairwise(leg))], reading, place


def hand_sunk(seen: Seen) -> Shapes:
    """The hand below where it was, along the upright axis of the chest."""
    now, side = seen.now, seen.side
    hand, up = now.joint(seen.evidence.end_of_arm(side), side), now.axis("thorax", 1)
    was = hand + up * seen.value / 1000
    shapes, reading, place = length(seen, was, hand, -up)
    return [*shapes, Line(now.joint("elbow", side), hand, "measured")], reading, place


def hands_apart(seen: Seen) -> Shapes:
    """How much lower one hand is than the other has become, along the upright axis of the chest."""
    now, up = seen.now, seen.now.axis("thorax", 1)
    end = seen.evidence.end_of_arm(*SIDES)
    hands = [now.joint(end, side) for side in SIDES]
    lower = min(hands, key=lambda hand: float(hand @ up))
    shapes, reading, place = length(seen, lower + up * seen.value / 1000, lower, -up)
    return [*shapes, Line(hands[0], hands[1], "aid")], reading, place


def shoulder_up(seen: Seen) -> Shapes:
    """The shoulder above where it stands, along the upright axis of the chest."""
    now, side = seen.now, seen.side
    shoulder, up = now.joint("shoulder", side), now.axis("thorax", 1)
    shapes, reading, place = length(seen, shoulder - up * seen.value / 1000, shoulder, up)
    across = 0.5 * (now.joint("shoulder", "right") - now.joint("shoulder", "left"))
    middle = now.joint("neck")
    return [*shapes, Line(middle - across, middle + across, "aid")], reading, place


def hips_beside(seen: Seen) -> Shapes:
    """Middle of the hips beside the middle of the feet, on the floor."""
    now = seen.now
    across = flat(now.joint("ankle", "right") - now.joint("ankle", "left"))
    hips = now.joint("pelvis")
    tip = on_floor(hips)
    shapes, reading, place = length(seen, tip - across * seen.value / 1000, tip, across)
    feet = [on_floor(now.joint("ankle", side)) for side in SIDES]
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
    points[:, 2] = ABOVE_FLOOR_M
    known = np.isfinite(points).all(axis=1)
    tip = on_floor(seen.now.foot(side, point))
    first = points[known][0] if known.any() else tip
    along = flat(tip - first)
    length = seen.value / 1000 * turns_of(seen)
    base = tip - along * length
    times = seen.evidence.movement.time_s[start : seen.frame + 1]
    shapes: list[Shape] = [Bracket(base, tip, "measured"), Way(points[known], times[known], "measured")]
    high = seen.finding.band[1]
    if high is not None:
        circle = np.linspace(0, 2 * np.pi, 33)[:-1]
        radius = high / 1000 * turns_of(seen)
        corners = base + radius * np.stack([np.cos(circle), np.sin(circle), np.zeros_like(circle)], axis=1)
        shapes.append(Area(corners, "band"))
    return shapes, "length", 0.5 * (base + tip)


def support_margin(seen: Seen) -> Shapes:
    """Where the centre of mass is going, against the edge of the feet that carry."""
    now = seen.now
    points = np.concatenate([seen.evidence.movement.foot_points_m[seen.frame, index] for index in range(2)])
    low = points[np.isfinite(points).all(axis=1) & (points[:, 2] < points[:, 2].min() + 0.05)]
    middle = low.mean(axis=0) if len(low) else now.mass
    place = on_floor(now.mass)
    away = flat(place - on_floor(middle))
    # Inside the edge lies back towards the feet.
    edge = place + away * seen.value / 1000
    shapes, reading, number = length(seen, edge, place, -away)
    order = np.argsort(np.arctan2(low[:, 1] - middle[1], low[:, 0] - middle[0]))
    corners = low[order] * [1, 1, 0] + UP * ABOVE_FLOOR_M
    return [*shapes, Area(corners, "aid"), Line(now.mass, place, "aid")], reading, number


def jump_share(seen: Seen) -> Shapes:
    """The height of this jump, and of the best of the same step."""
    now = seen.now
    jump = step_of(seen, Jump)
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
    landing = step_of(seen, Landing)
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
