"""The same dance as markers would tell it that were stuck on again, on skin that slides otherwise: where every ± comes from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, Floats
from .anatomy import SIDE_SUFFIXES
from .angles import measure_angles
from .calibration import Calibration, Functional, calibrate
from .centre_of_mass import centre_of_mass
from .marker_errors import marker_errors
from .marker_model import pose_markers
from .movement import ANGLES, JOINTS, SEGMENTS, Movement, RecordedMovement, Recording
from .posed import Posed
from .recording_errors import Centres, Draws, Landmarks, Samples, Skin, bends, noise_left_m, shakes

#: So many other recordings are made: a standard deviation from them is known to 15 %.
DRAWS = 32
_BY_RULE = (("hip", "pelvis", "thigh"), ("shoulder", "thorax", "upper_arm"))
#: Joints of legs that were fitted to the movement, each with the segment it lies in and the one that hangs on it.
_FITTED = (("knee", "thigh", "shank"), ("ankle", "shank", "foot"))


@dataclass(frozen=True)
class RecordedAgain:
    """Some frames of a movement, as it is and as it would have been recorded again.

    frames (N,): of the take, in rising order. movements: the movement itself in these frames, then DRAWS others. Their
    angles, joints, feet and centre of mass are of these N frames; their standing is their own.
    """

    frames: NDArray[np.int64]
    movements: tuple[Movement, ...]


def _in_rows(body: Calibration, copies: int, rows: int) -> Calibration:
    """Bodies with places (K, 3), or (3,) for all alike, as one whose places have so many rows for each copy in turn."""

    def repeated(parts: Mapping[str, Mapping[str, Floats]]) -> dict[str, dict[str, Floats]]:
        return {
            segment: {name: np.repeat(np.broadcast_to(place, (copies, 3)), rows, axis=0) for name, place in places.items()}
            for segment, places in parts.items()
        }

    return replace(body, landmarks=repeated(body.landmarks), joints=repeated(body.joints), of_each_frame=True)


def _elsewhere(calibration: Calibration, shifts: Mapping[str, Floats]) -> Calibration:
    """The same bodies with the joint centres that a rule gives so far (K, 3) beside where the rule puts them."""
    joints = {segment: dict(places) for segment, places in calibration.joints.items()}
    for joint, near, far in (*_BY_RULE, *_FITTED):
        for suffix in SIDE_SUFFIXES:
            name = joint + suffix
            # Neighbouring segments are nearly parallel while standing: the same shift in both keeps the joint in one place.
            for segment in (near, near + suffix, far + suffix):
                if name in shifts and name in joints.get(segment, {}):
                    joints[segment][name] = joints[segment][name] + shifts[name]
    return replace(calibration, joints=joints)


@dataclass(frozen=True)
class _Worn:
    """The markers of a take that stand for landmarks: columns in the take, names, segments, places while standing (M, 3)."""

    columns: NDArray[np.int64]
    names: list[str]
    segments: list[str]
    still: Floats

    @property
    def of_segment(self) -> NDArray[np.int64]:
        """Place of each marker's segment in SEGMENTS (M,)."""
        return np.array([SEGMENTS.index(segment) for segment in self.segments])


def _worn(recording: Recording) -> _Worn:
    recognition = recording.recognition
    # In the order of their names: the order in the file must not matter.
    found = sorted((name, i) for i, name in recognition.landmark_of.items() if name in recording.standing)
    columns = [i for _, i in found]
    names = [name for name, _ in found]
    still = np.stack([recording.standing[name] for name in names])
    return _Worn(np.array(columns), names, [recognition.segment_of[i] for i in columns], still)


def _posed_standing(recording: Recording, worn: _Worn, body: Calibration) -> Floats:
    """Frames of the segments (S, 3, 3) while the dancer stood."""
    cleaned = recording.cleaned
    place = np.full((1, cleaned.smooth_m.shape[1], 3), np.nan)
    place[0, worn.columns] = worn.still
    stood = replace(cleaned, smooth_m=place, source=cleaned.source[:1], error_m=cleaned.error_m[:1])
    frames: Floats = pose_markers(stood, recording.recognition, body).frames_of_segments()[0]
    return np.nan_to_num(frames)


def _skin(worn: _Worn, movement: Movement, frames: NDArray[np.int64], upright: Floats) -> Skin:
    errors = marker_errors()
    size = np.array([errors.skin_m[segment.partition(".")[0]] for segment in worn.segments]) / np.sqrt(3.0)
    bony = np.array([errors.misplaced_m.get(name.partition(".")[0], 0.0) > 0 for name in worn.names])
    bend = bends(np.nan_to_num(movement.segment_rotations[frames]), upright)
    return Skin(
        worn.names,
        worn.of_segment,
        size * np.where(bony, errors.bony, 1.0),
        np.stack([bend[segment] for segment in worn.segments], axis=1),
        shakes(movement, frames)[:, worn.of_segment],
    )


