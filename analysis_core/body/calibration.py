"""The dancer's own body from a moment of standing still: where each landmark and joint centre lies in its segment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ..errors import LandmarkError
from ..take import Floats
from ..wording import capture as say
from .anatomy import (
    ANKLE_BREADTH,
    ARM_JOINTS,
    BALL,
    BESIDE_JOINT,
    ELBOW_BREADTH,
    FOOT_BREADTH,
    HEEL,
    HIP_BONES,
    KNEE_BREADTH,
    LEG_JOINTS,
    LEG_SHARE,
    MARKER_RADIUS_M,
    MIDDLE_OF_TRUNK,
    ON_AXIS,
    PELVIS_BREADTH,
    PELVIS_FRONT_ABOVE_HIPS,
    SHOULDER_BELOW_ACROMION,
    SIDE_SIGNS,
    SIDE_SUFFIXES,
    TOP_OF_TRUNK,
)
from .fit_arms import ElbowSeen
from .fit_legs import FittedLeg
from .geometry import UP, apply, cross, dot, frame_from_y, frame_from_y_and_x, frame_from_z, horizontal, reject, unit
from .hip_centre import hara, harrington
from .rigid import fit_rigid_of_each_frame

#: Lumbosacral joint from the middle of the front pelvis landmarks, shares of the pelvis width, forward and up; from memory.
_LUMBOSACRAL = np.array([-0.264, 0.126, 0.0])
#: The thigh marker's plane is believed as the plane of the knee axis only within this angle of the foot's own side axis.
_LARGEST_AXIS_DOUBT = np.radians(45.0)
_LEAST_THIGH_OFFSET_M = 0.02

_SIDED_JOINTS = (*LEG_JOINTS, *ARM_JOINTS, "hand")


@dataclass(frozen=True)
class Calibration:
    """A standing body, each segment in its own axes. landmarks: place (3,) of every landmark by segment and name, (F, 3)
    where ``of_each_frame``; joints: likewise of joint centres (and points of the foot) by segment and
    name; stature_m; notes: what was assumed.
    """

    landmarks: dict[str, dict[str, Floats]]
    joints: dict[str, dict[str, Floats]]
    stature_m: float
    notes: tuple[str, ...]
    #: What is not known of where a joint is beyond the ordinary, 1 SD, metres, by joint: markers did not say it.
    unknown_m: Mapping[str, float] = field(default_factory=dict)
    #: Whether every frame is another body's.
    of_each_frame: bool = False


@dataclass(frozen=True)
class Functional:
    """What the movement itself told of a body, by side (".L", ".R"); a side that it did not tell is missing.

    hips: hip centre (3,) in the axes of the pelvis, metres; knee_axes: unit vector (3,) to the dancer's right in the axes of the
    thigh as landmarks alone give them; residual_m: how far apart pelvis and thigh see the hip. legs: fitted to the whole movement
    where landmarks alone do not say where the joints are; feet: places (3,) of the foot's landmarks and of "ankle" in such a foot
    that stands flat, Z up, facing along X. stature_m: from the heights of the whole body (None: from the legs). neck_up_m,
    head_down_m: how far the markers of neck and head sit below and above where a human body has them. elbows: where their
    markers sit.
    """

    hips: Mapping[str, Floats] = field(default_factory=dict)
    knee_axes: Mapping[str, Floats] = field(default_factory=dict)
    residual_m: Mapping[str, float] = field(default_factory=dict)
    legs: Mapping[str, FittedLeg] = field(default_factory=dict)
    feet: Mapping[str, Mapping[str, Floats]] = field(default_factory=dict)
    stature_m: float | None = None
    neck_up_m: float = 0.0
    head_down_m: float = 0.0
    elbows: Mapping[str, ElbowSeen] = field(default_factory=dict)
    #: Joints whose own markers sit elsewhere.
    displaced: frozenset[str] = frozenset()

    def __bool__(self) -> bool:
        return bool(self.hips or self.knee_axes or self.legs or self.neck_up_m or self.head_down_m or self.elbows)


class _Builder:
    """Collects local coordinates while the segments are built one after another."""

    def __init__(self, places: dict[str, Floats], segment_of: dict[str, str]) -> None:
        self.places = places
        self.segment_of = segment_of
        self.landmarks: dict[str, dict[str, Floats]] = {}
        self.joints: dict[str, dict[str, Floats]] = {}
        self.notes: list[str] = []
        self.stature = np.array(np.nan)

    def has(self, *names: str) -> bool:
        return all(name in self.places for name in names)

    def of_stature(self, share: float) -> Floats:
        """So much of the stature (..., 1), as long as vectors are multiplied with it."""
        return np.asarray(share * self.stature[..., None])

    def add(self, segment: str, frame: Floats, origin: Floats, joints: dict[str, Floats]) -> None:
        if not (np.isfinite(frame).all() and np.isfinite(origin).all()):
            # Its markers lie on one line or in one place: nothing says how it is turned, and it is left out.
            return
        stem, point, suffix = segment.partition(".")
        # Markers on a joint's axis hardly move against the segment beyond it: they hold that segment too.
        shared = [
            name + suffix for name in (f"{place}{point}" for place in ON_AXIS.get(stem, ())) if name + suffix in self.places
        ]
        own = [name for name, part in self.segment_of.items() if part == segment and name in self.places] + shared
        seen_from = np.swapaxes(frame, -1, -2)
        self.landmarks[segment] = {name: apply(seen_from, self.places[name] - origin) for name in own}
        # Joints of a sided segment carry its side; points of the foot belong to the segment alone.
        side = point + suffix
        self.joints[segment] = {
            (name + side if name in _SIDED_JOINTS else name): apply(seen_from, place - origin) for name, place in joints.items()
        }


def _inward(builder: _Builder, lateral: str, medial: str, to_inside: Floats, half_breadth: Floats) -> tuple[Floats, bool]:
    """Joint centre between two landmarks, or half a breadth inside the outer one; and whether both were there."""
    places = builder.places
    if builder.has(lateral, medial):
        return 0.5 * (places[lateral] + places[medial]), True
    return places[lateral] + (half_breadth + MARKER_RADIUS_M) * to_inside, False


def _length(vectors: Floats) -> Floats:
    """Lengths (...,) of vectors (..., 3)."""
    return np.asarray(np.linalg.norm(vectors, axis=-1))


def _pelvis(builder: _Builder) -> tuple[Floats, Floats, Floats, Floats]:
    """Axes and origin of the pelvis, its width and depth."""
    places = builder.places
    front = [places[HIP_BONES[0] + suffix] for suffix in SIDE_SUFFIXES]
    back_names = [HIP_BONES[1] + suffix for suffix in SIDE_SUFFIXES]
    back = 0.5 * (places[back_names[0]] + places[back_names[1]]) if builder.has(*back_names) else places["sacrum"]
    middle = 0.5 * (front[0] + front[1])
    frame = frame_from_z(front[1] - front[0], middle - back)
    return frame, middle, _length(front[1] - front[0]), _length(middle - back)


def _leg_length(builder: _Builder) -> Floats | None:
    """From the front of the pelvis over the knee to the ankle (catalogue 1.3), the longer leg; None without leg markers."""
    places = builder.places
    lengths = []
    for suffix in SIDE_SUFFIXES:
        names = [height[0] + suffix for height in (HIP_BONES, BESIDE_JOINT["knee"], BESIDE_JOINT["ankle"])]
        if builder.has(*names):
            top, knee, ankle = (places[name] for name in names)
            lengths.append(_length(top - knee) + _length(knee - ankle))
    return np.max(lengths, axis=0) if lengths else None


def _across_foot(builder: _Builder, suffix: str, forward: Floats) -> Floats:
    """Horizontal direction to the dancer's right, at right angles to the foot; to the pelvis where the foot is not known."""
    places = builder.places
    toe = next((n + suffix for n in BALL[:2] if builder.has(n + suffix)), None)
    heel = HEEL + suffix
    along = places[toe] - places[heel] if toe and builder.has(heel) else forward
    return cross(unit(horizontal(along)), UP)


