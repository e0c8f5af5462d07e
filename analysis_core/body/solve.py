"""From a cleaned take to the dancer in motion."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..medians import median_of_known
from ..paths import side_by_side
from ..take import CleanedTake, Floats, Source
from ..wording import capture as say
from .anatomy import SIDE_SUFFIXES
from .angles import measure_angles
from .centre_of_mass import centre_of_mass
from .floor import Floor, feet_below, floor_below, floor_from_movement, floor_from_standing, ground_below
from .landmarks import Landmark
from .lengths import lengths_of
from .movement import ANGLES, FOOT_POINTS, JOINTS, Movement, RecordedMovement, Standing, arch_between
from .own_ranges import OwnRanges, own_ranges
from .posed import Posed
from .standing import UPRIGHT_RAD
from .stood import Stood, markers_stood, skeleton_stood

#: How far a joint is believed by the least direct source it rests on; proposed default, no published norm.
_TRUST_OF_SOURCE = np.array([0.0, 1.0, 0.95, 0.8, 0.4])
#: A joint whose own marker sits elsewhere is told by the movement and by proportions: findings that rest on it drop a class (the
#: limit is 0.35, below which the most trusted of them comes to lie). Proposed default.
_TRUST_WITHOUT_MARKER = 0.3
#: Error at which trust has fallen to one half, metres; proposed default.
_HALF_TRUST_M = 0.04


def _shifted(posed: Posed, height: float) -> Posed:
    """The same body with the floor at 0."""
    down = np.array([0.0, 0.0, height])
    joints = {name: place - down for name, place in posed.joints.items()}
    return replace(posed, joints=joints, foot_points=posed.foot_points - down, arches=posed.arches - down)


def _length(posed: Posed, upper: str, lower: str) -> float:
    both = [np.linalg.norm(posed.joints[upper + s] - posed.joints[lower + s], axis=1) for s in SIDE_SUFFIXES]
    return float(median_of_known(np.concatenate(both)))


def _leg_length(posed: Posed) -> float:
    return _length(posed, "hip", "knee") + _length(posed, "knee", "ankle")


def _shoulder_heights(posed: Posed, mask: NDArray[np.bool_]) -> Floats:
    """Shoulders (2,) above the base of the neck along the upright axis of the thorax while standing, metres."""
    upright = posed.rotations["thorax"][:, :, 1]
    away = side_by_side(posed.joints["shoulder" + suffix] - posed.joints["neck"] for suffix in SIDE_SUFFIXES)
    return median_of_known(np.einsum("fsk,fk->fs", away, upright)[mask])


def _trust(error: Floats, source: NDArray[np.uint8]) -> Floats:
    believed = _TRUST_OF_SOURCE[source] / (1.0 + (np.nan_to_num(error, nan=1e3) / _HALF_TRUST_M) ** 2)
    return np.where(source == Source.NONE, 0.0, believed)


def _heights(posed: Posed, floor: Floor, rate_hz: float) -> tuple[Floats, Floats]:
    hips = side_by_side(posed.joints["hip" + suffix] for suffix in SIDE_SUFFIXES)
    ankles = side_by_side(posed.joints["ankle" + suffix] for suffix in SIDE_SUFFIXES)
    ground = ground_below(posed.foot_points, floor.flat_m, hips, ankles, rate_hz)
    return posed.foot_points[..., 2] - floor.flat_m - ground[:, :, None], ground


def _arch_heights(stood: Stood, posed: Posed, reference: Posed, floor: Floor, ground: Floats) -> Floats:
    """The inner arches (F, 2) above where they are while the dancer stands; NaN without marker, and for who never stands."""
    if not stood.neutral:
        return np.full(posed.arches.shape[:2], np.nan)
    # Who stood on another floor than the take's stood with the soles on it.
    sole = arch_between(reference.foot_points[..., 2] - floor.flat_m)
    flat = median_of_known((reference.arches[..., 2] - sole)[stood.frames])
    return np.asarray(posed.arches[..., 2] - flat - ground)


def _floor(stood: Stood, *, of_markers: bool, static: bool) -> Floor:
    """The floor under who stands, or where nobody does under what the feet of the take do."""
    if of_markers and stood.neutral and not static:
        return floor_from_standing(stood.reference.foot_points, stood.frames)
    each_hip_z = [stood.posed.joints["hip" + suffix][:, 2] for suffix in SIDE_SUFFIXES]
    hips_z = np.mean(each_hip_z, axis=0)
    feet = feet_below(stood.posed.foot_points, hips_z, _leg_length(stood.reference))
    if static:
        return floor_below(floor_from_standing(stood.reference.foot_points, stood.frames), feet)
    flat = stood.reference.foot_points[stood.frames] if stood.neutral else None
    return floor_from_movement(feet, of_markers=of_markers, flat=flat)


def _standing(stood: Stood, reference: Posed, ranges: OwnRanges, *, of_markers: bool, static: bool) -> Standing:
    """The dancer's own reference, from the body that stands on the floor at 0."""
    thigh, shank = _length(reference, "hip", "knee"), _length(reference, "knee", "ankle")
    ends = reference.foot_points[:, :, FOOT_POINTS.index("toe")] - reference.foot_points[:, :, 0]
    foot = float(median_of_known(np.linalg.norm(ends, axis=2).ravel()))
    angles = dict(zip(ANGLES, median_of_known(measure_angles(reference)[stood.frames]).tolist(), strict=True))
    if not of_markers and not static:
        angles["trunk_pitch"] = float(np.clip(angles["trunk_pitch"], -UPRIGHT_RAD, UPRIGHT_RAD))
    return Standing(
        from_static=static,
        angles_rad=angles,
        leg_length_m=thigh + shank,
        thigh_length_m=thigh,
        shank_length_m=shank,
        foot_length_m=foot,
        stature_m=stood.posed.stature_m,
        demi_plie_rad=ranges.demi_plie_rad,
        releve_m=ranges.releve_m,
        pointed_rad=ranges.pointed_rad,
        shoulder_height_m=_shoulder_heights(reference, stood.frames),
        neutral=stood.neutral,
    )


