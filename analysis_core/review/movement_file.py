"""movement.npz: the arrays of a review, compressed; positions err by less than a micrometre."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from ..body.angles import angle_trust
from ..body.movement import ANGLES, FROM_STANDING, JOINTS, SEGMENTS, Movement, Standing
from ..body.rotations import matrices_of, quaternions_of
from ..errors import ReviewError
from ..take import Floats, Kind
from ..units import degrees, millimetres
from .review import Markers

_EXTRA_COLUMNS = ("heel_height_mm.L", "heel_height_mm.R")

#: Steps to which numbers are rounded before they are stored, so that they compress: a bit more than half a step is the error.
#: Metres: 0.95 µm, a thousandth of what a camera tells. Degrees and millimetres: 0.00006. Shares: 0.001, 0.02 mm at most.
_METRES, _DEGREES, _SHARES = 2.0**-20, 2.0**-14, 2.0**-10
#: Single precision holds steps of _METRES up to here; beyond, numbers are stored in double precision.
_SINGLE_M = 8.0
#: Deflate's quickest level: the higher ones take longer and save three per cent.
_LEVEL = 1
#: Full digits, of which deflating saves a half at most and takes most of the time that writing takes.
_AS_THEY_ARE = ("segment_quaternions", "joint_centres_m", "segment_origins_m", "foot_points_m", "foot_heights_m")


def _rounded(values: Any, step: float) -> Any:
    """Values to the nearest step, in single precision where that holds the step."""
    # A step is a power of two: what it is multiplied with stays exact.
    steps = np.rint(np.asarray(values, dtype=np.float64) * (1.0 / step))
    steps *= step
    largest = np.fmax.reduce(np.abs(steps), axis=None, initial=0.0)
    return steps.astype(np.float32) if largest <= _SINGLE_M * step / _METRES else steps


def _quaternions(rotations: Floats) -> Floats:
    """Quaternions (F, S, 4) of rotations (F, S, 3, 3), segment by segment, as they lie in memory."""
    return quaternions_of(rotations.swapaxes(0, 1)).swapaxes(0, 1)


def movement_arrays(movement: Movement) -> dict[str, Any]:
    """The arrays of movement.npz: those of the contract, and what is needed to have the movement whole again.

    angles_deg are as they are told: those that are named in from_standing less standing.
    """
    heels = millimetres(movement.foot_heights_m[:, :, 0])
    angles = np.column_stack([*(degrees(movement.told(name)) for name in ANGLES), heels])
    metres = {
        "joint_centres_m": movement.joint_centres_m,
        "centre_of_mass_m": movement.centre_of_mass_m,
        "joint_error_m": movement.joint_error_m,
        "segment_residual_m": movement.segment_residual_m,
        "segment_origins_m": movement.segment_origins_m,
        "foot_points_m": movement.foot_points_m,
        "foot_heights_m": movement.foot_heights_m,
        "arch_heights_m": movement.arch_heights_m,
        "ground_m": movement.ground_m,
    }
    shares = {
        "trust": movement.trust,
        "angle_trust": angle_trust(movement.angles_rad),
        "centre_of_mass_share": movement.centre_of_mass_share,
    }
    return {
        "time_s": movement.time_s,
        "rate_hz": np.float64(movement.rate_hz),
        "floor_m": np.float64(movement.floor_m),
        "doubted": np.bool_(movement.doubted),
        "warnings": np.array(movement.warnings, dtype=np.str_),
        "joint_names": np.array(JOINTS),
        "angle_names": np.array((*ANGLES, *_EXTRA_COLUMNS)),
        "from_standing": np.array(FROM_STANDING),
        "angles_deg": _rounded(angles, _DEGREES),
        "joint_source": movement.joint_source,
        "segment_names": np.array(SEGMENTS),
        # Rounding a unit quaternion to single precision turns a segment by 0.1 µrad.
        "segment_quaternions": _quaternions(movement.segment_rotations).astype(np.float32),
        **{name: _rounded(values, _METRES) for name, values in metres.items()},
        **{name: _rounded(values, _SHARES) for name, values in shares.items()},
    }


def _marker_arrays(markers: Markers | None) -> dict[str, Any]:
    if markers is None:
        return {}
    return {
        "marker_labels": np.array(markers.labels),
        "marker_positions_m": _rounded(markers.positions_m, _METRES),
        "marker_source": markers.source,
    }


#: Typed by newer versions of numpy only.
_write_array: Callable[..., None] = np.lib.format.write_array


def write_movement(path: Path, movement: Movement, markers: Markers | None) -> None:
    """Write movement.npz. Raises OSError when it cannot be written."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, values in {**movement_arrays(movement), **_marker_arrays(markers)}.items():
            packed = io.BytesIO()
            # Column by column: each joint's path lies together and compresses better.
            _write_array(packed, np.asarray(values, order="F"), allow_pickle=False)
            # A fixed date: the same movement makes the same file.
            member = zipfile.ZipInfo(f"{name}.npy", date_time=(1980, 1, 1, 0, 0, 0))
            # The level is said here, since a member that brings its own date does not take that of the archive.
            packing = zipfile.ZIP_STORED if name in _AS_THEY_ARE else zipfile.ZIP_DEFLATED
            archive.writestr(member, packed.getvalue(), packing, _LEVEL)


