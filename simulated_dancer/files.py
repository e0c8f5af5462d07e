"""Simulated takes as files: C3D with float or integer samples."""

from __future__ import annotations

import struct
from pathlib import Path

import ezc3d
import numpy as np

from ..analysis_core.take import Take
from ..analysis_core.write.files import whole_file


def write_c3d(
    path: Path, take: Take, labels: tuple[str, ...], *, integer_step_mm: float | None = None, overwrite: bool = False
) -> None:
    """Write a marker take in millimetres, Z up; a missing sample gets a negative residual (the C3D standard's way).

    integer_step_mm: code the samples as 16-bit integers of this step, half the size of floats.
    """
    frames, markers = take.positions_m.shape[:2]
    missing = ~np.isfinite(take.positions_m).all(axis=2)
    points = np.zeros((4, markers, frames))
    points[:3] = np.where(missing[..., None], 0.0, take.positions_m * 1000.0).transpose(2, 1, 0)
    points[3] = 1.0
    c3d = ezc3d.c3d()
    for name, value in (("UNITS", ["mm"]), ("RATE", [take.rate_hz]), ("LABELS", list(labels)), ("X_SCREEN", ["+X"])):
        c3d["parameters"]["POINT"][name] = {**c3d["parameters"]["POINT"].get(name, {"type": -1}), "value": value}
    c3d["parameters"]["POINT"].pop("X_SCREEN", None)
    c3d["data"]["points"] = points
    residuals = np.zeros((1, markers, frames))
    residuals[0] = np.where(missing, -1.0, 0.0).T
    c3d["data"]["meta_points"]["residuals"] = residuals
    with whole_file(path, overwrite=overwrite) as temporary:
        c3d.write(str(temporary))
        if integer_step_mm is not None:
            temporary.write_bytes(_as_integers(temporary.read_bytes(), points, missing, integer_step_mm))


def _as_integers(floats: bytes, points: np.ndarray, missing: np.ndarray, step_mm: float) -> bytes:
    """The bytes of a float C3D file with its samples as integers: a positive scale says so in header and parameters."""
    start = 512 * (struct.unpack_from("<H", floats, 16)[0] - 1)
    before = bytearray(floats[:start])
    struct.pack_into("<f", before, 12, step_mm)
    at = before.index(b"SCALE", 512)
    # Name, offset to the next parameter (2 bytes), type (4 = float), number of dimensions (0), then the value.
    if before[at + 7] != 4 or before[at + 8] != 0:
        raise ValueError("the parameter section is not laid out as expected")
    struct.pack_into("<f", before, at + 9, step_mm)
    samples = np.zeros((missing.shape[0], missing.shape[1], 4), dtype="<i2")
    samples[..., :3] = np.round(points[:3].transpose(2, 1, 0) / step_mm)
    samples[..., 3] = np.where(missing, -1, 0)
    return bytes(before) + samples.tobytes()