def _knee_axis(builder: _Builder, suffix: str, sign: float, hip: Floats, across: Floats) -> Floats:
    """The knee's axis pointing to the dancer's right: epicondyles, else the thigh marker's plane, else across the foot."""
    places = builder.places
    outer, inner, thigh = (n + suffix for n in (*BESIDE_JOINT["knee"], "thigh_1"))
    if builder.has(outer, inner):
        return unit(sign * (places[outer] - places[inner]))
    if builder.has(thigh):
        # How far the thigh marker stands off the line hip-knee marker, to the side; too little says nothing.
        off = reject(places[thigh] - hip, unit(places[outer] - hip))
        axis = unit(off) * np.sign(dot(off, across))[..., None]
        near = np.arccos(np.clip(dot(axis, across), -1, 1)) < _LARGEST_AXIS_DOUBT
        return np.where((near & (_length(off) > _LEAST_THIGH_OFFSET_M))[..., None], axis, across)
    return across


def _leg(builder: _Builder, suffix: str, sign: float, hip: Floats, pelvis: Floats, turned: Floats | None) -> None:
    """One leg; turned: the knee's axis in the laboratory where the movement told it."""
    places = builder.places
    across = _across_foot(builder, suffix, pelvis[:, 0])
    knee_outer, knee_inner, ankle_outer, ankle_inner = (
        name + suffix for joint in ("knee", "ankle") for name in BESIDE_JOINT[joint]
    )
    if not builder.has(knee_outer, ankle_outer):
        return
    axis = _knee_axis(builder, suffix, sign, hip, across) if turned is None else turned
    # With one outer marker the centre lies inside it, at right angles to the line hip-marker.
    inside = unit(reject(-sign * axis, unit(hip - places[knee_outer])))
    knee, both = _inward(builder, knee_outer, knee_inner, inside, builder.of_stature(KNEE_BREADTH / 2))
    if not both:
        builder.notes.append(say.NO_INNER_KNEE)
    if builder.has(ankle_inner):
        across = unit(sign * (places[ankle_outer] - places[ankle_inner]))
    ankle, _ = _inward(builder, ankle_outer, ankle_inner, -sign * across, builder.of_stature(ANKLE_BREADTH / 2))
    thigh = frame_from_y(hip - knee, axis)
    builder.add("thigh" + suffix, thigh, knee, {"hip": hip, "knee": knee})
    shank = frame_from_y(knee - ankle, across)
    builder.add("shank" + suffix, shank, ankle, {"knee": knee, "ankle": ankle})
    _foot(builder, suffix, sign, ankle)


