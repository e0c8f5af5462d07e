"""What a recording does not say: which way is up, how large a unit is, how fast it was sampled."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import LEG_SHARE, STATURE_M, USUAL_STATURE_M
from ..medians import median_of_known
from ..take import Floats
from ..units import METRES_PER_UNIT, UP_AXES
from ..wording import numbers
from ..wording import reading as say

#: Heights of the head end above the foot end, in metres, that a named unit may give. Proposed default, no published norm.
HEIGHT_SEEN_M = (0.6, 2.8)

#: Sizes of a marker set on a part of a body, in metres, that are believed. Proposed default, no published norm.
EXTENT_M = (0.25, 2.5)


#: Rates that are believed, in hertz. Proposed default, no published norm.
RATE_HZ = (5.0, 5000.0)

#: Share of the announced frames that may be missing before a file counts as cut short. Proposed default.
MISSING_FRAMES = 0.05

#: Thigh length by shank length that is believed; about 1 in Winter's table. Proposed default, no published norm.
THIGH_BY_SHANK = (0.7, 1.4)

#: Film rates that are not whole numbers.
_FILM_RATES = (Fraction(24000, 1001), Fraction(30000, 1001), Fraction(60000, 1001), Fraction(120000, 1001))


@dataclass(frozen=True)
class Guess:
    """A value that was concluded, why, and whether the ground for it is firm."""

    value: str
    why: str
    firm: bool


def seen_samples(positions: Floats) -> NDArray[np.bool_]:
    """Which samples (F, N) of positions (F, N, 3) are all finite numbers."""
    # Adding is several times as fast as reducing over the short last axis.
    with np.errstate(invalid="ignore", over="ignore"):
        total: Floats = positions[:, :, 0] + positions[:, :, 1] + positions[:, :, 2]
    return np.isfinite(total)


def some_frames(positions: Floats) -> Floats:
    """At most some hundred frames, evenly spread: enough to tell what holds for the whole take."""
    return positions[:: max(1, len(positions) // 300)]


def _axis_name(vector: Floats) -> str:
    axis = int(np.argmax(np.abs(vector)))
    return ("-" if vector[axis] < 0 else "") + "xyz"[axis]


def up_from_body(positions: Floats, upper: list[int], lower: list[int]) -> Guess | None:
    """The axis along which the head end of a body lies above its feet.

    positions (F, N, 3) in any unit, NaN missing; upper, lower: indices of points at either end. None when an end has no
    point or the body does not stand along one axis for most of the take.
    """
    if not upper or not lower:
        return None
    top, bottom = median_of_known(positions[:, upper], 1), median_of_known(positions[:, lower], 1)
    along = top - bottom
    along = along[np.isfinite(along).all(axis=1)]
    if not len(along):
        return None
    mean = np.median(along, axis=0)
    name = _axis_name(mean)
    length = float(np.linalg.norm(mean))
    if not length or abs(mean["xyz".index(name[-1])]) < 0.75 * length:
        return None
    return Guess(name, say.HEAD_ABOVE_FEET, True)


def up_from_points(positions: Floats) -> Guess | None:
    """The axis along which a cloud of unnamed points is tallest, and the end that keeps to one level: the floor.

    positions (F, N, 3) in any unit, NaN missing. None when there are too few points or no axis is clearly the tallest.
    """
    if positions.shape[1] < 3:
        return None
    seen = seen_samples(positions)
    complete = seen.sum(axis=1) >= max(3, positions.shape[1] // 2)
    if not complete.any():
        return None
    body, known = positions[complete], seen[complete][:, :, None]
    low, high = np.where(known, body, np.inf).min(axis=1), np.where(known, body, -np.inf).max(axis=1)
    extent = np.median(high - low, axis=0)
    order = np.argsort(extent)
    axis = int(order[-1])
    clear = extent[axis] / extent[order[-2]] if extent[order[-2]] else np.inf
    if clear < 1.2:
        return None
    spread_low, spread_high = (float(np.ptp(np.percentile(end, [5, 95]))) for end in (low[:, axis], high[:, axis]))
    sign = "" if spread_low <= spread_high else "-"
    return Guess(sign + "xyz"[axis], say.tallest_along(float(clear)), bool(clear > 1.5))


def choose_up(asked: str | None, from_body: Guess | None, from_file: Guess | None, fallback: Guess) -> Guess:
    """The up axis: what was asked for, else what the body shows, else what the file says, else custom."""
    if asked is not None:
        return Guess(asked, say.AS_ASKED, True)
    if from_body is not None and from_file is not None:
        if from_body.value == from_file.value:
            return Guess(from_body.value, say.both_say(from_file.why, from_body.why), True)
        chosen, other = (from_body, from_file) if from_body.firm else (from_file, from_body)
        return Guess(chosen.value, say.although(chosen.why, other.value, other.why), chosen.firm)
    return from_body or from_file or fallback


def stature_from_legs(rest: Floats, parents: NDArray[np.int64], lower: list[int]) -> float:
    """Stature from the length of thigh and shank of a skeleton (median of the legs); NaN when no leg is recognised.

    rest (N, 3): joints of the rest pose; parents (N,): -1 for a root; lower: joints of ankles and feet.
    """
    statures = []
    for ankle in (index for index in lower if parents[index] not in lower):
        bones: list[float] = []
        joint = ankle
        while parents[joint] >= 0 and len(bones) < 2:
            length = float(np.linalg.norm(rest[joint] - rest[parents[joint]]))
            # Helper joints may lie in the same place as their parent.
            if length > 0:
                bones.append(length)
            joint = int(parents[joint])
        if len(bones) == 2 and THIGH_BY_SHANK[0] <= bones[1] / bones[0] <= THIGH_BY_SHANK[1]:
            statures.append(sum(bones) / LEG_SHARE)
    return float(np.median(statures)) if statures else float("nan")


def unit_from_stature(stature: float) -> tuple[float, Guess]:
    """Metres in one unit, for a body of ``stature`` units; the assumed stature decides when no known unit fits."""
    for name, metres in METRES_PER_UNIT.items():
        if STATURE_M[0] <= stature * metres <= STATURE_M[1]:
            return metres, Guess(name, say.tall_in(stature, stature * metres, name), True)
    if not isfinite(stature) or stature <= 0:
        return METRES_PER_UNIT["cm"], Guess("cm", say.SIZE_BY_CUSTOM, False)
    metres = USUAL_STATURE_M / stature
    why = say.tall_in_no_unit(stature, USUAL_STATURE_M)
    # Four digits: every length of the take is multiplied by it.
    return metres, Guess(numbers.as_written(numbers.plain(100 * metres, 4), "cm"), why, False)


def nominal_rate(frame_time: str) -> tuple[float, str]:
    """Rate in hertz for a sample interval in seconds as it was written, and how it was found.

    The nearest whole or film rate when the written digits cannot tell it from the interval; else the reciprocal.
    Raises ValueError when the text is no number and ZeroDivisionError when it is zero.
    """
    seconds = float(frame_time)
    if not isfinite(seconds):
        raise ValueError(frame_time)
    rate = 1.0 / seconds
    mantissa, _, exponent = frame_time.lower().partition("e")
    digits = len(mantissa.partition(".")[2]) - (int(exponent) if exponent else 0)
    # One unit of the last written digit: some writers cut, others round.
    slack = 10.0 ** -min(digits, 12)
    for candidate in (Fraction(round(rate)), *_FILM_RATES):
        if candidate > 0 and abs(float(1 / candidate) - seconds) <= slack and abs(float(candidate) / rate - 1) < 0.002:
            exact = abs(float(1 / candidate) - seconds) < 1e-12
            return float(candidate), say.WRITTEN_IN_FILE if exact else say.frame_time(frame_time, rounded=True)
    return rate, say.frame_time(frame_time)


def is_cut_short(announced: int, present: int) -> bool:
    """Whether so many of the announced frames are missing that the file must have been cut; one may always be missing."""
    return announced - present > max(1.0, MISSING_FRAMES * announced)


def rate_is_believable(rate_hz: float) -> bool:
    """Whether a rate is one at which people are captured."""
    return bool(isfinite(rate_hz) and RATE_HZ[0] <= rate_hz <= RATE_HZ[1])


def up_is_known(name: str) -> bool:
    """Whether a name is one of the six up axes."""
    return name in UP_AXES


def body_height(positions: Floats, upper: list[int], lower: list[int], up: Floats) -> float:
    """Height of the head end above the foot end along ``up`` (3,) in upright frames, in the units of the positions.

    positions (F, N, 3), NaN missing; upper, lower: indices of points at either end. NaN when an end was never seen.
    """
    top = np.where(seen_samples(positions[:, upper]), positions[:, upper] @ up, -np.inf).max(axis=1, initial=-np.inf)
    bottom = np.where(seen_samples(positions[:, lower]), positions[:, lower] @ up, np.inf).min(axis=1, initial=np.inf)
    height = (top - bottom)[np.isfinite(top) & np.isfinite(bottom)]
    return float(np.percentile(height, 75)) if len(height) else float("nan")


def _extent(positions: Floats) -> float:
    """Largest side of the box around all points of a frame, in most frames; NaN when no frame has two points."""
    seen = seen_samples(positions)
    frames = seen.sum(axis=1) >= 2
    if not frames.any():
        return float("nan")
    points, known = positions[frames], seen[frames][:, :, None]
    box = np.where(known, points, -np.inf).max(axis=1) - np.where(known, points, np.inf).min(axis=1)
    return float(np.median(box.max(axis=1)))


def _unit_by_name(text: str) -> str | None:
    """The unit that a name stands for, also when it is spelt out or cut short; None when it is not recognised."""
    word = text.strip().lower().rstrip(".")
    if not word:
        return None
    if word in ('"', "in") or word.startswith("inch"):
        return "in"
    for unit, start in (("mm", "mill"), ("cm", "cent"), ("m", "met")):
        if word == unit or word.startswith(start):
            return unit
    return None


def choose_unit(asked: str | None, named: str, stature: float, positions: Floats) -> tuple[float, Guess]:
    """Metres in one unit: as asked for, else as the file names it when that fits the body, else by the body.

    named: the unit's name in the file. stature: height of the body in units, NaN when not both of its ends are known.
    """
    if asked is not None:
        return METRES_PER_UNIT[asked], Guess(asked, say.AS_ASKED, True)
    unit = _unit_by_name(named)
    known = isfinite(stature) and stature > 0
    if unit is not None:
        height = stature * METRES_PER_UNIT[unit]
        if not known or HEIGHT_SEEN_M[0] <= height <= HEIGHT_SEEN_M[1]:
            return METRES_PER_UNIT[unit], Guess(unit, say.unit_named(named, height if known else None), True)
        metres, guess = unit_from_stature(stature)
        return metres, Guess(guess.value, say.unit_contradicted(named, guess.why), False)
    said = say.unit_said(named)
    if known:
        metres, guess = unit_from_stature(stature)
        return metres, Guess(guess.value, f"{said}; {guess.why}", guess.firm)
    extent = _extent(positions)
    for name in ("mm", "m", "cm"):
        if EXTENT_M[0] <= extent * METRES_PER_UNIT[name] <= EXTENT_M[1]:
            why = say.lies_within(said, extent * METRES_PER_UNIT[name], name)
            return METRES_PER_UNIT[name], Guess(name, why, False)
    return METRES_PER_UNIT["mm"], Guess("mm", say.millimetres_by_custom(said), False)
