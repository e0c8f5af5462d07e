"""From a cleaned take to the dancer in motion."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..errors import LandmarkError
from ..known import nothing_known_gives_nan
from ..take import CleanedTake, Floats, Source
from ..wording import capture as say
from .angles import change_from_standing, measure_angles
from .calibration import Calibration, Functional, calibrate
from .centre_of_mass import centre_of_mass
from .floor import Floor, floor_from_movement, floor_from_standing, ground_below
from .held_against_body import hold_against_body
from .landmarks import Landmark, Recognition, recognise
from .learn_joints import learn_joints
from .marker_model import pose_markers
from .movement import ANGLES, FOOT_POINTS, JOINTS, Movement, Recording, Standing
from .posed import Posed
from .skeleton_model import neutral_pose, pose_skeleton
from .standing import median_over, on_both_feet, quiet_frames, standing_still

#: How far a joint is believed by the least direct source it rests on; proposed default, no published norm.
_TRUST_OF_SOURCE = np.array([0.0, 1.0, 0.95, 0.8, 0.4])
#: A joint whose own marker sits elsewhere is told by the movement and by proportions: findings that rest on it drop a class (the
#: limit is 0.35). Proposed default.
_TRUST_WITHOUT_MARKER = 0.4
#: Error at which trust has fallen to one half, metres; proposed default.
_HALF_TRUST_M = 0.04
#: A grand plié bends the knees beyond the first, a bend begins beyond the second, rad. Proposed defaults.
GRAND_PLIE_RAD, _BENT_RAD = np.radians(100.0), np.radians(20.0)
#: Heel and ball count as down within these heights when the dancer's own greatest plié and relevé are looked for.
_HEEL_DOWN_M = 0.010
_BALL_DOWN_M = 0.020
#: A heel that moves less than this over so long is held where it is. Proposed defaults; a relevé's plateau moves by less than
#: 20 mm/s (catalogue 6.4), a push into a jump by a metre a second.
_HELD_M_S, _RATE_S = 0.10, 0.05


def _quiet(cleaned: CleanedTake, recognition: Recognition) -> NDArray[np.bool_]:
    """The quietest moment (F,), on both feet if there is one, by the markers alone."""
    points = cleaned.smooth_m[:, list(recognition.landmark_of)]
    index = recognition.index_of
    heels = [np.full((points.shape[0], 3), np.nan)] * 2
    for name in ("lateral_malleolus", "calcaneus"):
        if all(name + side in index for side in (".L", ".R")):
            heels = [cleaned.smooth_m[:, index[name + side]] for side in (".L", ".R")]
    spines = [column for name, column in index.items() if name.partition(".")[0].endswith("iliac_spine")]
    with nothing_known_gives_nan():
        pelvis = np.nanmean(cleaned.smooth_m[:, spines], axis=1) if spines else np.full((points.shape[0], 3), np.nan)
    return quiet_frames(points, cleaned.take.rate_hz, on_both_feet(np.stack(heels, axis=1), pelvis))


def _places(cleaned: CleanedTake, recognition: Recognition, frames: NDArray[np.bool_]) -> dict[str, Floats]:
    """Place (3,) of every landmark that is seen in some frames (F,)."""
    columns = list(recognition.landmark_of)
    places = median_over(cleaned.smooth_m[:, columns], frames)
    return {recognition.landmark_of[c]: places[i] for i, c in enumerate(columns) if np.isfinite(places[i]).all()}


def _calibrated(cleaned: CleanedTake, recognition: Recognition) -> tuple[Calibration, dict[str, Floats]]:
    """The standing body, and the places of the landmarks that it was built from."""
    places = _places(cleaned, recognition, _quiet(cleaned, recognition)) if recognition.landmark_of else {}
    segments = {recognition.landmark_of[index]: segment for index, segment in recognition.segment_of.items()}
    try:
        return calibrate(places, segments), places
    except LandmarkError as error:
        known = ", ".join(sorted(recognition.landmark_of.values())[:6]) or "none"
        raise LandmarkError(
            f"{cleaned.take.file}: {error}. Recognised were: {known}{' …' if len(recognition.landmark_of) > 6 else ''}. "
            "Give a table of your studio's labels with --landmarks FILE, or capture the take again."
        ) from error


def _learnt(
    cleaned: CleanedTake, recognition: Recognition, calibration: Calibration, places: dict[str, Floats], *, knees: bool
) -> tuple[Calibration, Functional | None]:
    """The body with the hip centres and knee axes that a take tells, and what that was; as it was when the take tells none."""
    functional = learn_joints(cleaned, recognition, calibration, knees=knees)
    if not functional:
        return calibration, None
    segments = {recognition.landmark_of[index]: segment for index, segment in recognition.segment_of.items()}
    better = calibrate(places, segments, functional)
    words = {".L": "left", ".R": "right"}
    notes = [say.hip_learnt(words[side], apart) for side, apart in functional.residual_m.items()]
    notes += [f"{words[side]} knee axis learnt from the movement" for side in functional.knee_axes]
    return replace(better, notes=(*better.notes, *notes)), functional


def _shifted(posed: Posed, height: float) -> Posed:
    """The same body with the floor at 0."""
    down = np.array([0.0, 0.0, height])
    return replace(
        posed, joints={name: place - down for name, place in posed.joints.items()}, foot_points=posed.foot_points - down
    )


def _length(posed: Posed, upper: str, lower: str) -> float:
    both = [np.linalg.norm(posed.joints[upper + s] - posed.joints[lower + s], axis=1) for s in (".L", ".R")]
    values = np.concatenate(both)
    return float(np.nanmedian(values)) if np.isfinite(values).any() else float("nan")


def own_ranges(angles: Floats, heights: Floats, rate_hz: float) -> tuple[Floats, Floats, Floats]:
    """Greatest plié with the heel down, relevé with the ball down, and pointed foot, each (2,) left, right.

    angles (F, A) in radians, heights (F, 2, 4) in metres as in Movement; NaN where the take shows no such range. A heel that
    passes a height on its way into a jump is no relevé: it counts where it hardly moves.
    """
    plie, releve, pointed = np.full(2, np.nan), np.full(2, np.nan), np.full(2, np.nan)
    ball = np.fmin(heights[:, :, 1], heights[:, :, 2])
    for foot, suffix in enumerate((".L", ".R")):
        bend = angles[:, ANGLES.index("knee_flexion" + suffix)]
        point = angles[:, ANGLES.index("plantarflexion" + suffix)]
        heel = heights[:, foot, 0]
        down = (heel < _HEEL_DOWN_M) & np.isfinite(bend)
        down &= ~_in_grand_plie(bend, down)
        if down.any():
            plie[foot] = np.quantile(bend[down], 0.99)
        loaded = (ball[:, foot] < _BALL_DOWN_M) & np.isfinite(heel) & (np.abs(_rate(heel, rate_hz)) < _HELD_M_S)
        if loaded.any():
            releve[foot] = np.quantile(heel[loaded], 0.99)
        if np.isfinite(point).any():
            pointed[foot] = np.nanquantile(point, 0.99)
    # A dancer who never bent, rose or pointed in this take has shown no range of her own.
    plie[plie < np.radians(20.0)] = np.nan
    releve[releve < 0.03] = np.nan
    pointed[pointed < np.radians(30.0)] = np.nan
    return plie, releve, pointed


def _rate(curve: Floats, rate_hz: float) -> Floats:
    """Change (F,) of a curve (F,) in a second, over _RATE_S; NaN beside what is missing."""
    half = max(1, round(0.5 * _RATE_S * rate_hz))
    padded = np.pad(curve, half, mode="edge")
    return np.asarray((padded[2 * half :] - padded[: -2 * half]) * rate_hz / (2 * half))


def _in_grand_plie(bend: Floats, down: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Frames (F,) of bends that go deeper than a demi-plié with the heel down: grand pliés in second, which show no demi-plié."""
    bent = np.concatenate([[False], np.nan_to_num(bend) > _BENT_RAD, [False]])
    edges = np.flatnonzero(np.diff(bent.astype(np.int8)))
    within = np.zeros(bend.size, dtype=bool)
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        within[start:stop] = bool((down[start:stop] & (bend[start:stop] > GRAND_PLIE_RAD)).any())
    return within