def _fitted_leg(builder: _Builder, suffix: str, sign: float, leg: FittedLeg, foot: Mapping[str, Floats]) -> None:
    """A leg whose joints the movement told: the markers are where the fit has them, on their own segment only."""
    nowhere = np.zeros(3)
    thigh, shank, knee = np.array([0.0, leg.thigh_m, 0.0]), np.array([0.0, leg.shank_m, 0.0]), "knee" + suffix
    builder.landmarks |= {"thigh" + suffix: dict(leg.thigh), "shank" + suffix: dict(leg.shank)}
    builder.joints |= {
        "thigh" + suffix: {"hip" + suffix: thigh, knee: nowhere},
        "shank" + suffix: {knee: shank, "ankle" + suffix: nowhere},
    }
    of_foot = _Builder(dict(foot), {name: part for name, part in builder.segment_of.items() if name in foot})
    of_foot.stature = builder.stature
    _foot(of_foot, suffix, sign, foot["ankle"])
    builder.landmarks |= of_foot.landmarks
    builder.joints |= of_foot.joints


def _foot(builder: _Builder, suffix: str, sign: float, ankle: Floats) -> None:
    places = builder.places
    heel = places.get(HEEL + suffix)
    heads = [places.get(f"{n}_metatarsal_head{suffix}") for n in ("first", "second", "fifth")]
    first, second, fifth = heads
    if second is None and first is not None and fifth is not None:
        second = 0.6 * first + 0.4 * fifth
    if heel is None or second is None:
        return
    along = unit(horizontal(second - heel))
    outward = sign * cross(along, UP)
    # The forefoot is as broad as its markers show; a lone middle marker is completed by a usual breadth.
    half = builder.of_stature(0.4 * FOOT_BREADTH)
    inner = first if first is not None else second - half * outward
    outer = fifth if fifth is not None else second + half * outward
    tip = places.get("big_toe_tip" + suffix)
    foot = np.stack([along, np.broadcast_to(UP, along.shape), cross(along, UP)], axis=-1)
    joints = {"ankle": ankle, "heel": heel, "ball_medial": inner, "ball_lateral": outer}
    length = _length(horizontal(0.5 * (inner + outer) - heel))[..., None]
    joints["toe"] = tip if tip is not None else 0.5 * (inner + outer) + 0.35 * length * along
    builder.add("foot" + suffix, foot, ankle, joints)