def solve(cleaned: CleanedTake, static: CleanedTake | None = None, *, table: Mapping[str, Landmark] | None = None) -> Movement:
    """Joint centres, segment frames, angles, feet, floor and centre of mass of a cleaned take.

    static: a take of the dancer standing still; without it a skeleton's rest pose or a moment of standing in the take itself
    serves, and the movement says so, and where there is neither. table: landmarks by name (``load_landmarks``). Frames in which a
    part is not known are NaN.
    Raises LandmarkError when the labels or joints do not name enough of a body.
    """
    of_markers = cleaned.take.kind == "markers"
    stood = markers_stood(cleaned, static, table) if of_markers else skeleton_stood(cleaned, static)
    floor = _floor(stood, of_markers=of_markers, static=static is not None)
    posed, reference = _shifted(stood.posed, floor.height_m), _shifted(stood.reference, floor.height_m)
    angles = measure_angles(posed)
    heights, ground = _heights(posed, floor, cleaned.take.rate_hz)
    mass, share = centre_of_mass(posed)
    error = side_by_side(posed.joint_error[name] for name in JOINTS)
    source = side_by_side(posed.joint_source[name] for name in JOINTS)
    warnings = stood.notes
    if static is None:
        warnings += (say.WIDER_WITHOUT_STATIC if stood.neutral else say.NO_STANDING,)
    movement = Movement(
        kind=cleaned.take.kind,
        rate_hz=cleaned.take.rate_hz,
        time_s=cleaned.take.time_s,
        joint_centres_m=posed.centres(),
        segment_rotations=posed.frames_of_segments(),
        segment_origins_m=posed.origins(),
        angles_rad=angles,
        foot_points_m=posed.foot_points,
        foot_heights_m=heights,
        arch_heights_m=_arch_heights(stood, posed, reference, floor, ground),
        ground_m=ground,
        centre_of_mass_m=mass,
        centre_of_mass_share=share,
        trust=_trust(error, source) * np.where([name in stood.displaced for name in JOINTS], _TRUST_WITHOUT_MARKER, 1.0),
        joint_error_m=error,
        joint_source=source,
        segment_residual_m=posed.residuals(),
        standing=_standing(
            stood, reference, own_ranges(angles, heights, cleaned.take.rate_hz), of_markers=of_markers, static=static is not None
        ),
        floor_m=floor.height_m,
        warnings=(*warnings, say.floor_at(floor.height_m, floor.why)),
    )
    if not of_markers:
        # Skeletons have hips where their solver put them: how tall the dancer is, the whole body says, not the legs alone.
        movement = replace(movement, standing=replace(movement.standing, stature_m=lengths_of(movement).stature))
    return movement if stood.recording is None else RecordedMovement.of(movement, stood.recording)
