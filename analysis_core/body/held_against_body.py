"""The landmarks of a take held against a human body: what cannot be where its name says, and where the joints are then."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..known import nothing_known_gives_nan
from ..take import CleanedTake, Floats
from ..wording import capture as say
from ..wording.markers import marker_in_words
from .anatomy import (
    ARCH,
    BACK_OF_PELVIS_AT_MOST,
    BALL,
    BESIDE_JOINT,
    HEEL,
    HIP_BONES,
    LENGTHS,
    SIDE_SUFFIXES,
    TELL_STATURE,
    TOP_OF_TRUNK,
)
from .calibration import Calibration, Functional
from .fit_arms import elbows_seen
from .fit_legs import MOST_FRAMES, FittedLeg, LegSeen, expected_ankle_in_foot, fit_legs
from .floor import own_zero_is_floor
from .geometry import unit
from .landmarks import Recognition
from .movement import SIDE_SIGNS
from .rigid import fit_rigid
from .standing_places import standing_places

#: A length is human within so many spreads between people, and left and right within this share of each other. Proposed defaults.
_SPREADS, _SIDES_APART = 3.0, 0.05
#: Thigh and shank of one person are in proportion: beyond this (natural logarithm of their ratio over the table's) knees are not
#: where their markers are, or unusual; the movement says which. From memory (the crural index varies by 3 % between people),
#: proposed default of two such spreads.
_OUT_OF_PROPORTION = 0.06
#: Of the frames with both heels down the tallest part tells how high landmarks are on the standing dancer; feet come down to
#: their lowest this often, and heels are down within this of it, metres.
_TALLEST, _LOWEST, _HEEL_DOWN_M = 0.8, 0.05, 0.015
#: Whose head is lower than this share of its usual greatest height kneels, sits or lies: nothing is told by heels of theirs,
#: which come lower there than of any who stands. Proposed default.
_UP, _GREATEST = 0.75, 0.95
#: Beyond so much, metres, and so many standard errors a marker sits elsewhere than its name says. Proposed default: three times
#: what a marker is stuck beside its landmark (``marker_errors.toml``), and more than a thumb's breadth.
_ELSEWHERE_M, _SURE = 0.025, 2.0
#: An elbow is told by shoulder and wrist, whose own markers slide: it takes more standard errors. Of eighteen real arms the two
#: whose lengths are no body's lie at 11 and 14, all others at less than 3 or within an inch. Proposed default.
_SURE_OF_ELBOW = 4.0
#: What is said of where an ankle lies: the usual height and so much above and below it, metres. Proposed default.
_USUAL_SPREAD_M = 0.015
#: Part of the way by which a marker is misplaced that stays unknown of the joint, 1 SD. Proposed default.
_LEFT_OPEN = 0.15
#: A leg is fitted whose thigh and pelvis are seen in at least this share of the take. Proposed default.
_LEAST_SEEN = 0.1
#: A human neck may be this much too long for the table before its markers are doubted, in spreads.
_NECK_SPREADS = 2.5
(_OUTER_KNEE, _INNER_KNEE), (_OUTER_ANKLE, _INNER_ANKLE) = BESIDE_JOINT["knee"], BESIDE_JOINT["ankle"]
_OUTER_ELBOW = BESIDE_JOINT["elbow"][0]
_FRONT, _BACK = HIP_BONES


@dataclass(frozen=True)
class HeldAgainst:
    """What the check of a body gave. functional: what is to be built in place of what landmarks alone would give (None: nothing);
    sentences: what sits elsewhere than its name says, and what to do."""

    functional: Functional | None
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class _Seen:
    """A take's landmarks: places (F, 3) by name, and the body part of each; floor_m in the recording, stature_m."""

    places: Mapping[str, Floats]
    part_of: Mapping[str, str]
    floor_m: float
    stature_m: float
    tall: NDArray[np.bool_]

    def of(self, part: str) -> dict[str, Floats]:
        return {name: place for name, place in self.places.items() if self.part_of[name] == part}

    def height(self, names: Sequence[str]) -> float:
        """Height of the middle of some landmarks above the floor while the dancer is tallest; NaN when none is there."""
        with nothing_known_gives_nan():
            known = [float(np.nanmedian(self.places[name][self.tall, 2])) for name in names if name in self.places]
        return float(np.mean(known)) - self.floor_m if known else float("nan")