def _trunk(builder: _Builder, pelvis: Floats, middle_of_pelvis: Floats, neck_up_m: float) -> tuple[Floats, Floats]:
    """Frame of the thorax and the base of the neck, which is its origin; also what the pelvis says where landmarks lack.

    neck_up_m: how far above its landmarks the base of the neck lies.
    """
    places = builder.places
    front, back = (places.get(name) for name in TOP_OF_TRUNK)
    shoulders = [places[name] for name in ("acromion.L", "acromion.R") if builder.has(name)]
    tops = [place for place in (back, front) if place is not None] or shoulders
    if not tops:
        raise LandmarkError("no marker of the upper trunk (seventh cervical vertebra, suprasternal notch or acromion) is known")
    neck = np.mean(tops, axis=0)
    lower = [places[name] for name in MIDDLE_OF_TRUNK if builder.has(name)]
    bottom = np.mean(lower, axis=0) if len(lower) == 2 else middle_of_pelvis
    across = shoulders[1] - shoulders[0] if len(shoulders) == 2 else pelvis[..., 2]
    # ISB: Z at right angles to the plane of the four trunk landmarks; without them across the shoulders.
    forward = front - back if front is not None and back is not None else cross(UP, across)
    frame = frame_from_y_and_x(neck - bottom, forward)
    neck = neck + neck_up_m * frame[..., 1]
    joints = {"neck": neck}
    for suffix in SIDE_SUFFIXES:
        if builder.has("acromion" + suffix):
            below = builder.of_stature(SHOULDER_BELOW_ACROMION) + MARKER_RADIUS_M
            joints["acromion" + suffix] = places["acromion" + suffix]
            joints["shoulder" + suffix] = places["acromion" + suffix] - below * frame[..., 1]
    builder.add("thorax", frame, neck, joints)
    if "thorax" not in builder.landmarks:
        raise LandmarkError("the markers of the trunk lie on one line or in one place, so that its axes are not known")
    return frame, neck


def _head(builder: _Builder, thorax_forward: Floats, down_m: float) -> None:
    sides = SIDE_SUFFIXES
    fronts = [builder.places[f"front_of_head{s}"] for s in sides if builder.has(f"front_of_head{s}")]
    backs = [builder.places[f"back_of_head{s}"] for s in sides if builder.has(f"back_of_head{s}")]
    if len(fronts) + len(backs) < 3:
        return
    centre = 0.5 * (np.mean(fronts, axis=0) + np.mean(backs, axis=0))
    # The markers' band is tilted by how it was put on: standing still, the head is taken to be upright.
    along = horizontal(np.mean(fronts, axis=0) - np.mean(backs, axis=0))
    if len(fronts) + len(backs) == 3:
        along = thorax_forward
    builder.add("head", frame_from_y_and_x(np.broadcast_to(UP, along.shape), along), centre, {"head": centre - down_m * UP})