def _landmarks(worn: _Worn, functional: Functional | None) -> Landmarks:
    misplaced = np.array([marker_errors().misplaced_m.get(name.partition(".")[0], 0.0) for name in worn.names])
    # Where markers sit on legs that were fitted to the movement is known: what is not is where the joints are.
    legs = functional.legs.values() if functional is not None else ()
    fitted = np.array([any(name in leg.thigh or name in leg.shank for leg in legs) for name in worn.names], dtype=bool)
    return Landmarks(worn.names, np.where(fitted, 0.0, misplaced))


def _samples(worn: _Worn, movement: Movement, cleaned: CleanedTake, frames: NDArray[np.int64], skin: Skin) -> Samples:
    noise = noise_left_m(cleaned.smooth_m, frames, movement.rate_hz)[:, worn.columns]
    filled = np.nan_to_num(cleaned.error_m[frames])[:, worn.columns] / np.sqrt(3.0)
    disagree = np.nan_to_num(movement.segment_residual_m[frames][:, worn.of_segment])
    # What the markers of a segment disagree by beyond noise and sliding skin is the markers' own.
    own = np.sqrt(np.maximum(disagree**2 / 3.0 - 0.5 * (skin.sd_m * skin.bend) ** 2 - noise**2, 0.0))
    return Samples(worn.names, frames / movement.rate_hz, noise, np.hypot(filled, own))


def _centres_by_rule() -> Centres:
    names = [joint + suffix for joint, _, _ in _BY_RULE for suffix in SIDE_SUFFIXES]
    return Centres(names, np.array([marker_errors().centre_m[name[:-2]] for name in names]))


def _centres_of_fitted_legs(body: Calibration, functional: Functional | None) -> Centres:
    names = [joint + side for side in (functional.legs if functional is not None else ()) for joint in ("knee", "ankle")]
    return Centres(names, marker_errors().fitted * np.array([body.unknown_m[name] for name in names]) / np.sqrt(3.0))


@dataclass(frozen=True)
class _Drawn:
    """What the sources of error did in K recordings: stuck (K, M, 3) and slid (K, N, M, 3), markers in the axes of their
    segments; elsewhere (K, J, 3) of the joints; mass (K, 3), in the axes of the pelvis."""

    stuck: Floats
    slid: Floats
    joints: Sequence[str]
    elsewhere: Floats
    mass: Floats


def _drawn(
    worn: _Worn, movement: Movement, recording: Recording, skin: Skin, fitted: Centres, frames: NDArray[np.int64], random: Draws
) -> _Drawn:
    by_rule = _centres_by_rule()
    stuck = _landmarks(worn, recording.functional).drawn(random)
    slid = skin.drawn(random)
    elsewhere = [by_rule.drawn(random)]
    mass = Centres(("pelvis",), np.array([marker_errors().centre_m["centre_of_mass"]])).drawn(random)
    # Last, so that all that is the body's own is the same however many frames are asked for.
    slid = slid + _samples(worn, movement, recording.cleaned, frames, skin).drawn(random)
    if fitted.names:
        elsewhere.append(fitted.drawn(random))
    joints = [*by_rule.names, *fitted.names]
    return _Drawn(stuck, slid, joints, np.concatenate(elsewhere, axis=1), mass[:, 0])


