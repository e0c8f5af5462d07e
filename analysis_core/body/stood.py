"""Where and how the dancer stands: the body that a take is posed with, and the frames to count changes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..errors import LandmarkError
from ..known import nothing_known_gives_nan
from ..medians import median_of_known
from ..take import CleanedTake, Floats
from ..wording import capture as say
from ..wording.markers import marker_in_words
from .anatomy import BESIDE_JOINT, HEEL, SIDE_SUFFIXES, SIDES, TRUNK_SEGMENTS
from .calibration import Calibration, Functional, calibrate
from .held_against_body import hold_against_body
from .joint_names import map_skeleton
from .landmarks import Landmark, Recognition, recognise
from .learn_joints import learn_joints
from .marker_model import pose_markers
from .movement import FOOT_POINTS, JOINTS, Recording
from .posed import Posed
from .skeleton_model import neutral_pose, pose_skeleton
from .standing import on_both_feet, quiet_frames, standing_still

#: Fewer markers do not tell where a pelvis is.
_LEAST_OF_PELVIS = 3


@dataclass(frozen=True)
class Stood:
    """A posed take and where the dancer stands: posed frames to read standing from (of the take itself, or of another), those of
    them (F,) that do, and whether that is a neutral to count changes from."""

    posed: Posed
    reference: Posed
    frames: NDArray[np.bool_]
    neutral: bool
    notes: tuple[str, ...] = ()
    recording: Recording | None = None

    @property
    def displaced(self) -> frozenset[str]:
        """Joints whose own markers sit elsewhere."""
        functional = self.recording.functional if self.recording is not None else None
        return functional.displaced if functional is not None else frozenset()


def _pelvis_seen(cleaned: CleanedTake, recognition: Recognition) -> NDArray[np.bool_]:
    """Where (F,) all markers of the pelvis are seen: a body is built from it, so others are no moments to learn one from."""
    pelvis = [index for index, part in recognition.segment_of.items() if part == "pelvis"]
    return np.asarray(np.isfinite(cleaned.smooth_m[:, pelvis]).all(axis=(1, 2)))


def _quiet(cleaned: CleanedTake, recognition: Recognition) -> NDArray[np.bool_]:
    """The quietest moment (F,), on both feet if there is one, by the markers alone."""
    points = cleaned.smooth_m[:, list(recognition.landmark_of)]
    index = recognition.index_of
    heels = [np.full((points.shape[0], 3), np.nan)] * 2
    for name in (BESIDE_JOINT["ankle"][0], HEEL):
        if all(name + side in index for side in SIDE_SUFFIXES):
            heels = [cleaned.smooth_m[:, index[name + side]] for side in SIDE_SUFFIXES]
    whole = _pelvis_seen(cleaned, recognition)
    if whole.any():
        points = np.where(whole[:, None, None], points, np.nan)
    spines = [column for name, column in index.items() if name.partition(".")[0].endswith("iliac_spine")]
    with nothing_known_gives_nan():
        pelvis = np.nanmean(cleaned.smooth_m[:, spines], axis=1) if spines else np.full((points.shape[0], 3), np.nan)
    return quiet_frames(points, cleaned.take.rate_hz, on_both_feet(np.stack(heels, axis=1), pelvis))


def _places(cleaned: CleanedTake, recognition: Recognition, frames: NDArray[np.bool_]) -> dict[str, Floats]:
    """Place (3,) of every landmark that is seen in some frames (F,)."""
    columns = list(recognition.landmark_of)
    places = median_of_known(cleaned.smooth_m[frames][:, columns])
    return {recognition.landmark_of[c]: places[i] for i, c in enumerate(columns) if np.isfinite(places[i]).all()}


def _calibrated(cleaned: CleanedTake, recognition: Recognition) -> tuple[Calibration, dict[str, Floats]]:
    """The standing body, and the places of the landmarks that it was built from."""
    places = _places(cleaned, recognition, _quiet(cleaned, recognition)) if recognition.landmark_of else {}
    segments = {recognition.landmark_of[index]: segment for index, segment in recognition.segment_of.items()}
    try:
        return calibrate(places, segments), places
    except LandmarkError as error:
        unseen = [
            marker_in_words(cleaned.take.labels[index], recognition.landmark_of[index])
            for index, segment in recognition.segment_of.items()
            if segment in TRUNK_SEGMENTS and recognition.landmark_of.get(index, "") not in places
        ]
        if unseen:
            raise LandmarkError(
                f"{cleaned.take.file}: {error}. Named, but not seen on the body, or too seldom: {', '.join(unseen)}. "
                "Put these markers on and in sight of the cameras, and capture the take again."
            ) from error
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
    words = dict(zip(SIDE_SUFFIXES, SIDES, strict=True))
    notes = [say.hip_learnt(words[side], apart) for side, apart in functional.residual_m.items()]
    notes += [say.knee_learnt(words[side]) for side in functional.knee_axes]
    return replace(better, notes=(*better.notes, *notes)), functional


def skeleton_stood(cleaned: CleanedTake, static: CleanedTake | None) -> Stood:
    posed = pose_skeleton(cleaned)
    body = map_skeleton(cleaned.take)
    notes = () if body.has_toe(0) and body.has_toe(1) else (say.NO_TOES,)
    if static is not None:
        reference = pose_skeleton(static)
        still = quiet_frames(reference.centres(), static.take.rate_hz, _on_both_feet(reference))
        return Stood(posed, reference, still, True, notes)
    neutral = neutral_pose(cleaned)
    if neutral is None:
        return Stood(posed, posed, quiet_frames(posed.centres(), cleaned.take.rate_hz, _on_both_feet(posed)), False, notes)
    take, frame = neutral
    reference = posed if take is cleaned else pose_skeleton(take)
    return Stood(posed, reference, np.arange(reference.frames) == frame, True, notes)


def markers_stood(cleaned: CleanedTake, static: CleanedTake | None, table: Mapping[str, Landmark] | None) -> Stood:
    take = cleaned.take
    recognition = recognise(take.labels, table)
    still, named = (cleaned, recognition) if static is None else (static, recognise(static.take.labels, table))
    calibration, places = _calibrated(still, named)
    if sum(part == "pelvis" for part in recognition.segment_of.values()) < _LEAST_OF_PELVIS:
        raise LandmarkError(
            f"{take.file}: its labels name no pelvis, although those of the static take do. Give it the static take's labels, "
            "or a table of your studio's labels with --landmarks FILE."
        )
    calibration, functional = _learnt(still, named, calibration, places, knees=static is not None)
    if functional is None and static is not None:
        calibration, functional = _learnt(cleaned, recognition, calibration, places, knees=False)
    calibration, functional, said = _held_against_body(cleaned, recognition, calibration, places, functional)
    posed = pose_markers(cleaned, recognition, calibration)
    notes = (*calibration.notes, *said)
    if static is not None:
        reference = pose_markers(still, named, calibration)
        frames = quiet_frames(reference.centres(), still.take.rate_hz, _on_both_feet(reference))
        return Stood(posed, reference, frames, True, notes, Recording(cleaned, recognition, places, functional, said))
    frames = standing_still(posed.joints, take.rate_hz)
    neutral = bool(frames.any())
    if not neutral:
        frames = quiet_frames(posed.centres(), take.rate_hz, _on_both_feet(posed))
    elif (whole := frames & _pelvis_seen(cleaned, recognition)).any() and not frames[_quiet(cleaned, recognition)].any():
        # What was quietest was no standing: the body is built anew from where the dancer really stands.
        places = _places(cleaned, recognition, whole)
        segments = {recognition.landmark_of[index]: segment for index, segment in recognition.segment_of.items()}
        posed = pose_markers(cleaned, recognition, calibrate(places, segments, functional))
    return Stood(posed, posed, frames, neutral, notes, Recording(cleaned, recognition, places, functional, said))


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