def _arm(builder: _Builder, suffix: str, sign: float, shoulder: Floats, thorax: Floats, above_m: float) -> None:
    """Upper arm and forearm. above_m: how far the elbow's markers sit above the joint."""
    places = builder.places
    elbow_outer, elbow_inner = (name + suffix for name in BESIDE_JOINT["elbow"])
    outer = places.get(elbow_outer)
    radial, ulnar = (places.get(name + suffix) for name in BESIDE_JOINT["wrist"])
    wrists = [place for place in (radial, ulnar) if place is not None]
    if outer is None or not wrists:
        return
    wrist = np.mean(wrists, axis=0)
    along = unit(outer - shoulder)
    # Without an inner elbow marker the elbow's axis is the normal of the bent arm's plane, else the direction of the wrist's
    # two markers says which way the forearm's flat side looks.
    normal = cross(outer - shoulder, wrist - outer)
    bent = _length(normal) > 0.2 * _length(outer - shoulder) * _length(wrist - outer)
    flat = radial - ulnar if radial is not None and ulnar is not None else thorax[..., 0]
    inside = unit(reject(np.where(bent[..., None], normal, cross(flat, along)), along))
    inside = inside * np.where(dot(inside, -sign * thorax[..., 2]) >= 0, 1.0, -1.0)[..., None]
    half = builder.of_stature(ELBOW_BREADTH / 2)
    elbow, _ = _inward(builder, elbow_outer, elbow_inner, inside, half)
    elbow = elbow + above_m * unit(elbow - shoulder if above_m > 0 else wrist - elbow)
    builder.add(
        "upper_arm" + suffix, frame_from_y(shoulder - elbow, -sign * inside), elbow, {"shoulder": shoulder, "elbow": elbow}
    )
    forearm = frame_from_y_and_x(elbow - wrist, flat)
    joints = {"elbow": elbow, "wrist": wrist}
    if builder.has("third_metacarpal_head" + suffix):
        joints["hand"] = places["third_metacarpal_head" + suffix]
    builder.add("forearm" + suffix, forearm, wrist, joints)


def _missing_pelvis(builder: _Builder) -> str | None:
    front, back = ([name + suffix for suffix in SIDE_SUFFIXES] for name in HIP_BONES)
    if not builder.has(*front):
        return "both markers of the front of the pelvis (anterior superior iliac spines)"
    if not builder.has(*back) and not builder.has("sacrum"):
        return "the markers of the back of the pelvis (posterior superior iliac spines or sacrum)"
    return None


def _turned_axis(places: dict[str, Floats], plain: Calibration | None, functional: Functional, suffix: str) -> Floats | None:
    """The knee's axis of a side in the laboratory while standing, from what the movement told of it in the plain thigh's axes."""
    local = plain.landmarks.get("thigh" + suffix, {}) if plain is not None else {}
    if suffix not in functional.knee_axes or len(local) < 3:
        return None
    reference, measured = np.stack(list(local.values()), axis=-2), np.stack([places[name] for name in local], axis=-2)
    rotation, _, _ = fit_rigid_of_each_frame(*(points.reshape(-1, len(local), 3) for points in (reference, measured)))
    return apply(rotation.reshape(*measured.shape[:-2], 3, 3), functional.knee_axes[suffix])


def _hip_by_rule(width: Floats, depth: Floats, leg_length: Floats | None, sign: float) -> Floats:
    """Hip centre (…, 3) in the axes of the pelvis, by regression from its width and depth and the length of the leg."""
    # A pelvis deeper or flatter than bodies are has a misplaced back marker: leg length alone is the better guide then.
    local = harrington(width, depth, leg_length, sign)
    if leg_length is not None:
        plausible = (depth / width > 0.35) & (depth / width < 1.0)
        local = np.where(plausible[..., None], local, hara(leg_length, sign))
    # The regression starts at the bone; the markers stand off the skin.
    return np.asarray(local - np.array([MARKER_RADIUS_M, 0.0, 0.0]))