class OtherRecordings:
    """The same dance as markers that were stuck on again would tell it."""

    def __init__(self, movement: RecordedMovement) -> None:
        self.movement, recording = movement, movement.recording
        self._worn = _worn(recording)
        self._segments = dict(zip(self._worn.names, self._worn.segments, strict=True))
        self._body = calibrate(recording.standing, self._segments, recording.functional)
        self._upright = _posed_standing(recording, self._worn, self._body)

    def again(self, frames: NDArray[np.int64], draws: int = DRAWS, seed: int = 1, *, lasting: bool = True) -> RecordedAgain:
        """The movement in some frames (N,), as it is and as ``draws`` other recordings would tell it, in one batched pass.

        In each other recording every landmark is misplaced by the same vector in the standing and in the dance, the skin slides
        with the bend of the joints beside it and with hard landings, the joint centres that a rule gives lie elsewhere, and every
        sample has the noise that it was left with, and errs more, in the same way for a while, where it was filled and where a
        segment's markers disagree by more than that.
        lasting: also with what stays the same throughout a take (landmarks and joint centres elsewhere); without it only what
        comes and goes. The same seed gives the same recordings. Source of the magnitudes: ``marker_errors.toml``; of the
        procedure: catalogue 3.6, by perturbation.
        """
        worn, movement, recording, random = self._worn, self.movement, self.movement.recording, Draws(draws, seed)
        skin = _skin(worn, movement, frames, self._upright)
        fitted = _centres_of_fitted_legs(self._body, recording.functional)
        drawn = _drawn(worn, movement, recording, skin, fitted, frames, random)
        if not lasting:
            drawn = replace(drawn, stuck=0.0 * drawn.stuck, elsewhere=0.0 * drawn.elsewhere, mass=0.0 * drawn.mass)
        count, copies = frames.size, 2 * random.half + 1
        places = worn.still + np.einsum("mij,kmj->kmi", self._upright[worn.of_segment], drawn.stuck)
        body = self._body
        if lasting:
            body = calibrate(dict(zip(worn.names, places.swapaxes(0, 1), strict=True)), self._segments, recording.functional)
        body = _elsewhere(body, dict(zip(drawn.joints, drawn.elsewhere.swapaxes(0, 1), strict=True)))
        recorded = _recorded(recording.cleaned, worn, movement, frames, drawn, places)
        posed = pose_markers(recorded, recording.recognition, _in_rows(body, copies, count + 1))
        return RecordedAgain(frames, _movements(movement.alone(), frames, posed, copies, drawn.mass))


def _recorded(
    cleaned: CleanedTake, worn: _Worn, movement: Movement, frames: NDArray[np.int64], drawn: _Drawn, places: Floats
) -> CleanedTake:
    """The markers in some frames (N,) and then standing (places (K, M, 3)) of every recording, one after the other."""
    copies, count = places.shape[0], frames.size
    turned = np.nan_to_num(movement.segment_rotations[frames])[:, worn.of_segment]
    paths = np.full((copies, count + 1, cleaned.smooth_m.shape[1], 3), np.nan)
    paths[:, :count] = cleaned.smooth_m[frames]
    # The recordings last: one small product for each frame and marker.
    moved = turned @ (drawn.stuck[:, None] + drawn.slid).transpose(1, 2, 3, 0)
    paths[:, :count, worn.columns] += moved.transpose(3, 0, 1, 2)
    paths[:, count, worn.columns] = places
    rows = np.append(frames, 0)
    return replace(
        cleaned,
        smooth_m=paths.reshape(copies * (count + 1), -1, 3),
        source=np.tile(cleaned.source[rows], (copies, 1)),
        error_m=np.tile(cleaned.error_m[rows], (copies, 1)),
    )


def _movements(movement: Movement, frames: NDArray[np.int64], posed: Posed, copies: int, beside: Floats) -> tuple[Movement, ...]:
    """One movement of N frames for each copy; every copy of ``posed`` ends with a row in which the dancer stands."""
    count = frames.size

    def split(values: Floats) -> Floats:
        return values.reshape(copies, count + 1, *values.shape[1:])

    angles = split(measure_angles(posed, in_time=False))
    centres, rotations, origins = split(posed.centres()), split(posed.frames_of_segments()), split(posed.origins())
    feet, arches, mass = split(posed.foot_points), split(posed.arches), split(centre_of_mass(posed)[0])
    mass = mass + np.einsum("knij,kj->kni", rotations[:, :, SEGMENTS.index("pelvis")], beside)
    down = np.array([0.0, 0.0, movement.floor_m])
    ground = np.append(movement.ground_m[frames], np.zeros((1, 2)), axis=0)
    heights = feet[:, :, :, :, 2] - feet[:, -1:, :, :, 2] - ground[..., None]
    arch_heights = arches[..., 2] - arches[:, -1:, :, 2] - ground
    upright = rotations[:, -1, SEGMENTS.index("thorax"), :, 1]
    neck = centres[:, -1, JOINTS.index("neck")]
    shoulders = np.stack(
        [np.einsum("ki,ki->k", centres[:, -1, JOINTS.index("shoulder" + s)] - neck, upright) for s in SIDE_SUFFIXES], axis=1
    )
    kept = {field.name: getattr(movement, field.name)[frames] for field in fields(movement) if field.name in _PER_FRAME}
    return tuple(
        replace(
            movement,
            **kept,
            joint_centres_m=centres[k, :-1] - down,
            segment_rotations=rotations[k, :-1],
            segment_origins_m=origins[k, :-1] - down,
            angles_rad=angles[k, :-1],
            foot_points_m=feet[k, :-1] - down,
            foot_heights_m=heights[k, :-1],
            arch_heights_m=arch_heights[k, :-1],
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
