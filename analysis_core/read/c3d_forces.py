"""Force plates of a C3D file: forces of the floor on the dancer, where they act, and the corners.

Types 1 to 4, their channels and the meaning of ORIGIN and CORNERS after the format's open description (C3D file format
user guide, c3d.org, sections on FORCE_PLATFORM). A plate's own Z points away from the dancer; it measures the force on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats, ForcePlate
from ..wording import reading as say
from .c3d_file import C3dFile

#: Vertical force below which the point of force has no meaning, in newtons. Proposed default, no published norm.
LOADED_N = 20.0

#: No force, moment, length or calibration is a larger number in any unit. Proposed default, no published norm.
LARGEST_NUMBER = 1e9

#: Analog channels of each type of plate.
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
        x12, x34, y14, y23 = channels[:, 0], channels[:, 1], channels[:, 2], channels[:, 3]
        z1, z2, z3, z4 = channels[:, 4], channels[:, 5], channels[:, 6], channels[:, 7]
        a, b, depth = np.abs(origin[0]), np.abs(origin[1]), origin[2]
        force = np.stack([x12 + x34, y14 + y23, channels[:, 4:8].sum(axis=1)], axis=1)
        moment = np.stack(
            [
                b * (z1 + z2 - z3 - z4),
                a * (-z1 + z2 + z3 - z4),
                b * (-x12 + x34) + a * (y14 - y23),
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
        x, y, couple = point[:, 0], point[:, 1], channels[:, 5]
        along_x, along_y, vertical = force[:, 0], force[:, 1], force[:, 2]
        moment = np.stack(
            [
                y * vertical,
                -x * vertical,
                couple * lengths[5] + x * along_y - y * along_x,
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
    count = file.count("FORCE_PLATFORM:USED")
    stored = file.numbers("FORCE_PLATFORM:CORNERS").ravel(order="F")
    if len(stored) < 12 * count or not _sensible(stored):
        return []
    return list(stored[: 12 * count].reshape(count, 4, 3))


@dataclass(frozen=True)
class PlateDescription:
    """What the parameters say about one plate, in the file's units. columns: analog channels, from 0."""

    kind: int
    corners: Floats
    axes: Floats
    columns: NDArray[np.int64]
    origin: Floats
    calibration: Floats


def _sensible(values: Floats) -> bool:
    """Whether all numbers are such as lengths and calibrations can be."""
    return bool((np.abs(values) < LARGEST_NUMBER).all())


def _describe(file: C3dFile, index: int, kind: int, corners: Floats) -> PlateDescription | None:
    """Description of a plate of a known type; None when something is missing in it or makes no sense."""
    table = file.numbers("FORCE_PLATFORM:CHANNEL")
    if not table.size:
        return None
    by_plate = table.reshape(table.shape[0], -1, order="F")
    origin = file.numbers("FORCE_PLATFORM:ORIGIN").ravel(order="F")[3 * index : 3 * index + 3]
    calibration = np.eye(6).ravel()
    if kind == 4:
        calibration = file.numbers("FORCE_PLATFORM:CAL_MATRIX").ravel(order="F")[36 * index : 36 * index + 36]
    axes = _axes(corners)
    if index >= by_plate.shape[1] or len(origin) < 3 or len(calibration) < 36 or axes is None:
        return None
    columns = by_plate[: _CHANNELS[kind], index] - 1
    if len(columns) < _CHANNELS[kind] or (columns < 0).any() or (columns >= file.channels).any():
        return None
    if not (_sensible(origin) and _sensible(calibration)):
        return None
    # Without the distances of its sensors a plate of four sensors cannot tell where a force acts.
    if kind == 3 and not (origin[0] and origin[1]):
        return None
    return PlateDescription(kind, corners, axes, columns.astype(np.int64), origin, calibration.reshape(6, 6, order="F"))


def read_plates(file: C3dFile, analog: Floats, metres: float, to_z_up: Floats) -> tuple[list[ForcePlate], list[str]]:
    """All force plates of types 1 to 4 and sentences about those that cannot be used.

    analog (K, C) scaled; metres in the file's unit; to_z_up (3, 3) rotation into the Z-up laboratory.
    """
    kinds = file.numbers("FORCE_PLATFORM:TYPE").ravel()
    units = file.texts("ANALOG:UNITS")
    plates, warnings = [], []
    for index, corners in enumerate(plate_corners(file)):
        kind = int(kinds[index]) if index < len(kinds) and abs(kinds[index]) < LARGEST_NUMBER else 0
        if kind not in _CHANNELS:
            warnings.append(say.plate_not_read(index + 1, kind))
            continue
        plate = _describe(file, index, kind, corners)
        if plate is None or not len(analog):
            warnings.append(say.plate_incomplete(index + 1))
            continue
        lengths = np.array([_metres_of_moment(units[number] if number < len(units) else "", metres) for number in plate.columns])
        channels = analog[:, plate.columns]
        channels = np.where(np.abs(channels) < LARGEST_NUMBER, channels, np.nan)
        load = _load(kind, channels, plate.calibration, plate.origin * metres, lengths, metres)
        plates.append(_in_laboratory(kind, corners * metres, plate.axes, load, file.analog_rate_hz, to_z_up))
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