def _shoulder_heights(posed: Posed, mask: NDArray[np.bool_]) -> Floats:
    """Shoulders (2,) above the base of the neck along the upright axis of the thorax while standing, metres."""
    upright = posed.rotations["thorax"][:, :, 1]
    away = np.stack([posed.joints["shoulder" + suffix] - posed.joints["neck"] for suffix in (".L", ".R")], axis=1)
    return median_over(np.einsum("fsk,fk->fs", away, upright), mask)


def _trust(error: Floats, source: NDArray[np.uint8]) -> Floats:
    believed = _TRUST_OF_SOURCE[source] / (1.0 + (np.nan_to_num(error, nan=1e3) / _HALF_TRUST_M) ** 2)
    return np.where(source == Source.NONE, 0.0, believed)


def _heights(posed: Posed, floor: Floor, rate_hz: float) -> tuple[Floats, Floats]:
    hips = np.stack([posed.joints["hip.L"], posed.joints["hip.R"]], axis=1)
    ankles = np.stack([posed.joints["ankle.L"], posed.joints["ankle.R"]], axis=1)
    ground = ground_below(posed.foot_points, floor.flat_m, hips, ankles, rate_hz)
    return posed.foot_points[..., 2] - floor.flat_m - ground[:, :, None], ground


@dataclass(frozen=True)
class _Stood:
    """A posed take and where the dancer stands: posed frames to read standing from (of the take itself, or of another), those of
    them (F,) that do, and whether that is a neutral to count changes from."""

    posed: Posed
    reference: Posed
    frames: NDArray[np.bool_]
    neutral: bool
    notes: tuple[str, ...] = ()
    recording: Recording | None = None