def _doubles(data: Mapping[str, Any], name: str) -> Floats:
    return np.ascontiguousarray(data[name], dtype=np.float64)


def _as_measured(told_deg: Floats, standing: Standing) -> Floats:
    """Angles (F, A) in radians from those that are told, in degrees. Reviews of earlier versions told the standing as 0."""
    told = np.radians(told_deg)
    angles = told.copy()
    for name in FROM_STANDING:
        angles[:, ANGLES.index(name)] += standing.part_of(name, told)
    return angles


def read_movement(path: Path, kind: Kind, standing: Standing) -> tuple[Movement, Markers | None]:
    """Read movement.npz back. Raises ReviewError when it holds other joints, one of DAMAGED_ARRAYS when it is no such file."""
    with path.open("rb") as file, np.load(file, allow_pickle=False) as stored:
        data = {name: stored[name] for name in stored.files}
    if tuple(data["joint_names"]) != JOINTS or tuple(data["segment_names"]) != SEGMENTS:
        raise ReviewError(f"{path} was written by another version of the program. Review the take again.")
    quaternions = _doubles(data, "segment_quaternions")
    lengths = {len(data[name]) for name in ("joint_centres_m", "angles_deg", "trust", "segment_quaternions", "time_s")}
    if len(lengths) != 1:
        raise ValueError("its arrays have different lengths")
    movement = Movement(
        kind=kind,
        rate_hz=float(data["rate_hz"]),
        angles_rad=_as_measured(_doubles(data, "angles_deg")[:, : len(ANGLES)], standing),
        segment_rotations=matrices_of(quaternions),
        joint_source=np.ascontiguousarray(data["joint_source"], dtype=np.uint8),
        standing=standing,
        time_s=_doubles(data, "time_s"),
        joint_centres_m=_doubles(data, "joint_centres_m"),
        segment_origins_m=_doubles(data, "segment_origins_m"),
        foot_points_m=_doubles(data, "foot_points_m"),
        foot_heights_m=_doubles(data, "foot_heights_m"),
        ground_m=_doubles(data, "ground_m"),
        centre_of_mass_m=_doubles(data, "centre_of_mass_m"),
        centre_of_mass_share=_doubles(data, "centre_of_mass_share"),
        trust=_doubles(data, "trust"),
        joint_error_m=_doubles(data, "joint_error_m"),
        segment_residual_m=_doubles(data, "segment_residual_m"),
        # Reviews of earlier versions do not hold these.
        arch_heights_m=_doubles(data, "arch_heights_m") if "arch_heights_m" in data else np.full(data["ground_m"].shape, np.nan),
        floor_m=float(data.get("floor_m", 0.0)),
        doubted=bool(data.get("doubted", False)),
        warnings=tuple(str(text) for text in data.get("warnings", ())),
    )
    if "marker_labels" not in data:
        return movement, None
    labels = tuple(str(label) for label in data["marker_labels"])
    positions = np.ascontiguousarray(data["marker_positions_m"], dtype=np.float32)
    return movement, Markers(labels, positions, np.ascontiguousarray(data["marker_source"]))
