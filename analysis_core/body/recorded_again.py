"""The same dance as markers would tell it that were stuck on again, on skin that slides otherwise: where every ± comes from."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .angles import measure_angles
from .calibration import Calibration, calibrate
from .centre_of_mass import centre_of_mass
from .marker_model import pose_markers
from .movement import ANGLES, FROM_STANDING, JOINTS, SEGMENTS, SUFFIXES, Movement
from .posed import Posed

#: So many other recordings are made: a standard deviation from them is known to 15 %.
DRAWS = 32
#: Noise left after smoothing, and what a fast marker adds; metres. Source: catalogue 3.5 (static 0.15 mm, dynamic below 2 mm).
_STILL_NOISE_M, _FAST_NOISE_M, _FAST_M_S = 0.0002, 0.0010, 2.0
#: Bend at which the skin has moved by the table's amount, and the acceleration that shakes it half as much. Proposed defaults.
_FULL_BEND_RAD, _HARD_M_S2 = np.radians(120.0), 40.0
#: Over so long an acceleration is taken.
_SHAKE_S = 0.02
#: A marker that disagrees with its segment, or was filled in, is wrong in much the same way so long after. Proposed default.
_SAME_WAY_S = 0.4
_BESIDE = {
    "pelvis": ("thigh.L", "thigh.R"),
    "thorax": ("upper_arm.L", "upper_arm.R", "pelvis"),
    "head": ("thorax",),
    "thigh": ("pelvis", "shank"),
    "shank": ("thigh", "foot"),
    "foot": ("shank",),
    "toes": ("shank",),
    "clavicle": ("thorax", "upper_arm"),
    "upper_arm": ("thorax", "forearm"),
    "forearm": ("upper_arm",),
    "hand": ("forearm",),
}


@dataclass(frozen=True)
class MarkerErrors:
    """1-SD errors of ``marker_errors.toml`` in metres; stance_deg: how alike a dancer stands, by part, in degrees."""

    misplaced_m: Mapping[str, float]
    skin_m: Mapping[str, float]
    bony: float
    centre_m: Mapping[str, float]
    stance_deg: Mapping[str, float]


@cache
def marker_errors() -> MarkerErrors:
    """The table of marker errors."""
    data = tomllib.loads((Path(__file__).parent / "marker_errors.toml").read_text(encoding="utf-8"))

    def metres(part: str) -> dict[str, float]:
        return {name: value / 1000 for name, value in data[part].items()}

    return MarkerErrors(
        metres("misplaced_mm"), metres("skin_mm"), float(data["bony"]["share"]), metres("centre_mm"), data["stance_deg"]
    )


@dataclass(frozen=True)
class RecordedAgain:
    """Some frames of a movement, as it is and as it would have been recorded again.

    frames (N,): of the take, in rising order. movements: the movement itself in these frames, then DRAWS others. Their
    angles, joints, feet and centre of mass are of these N frames; their standing is their own.
    """

    frames: NDArray[np.int64]
    movements: tuple[Movement, ...]


def _bends(rotations: Floats, standing: Floats) -> dict[str, Floats]:
    """How far (N,) each segment's joints are bent from standing, in full bends; rotations (N, S, 3, 3), standing (S, 3, 3).

    Turning about the long axis drags little skin along and does not count; of several joints the one that is bent most does.
    """

    def between(first: str, second: str) -> Floats:
        i, j = SEGMENTS.index(first), SEGMENTS.index(second)
        now = np.einsum("ni,ni->n", rotations[:, i, :, 1], rotations[:, j, :, 1])
        stood = standing[i, :, 1] @ standing[j, :, 1]
        return np.asarray(np.abs(np.arccos(np.clip(now, -1.0, 1.0)) - np.arccos(np.clip(stood, -1.0, 1.0))))

    result = {}
    for stem, others in _BESIDE.items():
        for suffix in ("",) if stem in ("pelvis", "thorax", "head") else SUFFIXES.values():
            names = [o if o in SEGMENTS else o + suffix for o in others]
            angle = np.max([np.nan_to_num(between(name, stem + suffix)) for name in names], axis=0)
            result[stem + suffix] = np.tanh(angle / _FULL_BEND_RAD)
    return result


def _shakes(movement: Movement, frames: NDArray[np.int64]) -> Floats:
    """How hard (N, S) each segment is shaken, 0 to 1."""
    away = max(1, round(_SHAKE_S * movement.rate_hz))
    inside = np.clip(frames, away, max(movement.frames - 1 - away, away))
    if movement.frames <= 2 * away:
        return np.zeros((frames.size, len(SEGMENTS)))
    origins = movement.segment_origins_m
    second = origins[inside + away] - 2 * origins[inside] + origins[inside - away]
    acceleration = np.linalg.norm(second, axis=2) * (movement.rate_hz / away) ** 2
    return np.asarray(np.tanh(np.nan_to_num(acceleration) / _HARD_M_S2))


def _speeds(smooth: Floats, frames: NDArray[np.int64], rate_hz: float) -> Floats:
    """Speed (N, M) of the markers, m/s."""
    last = smooth.shape[0] - 1
    after, before = np.minimum(frames + 1, last), np.maximum(frames - 1, 0)
    apart = np.maximum(after - before, 1)[:, None] / rate_hz
    return np.asarray(np.nan_to_num(np.linalg.norm(smooth[after] - smooth[before], axis=2) / apart))


def _stacked(calibrations: list[Calibration], rows: int) -> Calibration:
    """One calibration whose places have one row for each of so many frames of every calibration in turn."""

    def of(part: str) -> dict[str, dict[str, Floats]]:
        first: dict[str, dict[str, Floats]] = getattr(calibrations[0], part)
        return {
            segment: {
                name: np.repeat(np.stack([getattr(c, part)[segment][name] for c in calibrations]), rows, axis=0) for name in names
            }
            for segment, names in first.items()
        }

    return replace(calibrations[0], landmarks=of("landmarks"), joints=of("joints"))


class _Draws:
    """Random vectors for the other recordings; the first is the recording itself, with none.

    Half of the others are the mirror images of the other half, so that a mirrored dance has the same errors on the other side.
    """

    def __init__(self, draws: int, seed: int) -> None:
        self.half = draws // 2
        self.random = np.random.default_rng(seed)

    def of(self, names: Sequence[str], rows: int = 1) -> Floats:
        """Standard normal vectors (draws + 1, rows, len(names), 3) in the axes of the segments that ``names`` belong to."""
        place = {name: i for i, name in enumerate(names)}
        other = {".L": ".R", ".R": ".L"}
        twins = [place.get(name[:-2] + other.get(name[-2:], name[-2:]), i) for i, name in enumerate(names)]
        drawn = self.random.normal(size=(self.half, rows, len(names), 3))
        # Every direction has exactly the spread that it should have: fewer draws are needed then.
        drawn /= np.sqrt(np.mean(drawn**2, axis=0))
        mirrored = drawn[:, :, twins] * np.array([1.0, 1.0, -1.0])
        return np.concatenate([np.zeros((1, rows, len(names), 3)), drawn, mirrored])


def _lasting_a_while(drawn: Floats, time_s: Floats) -> Floats:
    """Independent vectors (K, N, M, 3) made alike over _SAME_WAY_S, at rising times (N,): each is led on from the one before."""
    led_on = np.exp(-np.diff(time_s) / _SAME_WAY_S)
    result = drawn.copy()
    for i, share in enumerate(led_on, start=1):
        result[:, i] = share * result[:, i - 1] + np.sqrt(1 - share**2) * drawn[:, i]
    return result


_BY_RULE = (("hip", "pelvis", "thigh"), ("shoulder", "thorax", "upper_arm"))
#: Joints of legs that were fitted to the movement, each with the segment it lies in and the one that hangs on it.
_FITTED = (("knee", "thigh", "shank"), ("ankle", "shank", "foot"))


def _elsewhere(calibration: Calibration, shifts: Mapping[str, Floats]) -> Calibration:
    """The same body with the joint centres that a rule gives so far (3,) beside where the rule puts them."""
    joints = {segment: dict(places) for segment, places in calibration.joints.items()}
    for joint, near, far in (*_BY_RULE, *_FITTED):
        for suffix in SUFFIXES.values():
            name = joint + suffix
            # Neighbouring segments are nearly parallel while standing: the same shift in both keeps the joint in one place.
            for segment in (near, near + suffix, far + suffix):
                if name in shifts and name in joints.get(segment, {}):
                    joints[segment][name] = joints[segment][name] + shifts[name]
    return replace(calibration, joints=joints)


def _with_open_joints(
    random: _Draws, names: list[str], sizes: Floats, by_rule: list[str], rule_errors: Floats
) -> tuple[list[str], Floats]:
    """The joints that a rule gives and their errors (K, J, 3), with those that a fit to the movement left open."""
    open_errors = random.of(names)[:, 0] * sizes[:, None]
    return [*by_rule, *names], np.concatenate([rule_errors, open_errors], axis=1)


def record_again(
    movement: Movement, frames: NDArray[np.int64], draws: int = DRAWS, seed: int = 1, *, lasting: bool = True
) -> RecordedAgain | None:
    """The movement in some frames (N,), as it is and as ``draws`` other recordings would tell it, in one batched pass.

    In each other recording every landmark is misplaced by the same vector in the standing and in the dance, the skin slides with
    the bend of the joints beside it and with hard landings, the joint centres that a rule gives lie elsewhere, and every
    sample has the noise that it was left with, and errs more, in the same way for a while, where it was filled and where a
    segment's markers disagree by more than that.
    lasting: also with what stays the same throughout a take (landmarks and joint centres elsewhere); without it only what comes
    and goes. The same seed gives the same recordings. None for a skeleton, whose recording does not say how it was made.
    Source of the magnitudes: ``marker_errors.toml``; of the procedure: catalogue 3.6, propagation by perturbation.
    """
    recording = movement.recording
    if recording is None:
        return None
    cleaned, recognition = recording.cleaned, recording.recognition
    segments = {recognition.landmark_of[index]: segment for index, segment in recognition.segment_of.items()}
    # In the order of their names: the order in the file must not matter.
    found = sorted((name, i) for i, name in recognition.landmark_of.items() if name in recording.standing)
    markers = [(i, name, segments[name]) for name, i in found]
    errors, random = marker_errors(), _Draws(draws, seed)
    count, copies = frames.size, 2 * random.half + 1
    base = calibrate(recording.standing, segments, recording.functional)
    still = np.stack([recording.standing[name] for _, name, _ in markers])
    place = np.full((1, cleaned.smooth_m.shape[1], 3), np.nan)
    place[0, [i for i, _, _ in markers]] = still
    standing = pose_markers(
        replace(cleaned, smooth_m=place, source=cleaned.source[:1], error_m=cleaned.error_m[:1]), recognition, base
    )
    upright = np.nan_to_num(standing.frames_of_segments()[0])
    rotations = np.nan_to_num(movement.segment_rotations[frames])
    bend, shake = _bends(rotations, upright), _shakes(movement, frames)
    speed = _speeds(cleaned.smooth_m, frames, movement.rate_hz)
    noise = np.hypot(_STILL_NOISE_M, _FAST_NOISE_M * np.tanh(speed / _FAST_M_S)) / np.sqrt(3.0)
    filled = np.nan_to_num(cleaned.error_m[frames]) / np.sqrt(3.0)
    columns = np.array([SEGMENTS.index(segment) for _, _, segment in markers])
    index = np.array([i for i, _, _ in markers])
    misplaced = np.array([errors.misplaced_m.get(name.partition(".")[0], 0.0) for _, name, _ in markers])
    legs = recording.functional.legs if recording.functional is not None else {}
    size = np.array([errors.skin_m[segment.partition(".")[0]] for _, _, segment in markers]) / np.sqrt(3.0)
    size = size * np.where(misplaced > 0, errors.bony, 1.0)
    moved = np.stack([bend[segment] for _, _, segment in markers], axis=1), shake[:, columns]
    disagree = np.nan_to_num(movement.segment_residual_m[frames][:, columns])
    own = np.sqrt(np.maximum(disagree**2 / 3.0 - 0.5 * (size * moved[0]) ** 2 - noise[:, index] ** 2, 0.0))

    names = [name for _, name, _ in markers]
    # Where markers sit on legs that were fitted to the movement is known: what is not is where the joints are.
    fitted = np.array([any(name in legs[side].thigh or name in legs[side].shank for side in legs) for name in names], dtype=bool)
    stuck = random.of(names)[:, 0] * np.where(fitted, 0.0, misplaced)[:, None] * lasting
    local = np.repeat(stuck[:, None], count, axis=1)
    for share, amount in zip((1.0, 0.5), moved, strict=True):
        direction = np.sqrt(0.5) * (random.of(SEGMENTS)[:, :, columns] + random.of(names))
        local += share * amount[:, :, None] * size[:, None] * direction
    by_rule = [joint + suffix for joint, _, _ in _BY_RULE for suffix in SUFFIXES.values()]
    rule_errors = random.of(by_rule)[:, 0] * np.array([errors.centre_m[name[:-2]] for name in by_rule])[:, None] * lasting
    beside = random.of(("pelvis",))[:, 0, 0] * errors.centre_m["centre_of_mass"] * lasting
    # Last, so that all that is the body's own is the same however many frames are asked for.
    local += random.of(names, count) * noise[:, index, None]
    same_way = _lasting_a_while(random.of(names, count), frames / movement.rate_hz)
    local += same_way * np.hypot(filled[:, index], own)[:, :, None]
    open_joints = [joint + side for side in legs for joint in ("knee", "ankle")]
    if open_joints:
        sizes = np.array([base.unknown_m[name] for name in open_joints]) / np.sqrt(3.0)
        by_rule, rule_errors = _with_open_joints(random, open_joints, sizes * lasting, by_rule, rule_errors)
    shift = np.einsum("nmij,knmj->knmi", rotations[:, columns], local)
    paths = np.full((copies, count + 1, cleaned.smooth_m.shape[1], 3), np.nan)
    paths[:, :count] = cleaned.smooth_m[frames]
    paths[:, :count, index] += shift
    places = still + np.einsum("mij,kmj->kmi", upright[columns], stuck)
    paths[:, count, index] = places
    others = [base] * (copies - 1)
    if lasting:
        others = [calibrate(dict(zip(names, one, strict=True)), segments, recording.functional) for one in places[1:]]
    shifts = [dict(zip(by_rule, one, strict=True)) for one in rule_errors[1:]]
    bodies = [base, *(_elsewhere(other, shift) for other, shift in zip(others, shifts, strict=True))]
    rows = copies * (count + 1)
    body = replace(
        cleaned,
        smooth_m=paths.reshape(rows, -1, 3),
        source=np.tile(np.concatenate([cleaned.source[frames], cleaned.source[:1]]), (copies, 1)),
        error_m=np.tile(np.concatenate([cleaned.error_m[frames], cleaned.error_m[:1]]), (copies, 1)),
    )
    posed = pose_markers(body, recognition, _stacked(bodies, count + 1))
    return RecordedAgain(frames, _movements(movement, frames, posed, copies, beside))


def _movements(movement: Movement, frames: NDArray[np.int64], posed: Posed, copies: int, beside: Floats) -> tuple[Movement, ...]:
    """One movement of N frames for each copy; every copy of ``posed`` ends with a row in which the dancer stands."""
    count = frames.size

    def split(values: Floats) -> Floats:
        return values.reshape(copies, count + 1, *values.shape[1:])

    raw = split(measure_angles(posed, in_time=False))
    offset = np.zeros((copies, len(ANGLES)))
    subtracted = [ANGLES.index(name) for name in FROM_STANDING]
    offset[:, subtracted] = np.nan_to_num(raw[:, -1, subtracted])
    angles = raw - offset[:, None]
    centres, rotations, origins = split(posed.centres()), split(posed.frames_of_segments()), split(posed.origins())
    feet, mass = split(posed.foot_points), split(centre_of_mass(posed)[0])
    mass = mass + np.einsum("knij,kj->kni", rotations[:, :, SEGMENTS.index("pelvis")], beside)
    down = np.array([0.0, 0.0, movement.floor_m])
    heights = (
        feet[:, :, :, :, 2] - feet[:, -1:, :, :, 2] - np.append(movement.ground_m[frames], np.zeros((1, 2)), axis=0)[..., None]
    )
    upright = rotations[:, -1, SEGMENTS.index("thorax"), :, 1]
    neck = centres[:, -1, JOINTS.index("neck")]
    shoulders = np.stack(
        [np.einsum("ki,ki->k", centres[:, -1, JOINTS.index("shoulder" + s)] - neck, upright) for s in SUFFIXES.values()], axis=1
    )
    kept = {field.name: getattr(movement, field.name)[frames] for field in fields(movement) if field.name in _PER_FRAME}
    return tuple(
        replace(
            movement,
            **kept,
            recording=None,
            joint_centres_m=centres[k, :-1] - down,
            segment_rotations=rotations[k, :-1],
            segment_origins_m=origins[k, :-1] - down,
            angles_rad=angles[k, :-1],
            foot_points_m=feet[k, :-1] - down,
            foot_heights_m=heights[k, :-1],
            centre_of_mass_m=mass[k, :-1] - down,
            standing=replace(
                movement.standing,
                angles_rad=dict(zip(ANGLES, angles[k, -1].tolist(), strict=True)),
                shoulder_height_m=shoulders[k],
            ),
        )
        for k in range(copies)
    )


#: Arrays of a movement with a row per frame that other recordings have in common.
_PER_FRAME = ("time_s", "ground_m", "centre_of_mass_share", "trust", "joint_error_m", "joint_source", "segment_residual_m")