def _skeleton_stood(cleaned: CleanedTake, static: CleanedTake | None) -> _Stood:
    posed = pose_skeleton(cleaned)
    if static is not None:
        reference = pose_skeleton(static)
        return _Stood(posed, reference, quiet_frames(reference.centres(), static.take.rate_hz, _on_both_feet(reference)), True)
    neutral = neutral_pose(cleaned)
    if neutral is None:
        return _Stood(posed, posed, quiet_frames(posed.centres(), cleaned.take.rate_hz, _on_both_feet(posed)), False)
    take, frame = neutral
    reference = posed if take is cleaned else pose_skeleton(take)
    return _Stood(posed, reference, np.arange(reference.frames) == frame, True)


def _markers_stood(cleaned: CleanedTake, static: CleanedTake | None, table: Mapping[str, Landmark] | None) -> _Stood:
    take = cleaned.take
    recognition = recognise(take.labels, table)
    still, named = (cleaned, recognition) if static is None else (static, recognise(static.take.labels, table))
    calibration, places = _calibrated(still, named)
    calibration, functional = _learnt(still, named, calibration, places, knees=static is not None)
    if functional is None and static is not None:
        calibration, functional = _learnt(cleaned, recognition, calibration, places, knees=False)
    calibration, functional, said = _held_against_body(cleaned, recognition, calibration, places, functional)
    posed = pose_markers(cleaned, recognition, calibration)
    notes = (*calibration.notes, *said)
    if static is not None:
        reference = pose_markers(still, named, calibration)
        frames = quiet_frames(reference.centres(), still.take.rate_hz, _on_both_feet(reference))
        return _Stood(posed, reference, frames, True, notes, Recording(cleaned, recognition, places, functional, said))
    frames = standing_still(posed.joints, take.rate_hz)
    neutral = bool(frames.any())
    if not neutral:
        frames = quiet_frames(posed.centres(), take.rate_hz, _on_both_feet(posed))
    elif not frames[_quiet(cleaned, recognition)].any():
        # What was quietest was no standing: the body is built anew from where the dancer really stands.
        places = _places(cleaned, recognition, frames)
        segments = {recognition.landmark_of[index]: segment for index, segment in recognition.segment_of.items()}
        posed = pose_markers(cleaned, recognition, calibrate(places, segments, functional))
    return _Stood(posed, posed, frames, neutral, notes, Recording(cleaned, recognition, places, functional, said))


def _held_against_body(
    cleaned: CleanedTake,
    recognition: Recognition,
    calibration: Calibration,
    places: dict[str, Floats],
    functional: Functional | None,
) -> tuple[Calibration, Functional | None, tuple[str, ...]]:
    """The body as a human body has it, what was learnt for it, and what sits elsewhere than its name says."""
    held = hold_against_body(cleaned, recognition, calibration, functional)
    if held.functional is None or held.functional is functional:
        return calibration, functional, held.sentences
    segments = {recognition.landmark_of[index]: segment for index, segment in recognition.segment_of.items()}
    better = calibrate(places, segments, held.functional)
    return replace(better, notes=calibration.notes), held.functional, held.sentences


def misplaced_markers(
    cleaned: CleanedTake, static: CleanedTake | None = None, *, table: Mapping[str, Landmark] | None = None
) -> tuple[str, ...]:
    """What sits elsewhere than its name says, one sentence each with what to do; nothing of a skeleton, or of labels that name
    no body."""
    if cleaned.take.kind == "skeleton":
        return ()
    recognition = recognise(cleaned.take.labels, table)
    still, named = (cleaned, recognition) if static is None else (static, recognise(static.take.labels, table))
    try:
        calibration, _ = _calibrated(still, named)
    except LandmarkError:
        return ()
    return hold_against_body(cleaned, recognition, calibration, None).sentences


