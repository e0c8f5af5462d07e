"""Force plates of a C3D file: forces of the floor on the dancer, where they act, and the corners.

Types 1 to 4, their channels and the meaning of ORIGIN and CORNERS after the format's open description (C3D file format
user guide, c3d.org, sections on FORCE_PLATFORM). A plate's own Z points away from the dancer; it measures the force on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..take import Floats, ForcePlate
from .c3d_check import C3dFile

#: Vertical force below which the point of force has no meaning, in newtons. Proposed default, no published norm.
LOADED_N = 20.0

_CHANNELS = {1: 6, 2: 6, 3: 8, 4: 6}


@dataclass(frozen=True)
class PlateLoad:
    """Force on the plate (K, 3), N, and moment at the centre of its top (K, 3), N·m, in the plate's axes."""

    force: Floats
    moment: Floats


def _metres_of_moment(unit: str, point_metres: float) -> float:
    """Metres in the length of a moment's unit; that of the points when it does not say."""
    text = unit.lower().replace(" ", "").replace(".", "").replace("·", "")
    for ending, metres in (("mm", 0.001), ("cm", 0.01), ("m", 1.0)):
        if text.startswith("n") and text.endswith(ending):
            return metres
    return point_metres


def _load(kind: int, channels: Floats, calibration: Floats, origin: Floats, lengths: Floats, metres: float) -> PlateLoad:
    """Force and moment of one plate; channels (K, 6 or 8) in the file's units, origin (3,) in metres.

    lengths: metres in the length unit of every moment channel.
    """
    if kind == 3:
        sides = channels
        a, b, depth = np.abs(origin[0]), np.abs(origin[1]), origin[2]
        force = np.stack([sides[:, 0] + sides[:, 1], sides[:, 2] + sides[:, 3], sides[:, 4:8].sum(axis=1)], axis=1)
        moment = np.stack(
            [
                b * (sides[:, 4] + sides[:, 5] - sides[:, 6] - sides[:, 7]),
                a * (-sides[:, 4] + sides[:, 5] + sides[:, 6] - sides[:, 7]),
                b * (-sides[:, 0] + sides[:, 1]) + a * (sides[:, 2] - sides[:, 3]),
            ],
            axis=1,
        )
        # The sensors lie below the top, towards the plate's +Z; a negative depth says the same.
        return PlateLoad(force, moment + np.cross(force, [0.0, 0.0, -abs(depth)]))
    if kind == 4:
        channels = channels @ calibration.T
    force = channels[:, :3]
    if kind == 1:
        point = channels[:, 3:5] * metres
        vertical = force[:, 2]
        moment = np.stack(
            [
                point[:, 1] * vertical,
                -point[:, 0] * vertical,
                channels[:, 5] * lengths[5] + point[:, 0] * force[:, 1] - point[:, 1] * force[:, 0],
            ],
            axis=1,
        )
        return PlateLoad(force, moment)
    moment = channels[:, 3:6] * lengths[3:6]
    # ORIGIN leads from the sensors up to the centre of the top, that is towards -Z; some files give it the other sign.
    towards_top = origin if origin[2] <= 0 else -origin
    return PlateLoad(force, moment - np.cross(towards_top, force))


def _axes(corners: Floats) -> Floats | None:
    """The plate's axes in the laboratory, as columns; None when the corners (4, 3) do not span a plane."""
    x = corners[0] + corners[3] - corners[1] - corners[2]
    y = corners[0] + corners[1] - corners[2] - corners[3]
    if not np.linalg.norm(x) or not np.linalg.norm(y):
        return None
    x = x / np.linalg.norm(x)
    z = np.cross(x, y)
    if not np.linalg.norm(z):
        return None
    z = z / np.linalg.norm(z)
    axes: Floats = np.stack([x, np.cross(z, x), z], axis=1)
    return axes