def calibrate(places: dict[str, Floats], segment_of: dict[str, str], functional: Functional | None = None) -> Calibration:
    """Build the standing body from the place (3,) of every landmark while the dancer stands still; Z up, metres.

    Of K bodies at once from places (K, 3): the places in the body are (K, 3) then, or (3,) where they are the same in all, and
    the stature is the first one's.

    segment_of: body part by landmark. Landmarks that are missing leave their part of the
    body out; a usual breadth stands in for inner knee, ankle and elbow markers that are missing, and is noted. functional: hip
    centres and knee axes that the movement told, in place of the regression and of the line between the epicondyles. Raises
    LandmarkError when pelvis or trunk cannot be built.
    Sources: joint centres by catalogue 1.1 and 1.3, breadths by ``proportions``.
    """
    builder = _Builder(places, segment_of)
    missing = _missing_pelvis(builder)
    if missing:
        raise LandmarkError(f"{missing} are not known")
    plain = calibrate(places, segment_of) if functional is not None and functional.knee_axes else None
    legs, elbows = (functional.legs, functional.elbows) if functional is not None else ({}, {})
    pelvis, middle, width, depth = _pelvis(builder)
    if not np.isfinite(pelvis).all():
        raise LandmarkError("the markers of the pelvis lie on one line or in one place, so that its axes are not known")
    leg_length = _leg_length(builder)
    builder.stature = width / PELVIS_BREADTH if leg_length is None else leg_length / (LEG_SHARE + PELVIS_FRONT_ABOVE_HIPS)
    if functional is not None and functional.stature_m is not None:
        builder.stature = np.array(functional.stature_m)
    hips = {}
    for suffix, sign in zip(SIDE_SUFFIXES, SIDE_SIGNS, strict=True):
        local = _hip_by_rule(width, depth, leg_length, sign)
        if functional is not None:
            local = legs[suffix].hip if suffix in legs else functional.hips.get(suffix, local)
        hips["hip" + suffix] = middle + apply(pelvis, local)
    lumbar = middle + apply(pelvis, _LUMBOSACRAL * width[..., None])
    builder.add("pelvis", pelvis, middle, {**hips, "lumbar": lumbar})
    for suffix, sign in zip(SIDE_SUFFIXES, SIDE_SIGNS, strict=True):
        if suffix in legs and functional is not None:
            _fitted_leg(builder, suffix, sign, legs[suffix], functional.feet[suffix])
            continue
        turned = _turned_axis(places, plain, functional, suffix) if functional is not None else None
        _leg(builder, suffix, sign, hips["hip" + suffix], pelvis, turned)
    thorax, neck = _trunk(builder, pelvis, middle, functional.neck_up_m if functional is not None else 0.0)
    for suffix, sign in zip(SIDE_SUFFIXES, SIDE_SIGNS, strict=True):
        local_shoulder = builder.joints["thorax"].get("shoulder" + suffix)
        if local_shoulder is not None:
            above_m = elbows[suffix].above_m if suffix in elbows else 0.0
            _arm(builder, suffix, sign, neck + apply(thorax, local_shoulder), thorax, above_m)
    _head(builder, thorax[..., 0], functional.head_down_m if functional is not None else 0.0)
    unknown = {joint + suffix: leg.sd[joint] for suffix, leg in legs.items() for joint in LEG_JOINTS}
    unknown |= {"elbow" + suffix: elbow.sd_m for suffix, elbow in elbows.items()}
    notes = tuple(dict.fromkeys(builder.notes))
    return Calibration(builder.landmarks, builder.joints, float(builder.stature.flat[0]), notes, unknown)