def _on_both_feet(posed: Posed) -> NDArray[np.bool_]:
    """Where (F,) a posed body stands on both feet."""
    centres = posed.centres()
    hips = 0.5 * (centres[:, JOINTS.index("hip.L")] + centres[:, JOINTS.index("hip.R")])
    return on_both_feet(posed.foot_points[:, :, FOOT_POINTS.index("heel")], hips)


def solve(cleaned: CleanedTake, static: CleanedTake | None = None, *, table: Mapping[str, Landmark] | None = None) -> Movement:
    """Joint centres, segment frames, angles, feet, floor and centre of mass of a cleaned take.

    static: a take of the dancer standing still; without it a skeleton's rest pose or a moment of standing in the take itself
    serves, and the movement says so, and where there is neither. table: landmarks by name (``load_landmarks``). Frames in which a
    part is not known are NaN.
    Raises LandmarkError when the labels or joints do not name enough of a body.
    """
    rate = cleaned.take.rate_hz
    of_markers = cleaned.take.kind == "markers"
    stood = _markers_stood(cleaned, static, table) if of_markers else _skeleton_stood(cleaned, static)
    posed, reference, quiet, recording = stood.posed, stood.reference, stood.frames, stood.recording
    if static or (of_markers and stood.neutral):
        floor = floor_from_standing(reference.foot_points, quiet)
    else:
        flat = reference.foot_points[quiet] if stood.neutral else None
        floor = floor_from_movement(posed.foot_points, of_markers=of_markers, flat=flat)
    posed, reference = _shifted(posed, floor.height_m), _shifted(reference, floor.height_m)
    raw = measure_angles(posed)
    standing_raw = median_over(measure_angles(reference), quiet)
    angles = change_from_standing(raw, standing_raw)
    standing_angles = change_from_standing(standing_raw, standing_raw)
    heights, ground = _heights(posed, floor, rate)
    shoulders = _shoulder_heights(reference, quiet)
    plie, releve, pointed = own_ranges(angles, heights, rate)
    mass, share = centre_of_mass(posed)
    displaced = recording.functional.displaced if recording is not None and recording.functional is not None else frozenset()
    error = np.stack([posed.joint_error[name] for name in JOINTS], axis=1)
    source = np.stack([posed.joint_source[name] for name in JOINTS], axis=1)
    thigh, shank = _length(reference, "hip", "knee"), _length(reference, "knee", "ankle")
    ends = reference.foot_points[:, :, FOOT_POINTS.index("toe")] - reference.foot_points[:, :, 0]
    with nothing_known_gives_nan():
        foot = float(np.nanmedian(np.linalg.norm(ends, axis=2)))
    standing = Standing(
        from_static=static is not None,
        angles_rad=dict(zip(ANGLES, standing_angles.tolist(), strict=True)),
        leg_length_m=thigh + shank,
        thigh_length_m=thigh,
        shank_length_m=shank,
        foot_length_m=foot,
        stature_m=posed.stature_m,
        demi_plie_rad=plie,
        releve_m=releve,
        pointed_rad=pointed,
        shoulder_height_m=shoulders,
        neutral=stood.neutral,
    )
    warnings = stood.notes
    if static is None:
        warnings += (say.WIDER_WITHOUT_STATIC if stood.neutral else say.NO_STANDING,)
    return Movement(
        kind=cleaned.take.kind,
        rate_hz=rate,
        time_s=cleaned.take.time_s,
        joint_centres_m=posed.centres(),
        segment_rotations=posed.frames_of_segments(),
        segment_origins_m=posed.origins(),
        angles_rad=angles,
        foot_points_m=posed.foot_points,
        foot_heights_m=heights,
        ground_m=ground,
        centre_of_mass_m=mass,
        centre_of_mass_share=share,
        trust=_trust(error, source) * np.where([name in displaced for name in JOINTS], _TRUST_WITHOUT_MARKER, 1.0),
        joint_error_m=error,
        joint_source=source,
        segment_residual_m=posed.residuals(),
        standing=standing,
        floor_m=floor.height_m,
        warnings=(*warnings, say.floor_at(floor.height_m, floor.why)),
        recording=recording,
    )