def plate_corners(file: C3dFile) -> list[Floats]:
    """Corners of every plate (4, 3) in the file's units and axes; none when the file's numbers do not fit."""
    count = int(file.numbers("FORCE_PLATFORM:USED").flat[0]) if file.numbers("FORCE_PLATFORM:USED").size else 0
    stored = file.numbers("FORCE_PLATFORM:CORNERS")
    if count <= 0 or stored.size < 12 * count:
        return []
    return [plate.T for plate in np.moveaxis(stored.reshape((3, 4, -1), order="F"), 2, 0)[:count]]


def read_plates(file: C3dFile, analog: Floats, metres: float, to_z_up: Floats) -> tuple[list[ForcePlate], list[str]]:
    """All force plates of types 1 to 4 and sentences about those that cannot be used.

    analog (K, C) scaled; metres in the file's unit; to_z_up (3, 3) rotation into the Z-up laboratory.
    """
    corners = plate_corners(file)
    kinds = file.numbers("FORCE_PLATFORM:TYPE").ravel()
    channel_table = file.numbers("FORCE_PLATFORM:CHANNEL")
    origins = file.numbers("FORCE_PLATFORM:ORIGIN").ravel(order="F")
    calibrations = file.numbers("FORCE_PLATFORM:CAL_MATRIX").ravel(order="F")
    units = file.texts("ANALOG:UNITS")
    plates, warnings = [], []
    channels_by_plate = channel_table.reshape(channel_table.shape[0], -1, order="F") if channel_table.ndim > 1 else None
    if channels_by_plate is None and channel_table.size:
        channels_by_plate = channel_table.reshape(-1, 1)
    for index, plate_corner in enumerate(corners):
        kind = int(kinds[index]) if index < len(kinds) else 0
        needed = _CHANNELS.get(kind)
        if needed is None:
            warnings.append(f"Force plate {index + 1} is of type {kind}, which is not read; its forces are left out.")
            continue
        columns = np.empty(0)
        if channels_by_plate is not None and index < channels_by_plate.shape[1]:
            columns = channels_by_plate[:needed, index] - 1
        calibration = calibrations[36 * index : 36 * index + 36]
        axes = _axes(plate_corner)
        if (
            len(columns) < needed
            or not len(analog)
            or (columns < 0).any()
            or (columns >= analog.shape[1]).any()
            or len(origins) < 3 * index + 3
            or (kind == 4 and len(calibration) < 36)
            or axes is None
        ):
            warnings.append(f"Force plate {index + 1} is described incompletely; its forces are left out.")
            continue
        numbers = columns.astype(int)
        lengths = np.array([_metres_of_moment(units[number] if number < len(units) else "", metres) for number in numbers])
        load = _load(
            kind,
            analog[:, numbers],
            calibration.reshape(6, 6, order="F") if kind == 4 else np.eye(6),
            origins[3 * index : 3 * index + 3] * metres,
            lengths,
            metres,
        )
        plates.append(_in_laboratory(kind, plate_corner * metres, axes, load, file.analog_rate_hz, to_z_up))
    return plates, warnings


def _in_laboratory(kind: int, corners: Floats, axes: Floats, load: PlateLoad, rate_hz: float, to_z_up: Floats) -> ForcePlate:
    turn = to_z_up @ axes
    vertical = load.force[:, 2]
    loaded = np.abs(vertical) >= LOADED_N
    point = np.full((len(vertical), 3), np.nan)
    point[loaded, 0] = -load.moment[loaded, 1] / vertical[loaded]
    point[loaded, 1] = load.moment[loaded, 0] / vertical[loaded]
    point[loaded, 2] = 0.0
    force = -load.force @ turn.T
    # Some files hold the force of the floor instead of the force on it: a loaded floor pushes up.
    if loaded.any() and np.median(force[loaded, 2]) < 0:
        force = -force
    corners = corners @ to_z_up.T
    return ForcePlate(kind, corners, rate_hz, force, point @ turn.T + corners.mean(axis=0))