def _seen(cleaned: CleanedTake, recognition: Recognition) -> _Seen | None:
    """The landmarks with the stature that their heights tell; None when too few are there to tell it.

    The median over landmarks of height over expected share: a few that sit elsewhere do not matter, nor does a dancer who never
    stands quite still. Shoes and hats count into it.
    """
    places = {name: cleaned.smooth_m[:, index] for name, index in recognition.index_of.items()}
    part_of = {recognition.landmark_of[index]: part for index, part in recognition.segment_of.items()}
    heads = [place[:, 2] for name, place in places.items() if part_of[name] == "head"]
    tops = heads or [place[:, 2] for name, place in places.items() if part_of[name] == "thorax"]
    feet = [
        float(np.nanquantile(p[:, 2], _LOWEST))
        for n, p in places.items()
        if part_of[n].startswith("foot") and np.isfinite(p).any()
    ]
    if not tops or not feet or not np.isfinite(tops).any():
        return None
    lowest = min(feet)
    floor = 0.0 if own_zero_is_floor(lowest) else lowest - 0.02
    with nothing_known_gives_nan():
        top = np.nanmean(np.where(np.isfinite(tops), tops, np.nan), axis=0)
    up = np.isfinite(top) & ~(top - floor < _UP * (np.nanquantile(top, _GREATEST) - floor))
    down = _heels_down(places, up)
    tall: NDArray[np.bool_] = np.asarray(down & (top >= np.nanquantile(top[down], _TALLEST)))
    told = [
        (float(np.nanmedian(place[tall, 2])) - floor) / standing_places()[name.partition(".")[0]][2]
        for name, place in places.items()
        if name.partition(".")[0] in TELL_STATURE and np.isfinite(place[tall]).any()
    ]
    stature = float(np.median(told)) if len(told) >= 4 else 0.0
    return _Seen(places, part_of, floor, stature, tall) if stature > 0 else None


def _heels_down(places: Mapping[str, Floats], known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where (F,) both heels, as far as markers of theirs are seen, are down, of the known frames; all of those when never."""
    result = known.copy()
    for side in SIDE_SUFFIXES:
        height = places.get(HEEL + side, np.zeros((known.size, 3)))[:, 2]
        if not np.isfinite(height[known]).any():
            continue
        result &= height <= np.nanquantile(height[known], _LOWEST) + _HEEL_DOWN_M
    return result if result.any() else known


def _pelvis(seen: _Seen) -> list[str]:
    """What is wrong with the four markers of the pelvis, and what to do.

    A pair that is not level on a dancer who stands, one that is no mirror image, back ones further apart than the bone's points.
    """
    if not all(name + side in seen.places for name in (_FRONT, _BACK) for side in SIDE_SUFFIXES):
        return []

    def apart(first: str, second: str) -> float:
        with nothing_known_gives_nan():
            return float(np.nanmedian(np.linalg.norm(seen.places[first] - seen.places[second], axis=1)))

    def above(stem: str) -> float:
        left, right = (seen.places[stem + side][seen.tall, 2] for side in SIDE_SUFFIXES)
        with nothing_known_gives_nan():
            return float(np.nanmedian(left - right))

    left, right = SIDE_SUFFIXES
    width = {stem: apart(stem + left, stem + right) for stem in (_FRONT, _BACK)}
    beside = apart(_FRONT + left, _BACK + left) - apart(_FRONT + right, _BACK + right)
    across = apart(_FRONT + left, _BACK + right) - apart(_FRONT + right, _BACK + left)
    sentences = []
    for stem, other, crooked in ((_FRONT, _BACK, beside + across), (_BACK, _FRONT, beside - across)):
        by = above(stem)
        # What the other pair does as well is how the dancer stands.
        own = by - above(other) * width[stem] / width[other]
        if min(abs(by), abs(own)) > _ELSEWHERE_M and by * own > 0:
            low, other_side = (right, "left") if by > 0 else (left, "right")
            sentences.append(say.pelvis_uneven(marker_in_words("", stem + low), other_side, abs(by)))
        elif abs(crooked) / 2 > _ELSEWHERE_M:
            sentences.append(say.pelvis_crooked("front" if stem == _FRONT else "back", abs(crooked) / 2))
    if width[_BACK] > BACK_OF_PELVIS_AT_MOST * seen.stature_m:
        sentences.append(say.pelvis_back_too_wide(width[_BACK], BACK_OF_PELVIS_AT_MOST * seen.stature_m))
    return sentences


def _in_doubt(seen: _Seen, calibration: Calibration) -> bool:
    """Whether markers of knees and ankles may sit anywhere near: no inner ones, or lengths that no body has."""
    if not all(name + side in seen.places for name in (_INNER_KNEE, _INNER_ANKLE) for side in SIDE_SUFFIXES):
        return True
    of_body: dict[str, float] = {}
    for segment, joint in (("thigh", "hip"), ("shank", "knee")):
        lengths = [
            float(np.linalg.norm(calibration.joints[segment + side][joint + side]))
            for side in SIDE_SUFFIXES
            if segment + side in calibration.joints
        ]
        share = LENGTHS[segment]
        if any(abs(length / seen.stature_m - share.mean) > _SPREADS * share.spread for length in lengths):
            return True
        if len(lengths) == 2 and abs(np.log(lengths[0] / lengths[1])) > _SIDES_APART:
            return True
        of_body[segment] = float(np.mean(lengths)) / share.mean if lengths else np.nan
    return bool(abs(np.log(of_body["thigh"] / of_body["shank"])) > _OUT_OF_PROPORTION)


def _shape(places: Mapping[str, Floats]) -> dict[str, Floats] | None:
    """Where markers lie to each other over the whole take: the median shape in the axes of the first frame with all of them.

    None with fewer than three, or when they are never all there.
    """
    if len(places) < 3:
        return None
    points = np.stack(list(places.values()), axis=1)
    whole = np.flatnonzero(np.isfinite(points).all(axis=(1, 2)))
    if whole.size == 0:
        return None
    shape: Floats = points[whole[0]]
    for _ in range(2):
        rotation, origin, _ = fit_rigid(shape, points)
        shape = np.nanmedian(np.einsum("fij,fmi->fmj", rotation, points - origin[:, None]), axis=0)
    return dict(zip(places, shape, strict=True))


def _flat_foot(seen: _Seen, side: str) -> dict[str, Floats] | None:
    """The foot's markers as it stands flat: X ahead from the heel, Z up, the heel's marker at 0; None without heel and ball.

    Flat is how the foot is turned where its markers are lowest together.
    """
    # An arch sinks in the foot that it belongs to.
    places = {name: place for name, place in seen.of("foot" + side).items() if name != ARCH + side}
    ball = next((name + side for name in BALL if name + side in places), None)
    shape = _shape(places)
    if shape is None or ball is None or HEEL + side not in places:
        return None
    points = np.stack(list(places.values()), axis=1)
    highest = points[:, :, 2].max(axis=1)
    flat = np.flatnonzero(highest <= np.nanquantile(highest, _LOWEST))
    rotation, _, _ = fit_rigid(np.stack(list(shape.values())), points[flat])
    up = unit(np.nanmedian(rotation[:, 2], axis=0))
    heel, along = shape[HEEL + side], shape[ball] - shape[HEEL + side]
    ahead = unit(along - (along @ up) * up)
    axes = np.stack([ahead, np.cross(up, ahead), up])
    return {name: axes @ (place - heel) for name, place in shape.items()}


def _leg_seen(
    seen: _Seen,
    calibration: Calibration,
    side: str,
    pelvis: tuple[Floats, Floats],
    foot: Mapping[str, Floats] | None,
    *,
    in_doubt: bool,
) -> LegSeen | None:
    """What is known of one leg in some frames that show it; None when too few markers, or frames, do for it to be fitted.

    pelvis: its rotation and origin in every frame.
    """
    thigh, shank = seen.of("thigh" + side), seen.of("shank" + side)
    if _OUTER_KNEE + side not in thigh or _OUTER_ANKLE + side not in shank or len(thigh) < 2 or foot is None:
        return None
    # Two markers and the hip hold a thigh. What the dance hardly shows is told by the standing body, not by this fit.
    known = np.isfinite(pelvis[1][:, 0]) & (np.sum([np.isfinite(place[:, 0]) for place in thigh.values()], axis=0) >= 2)
    told = np.flatnonzero(known)
    if told.size < max(1.0, _LEAST_SEEN * known.size):
        return None
    frames = told[np.unique(np.linspace(0, told.size - 1, MOST_FRAMES).round().astype(np.int64))]
    if len(shank) < 2:
        # The knee's marker is near its axis: it holds the shank too.
        shank = {**shank, _OUTER_KNEE + side: thigh[_OUTER_KNEE + side]}
    # The same foot with Y up and Z to the right, as segments have it.
    turned = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
    reference = np.stack([turned @ place for place in foot.values()])
    held = fit_rigid(reference, np.stack([seen.places[name][frames] for name in foot], axis=1))[:2]
    hip = calibration.joints["pelvis"]["hip" + side]
    return LegSeen(
        SIDE_SIGNS[SIDE_SUFFIXES.index(side)],
        (pelvis[0][frames], pelvis[1][frames]),
        hip,
        {name: place[frames] for name, place in thigh.items()},
        {name: place[frames] for name, place in shank.items()},
        held,
        expected_ankle_in_foot(seen.stature_m),
        in_doubt=in_doubt,
    )


def _with_what_is_open(leg: FittedLeg) -> FittedLeg:
    """The same leg with errors that grow by how far its markers are from their landmarks."""
    away = {"knee": _beside(leg, "thigh", _OUTER_KNEE), "ankle": _beside(leg, "shank", _OUTER_ANKLE)}
    return replace(leg, sd={**leg.sd, **{joint: float(np.hypot(leg.sd[joint], _LEFT_OPEN * off)) for joint, off in away.items()}})


def _beside(leg: FittedLeg, segment: str, stem: str) -> float:
    """How far an outer marker is from the axis of its joint, along the segment and ahead of it, metres."""
    place = next((p for name, p in getattr(leg, segment).items() if name.partition(".")[0] == stem), None)
    return 0.0 if place is None else float(np.hypot(place[0], place[1]))


def hold_against_body(
    cleaned: CleanedTake, recognition: Recognition, calibration: Calibration, functional: Functional | None
) -> HeldAgainst:
    """Hold a take of markers against a human body.

    calibration: what its landmarks alone give; functional: what was learnt beside. Both legs are fitted to the whole movement
    (``fit_legs``); their markers are believed less where inner ones are missing or lengths are none that a body has. A neck that
    no body has is brought to a human length by the heights of the standing dancer. Source of the proportions: ``anatomy``.
    """
    seen = _seen(cleaned, recognition)
    if seen is None:
        return HeldAgainst(functional, ())
    learnt, about_legs = _with_legs(seen, calibration, functional or Functional())
    learnt, about_arms = _with_arms(seen, learnt)
    sentences = _pelvis(seen) + about_legs + about_arms
    up, down, about_neck = _neck(seen, calibration)
    learnt = replace(learnt, neck_up_m=up, head_down_m=down)
    sentences += about_neck
    return HeldAgainst(learnt if learnt != (functional or Functional()) else functional, tuple(sentences))


def _with_legs(seen: _Seen, calibration: Calibration, learnt: Functional) -> tuple[Functional, list[str]]:
    """What was learnt, with both legs fitted to the whole take (of so many frames), and what sits elsewhere on them."""
    feet = {side: _flat_foot(seen, side) for side in SIDE_SUFFIXES}
    in_doubt = bool(_pelvis(seen)) or _in_doubt(seen, calibration)
    local = calibration.landmarks["pelvis"]
    pelvis = fit_rigid(np.stack(list(local.values())), np.stack([seen.places[name] for name in local], axis=1))[:2]
    seen_legs = {side: _leg_seen(seen, calibration, side, pelvis, feet[side], in_doubt=in_doubt) for side in SIDE_SUFFIXES}
    legs = {side: leg for side, leg in seen_legs.items() if leg is not None}
    if not legs:
        return learnt, []
    fitted = {side: _with_what_is_open(leg) for side, leg in fit_legs(legs, seen.stature_m).items()}
    turned = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    standing = {side: {**(feet[side] or {}), "ankle": turned @ leg.ankle_in_foot} for side, leg in fitted.items()}
    sentences = [text for side in fitted for text in _leg_sentences(seen, side, fitted[side], standing[side])]
    away = [joint + side for side, leg in fitted.items() for joint in ("knee", "ankle") if _elsewhere(leg, joint, side)]
    learnt = replace(learnt, legs=fitted, feet=standing, stature_m=seen.stature_m, displaced=frozenset(away))
    return learnt, sentences


def _with_arms(seen: _Seen, learnt: Functional) -> tuple[Functional, list[str]]:
    """What was learnt, with the elbows whose markers certainly sit above or below them, and what to say of these."""
    away = {
        side: elbow
        for side, elbow in elbows_seen(seen.places, seen.stature_m).items()
        if abs(elbow.above_m) > max(_ELSEWHERE_M, _SURE_OF_ELBOW * elbow.sd_m)
    }
    if not away:
        return learnt, []
    sentences = [say.elbow_elsewhere(marker_in_words("", _OUTER_ELBOW + side), elbow.above_m) for side, elbow in away.items()]
    return replace(learnt, elbows=away, displaced=learnt.displaced | {"elbow" + side for side in away}), sentences


def _elsewhere(leg: FittedLeg, joint: str, side: str) -> bool:
    """Whether the outer marker of a joint certainly sits above or below it."""
    place = leg.thigh.get(_OUTER_KNEE + side) if joint == "knee" else leg.shank.get(_OUTER_ANKLE + side)
    return place is not None and bool(abs(place[1]) > max(_ELSEWHERE_M, _SURE * leg.sd[joint]))


def _leg_sentences(seen: _Seen, side: str, leg: FittedLeg, foot: Mapping[str, Floats]) -> list[str]:
    """What is wrong with the markers of one leg, and what to do."""
    found = []
    knee, ankle = leg.thigh.get(_OUTER_KNEE + side), leg.shank.get(_OUTER_ANKLE + side)
    if ankle is not None and _elsewhere(leg, "ankle", side):
        # How high an ankle is on this dancer, who may wear shoes: the heel's own marker as it rests, and the ankle above that.
        rests = {
            n: float(np.nanquantile(seen.places[n][:, 2], _LOWEST)) - seen.floor_m for n in (HEEL + side, _OUTER_ANKLE + side)
        }
        usual = rests[HEEL + side] + foot["ankle"][2]
        name = marker_in_words("", _OUTER_ANKLE + side)
        found.append(say.ankle_too_high(name, usual + ankle[1], usual - _USUAL_SPREAD_M, usual + _USUAL_SPREAD_M))
    if knee is not None and _elsewhere(leg, "knee", side):
        found.append(say.knee_elsewhere(marker_in_words("", _OUTER_KNEE + side), knee[1]))
    return found


def _expected_height(names: Sequence[str]) -> float:
    return float(np.mean([standing_places()[name.partition(".")[0]][2] for name in names]))


def _neck(seen: _Seen, calibration: Calibration) -> tuple[float, float, list[str]]:
    """How far up the neck's base and down the head's centre have to be for a human neck, metres, and what to say of it."""
    head = calibration.landmarks.get("head", {})
    upper = [name for name in TOP_OF_TRUNK if name in seen.places]
    if not head or not upper:
        return 0.0, 0.0, []
    with nothing_known_gives_nan():
        middle_of_head, base = (np.nanmean([seen.places[name] for name in names], axis=0) for names in (list(head), upper))
        length = float(np.nanmedian(np.linalg.norm(middle_of_head - base, axis=1)))
    share = LENGTHS["neck_to_head"]
    excess = length - (share.mean + share.spread) * seen.stature_m
    if length <= (share.mean + _NECK_SPREADS * share.spread) * seen.stature_m:
        return 0.0, 0.0, []
    # Which of the two is off shows in how high they are on the standing dancer.
    # How high a landmark of a studio's own should be, no table knows.
    known = [name for name in head if name.partition(".")[0] in TELL_STATURE]
    too_high = max(seen.height(known) - _expected_height(known) * seen.stature_m, 0.0) if known else 0.0
    too_low = max(_expected_height(upper) * seen.stature_m - seen.height(upper), 0.0)
    whole = too_high + too_low
    up = excess * (too_low / whole if whole > 0 else 0.5)
    sentences = []
    if up > _ELSEWHERE_M:
        sentences.append(say.neck_too_low(up))
    if excess - up > _ELSEWHERE_M:
        sentences.append(say.head_too_high(excess - up))
    return up, excess - up, sentences
