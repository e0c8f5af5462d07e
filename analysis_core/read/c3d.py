"""C3D: one marker take from a checked file; unit, up axis and rate are looked for in the file and checked on the body."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import TakeError
from ..settings import Settings
from ..take import Floats, Inference, Side, Take, TakeEvent
from ..units import to_z_up
from ..wording import numbers
from ..wording import reading as say
from . import labels as names
from .c3d_file import C3dFile, parse_c3d
from .c3d_forces import plate_corners, read_plates
from .c3d_samples import Samples, read_samples
from .infer import (
    Guess,
    body_height,
    choose_unit,
    choose_up,
    rate_is_believable,
    seen_samples,
    some_frames,
    up_from_body,
    up_from_points,
)

#: Farther than this from the laboratory's origin nobody is captured. Proposed default, no published norm.
FARTHEST_M = 100.0

#: No coordinate is a larger number in any unit: a kilometre in millimetres. Proposed default, no published norm.
LARGEST_COORDINATE = 1e6

#: No event comes later than this. Proposed default, no published norm.
LARGEST_TIME_S = 1e6

#: Groups of points that a file may declare as computed; the second kind holds positions.
_QUANTITY_GROUPS = ("ANGLES", "FORCES", "MOMENTS", "POWERS", "SCALARS", "REACTIONS")
_POSITION_GROUPS = ("MODELED_MARKERS",)

_SIDES: dict[str, Side] = {"left": "left", "right": "right", "l": "left", "r": "right"}


def _labels(file: C3dFile) -> list[str]:
    """One label for each point; empty where the file gives none."""
    stored = file.texts("POINT:LABELS")[: file.points]
    return stored + [""] * (file.points - len(stored))


def _computed(file: C3dFile, labels: list[str]) -> tuple[set[int], set[int]]:
    """Indices of computed quantities and of computed positions, by what the file declares and by name."""
    quantities, positions = names.computed(labels)
    declared = [name.upper() for name in file.texts("POINT:TYPE_GROUPS")]
    for group in {*_QUANTITY_GROUPS, *_POSITION_GROUPS, *declared[::2]}:
        members = set(file.texts(f"POINT:{group}")) - {""}
        target = positions if group in _POSITION_GROUPS else quantities
        target |= {index for index, label in enumerate(labels) if label in members}
    return quantities, positions - quantities


def _without_missing(samples: Samples) -> Floats:
    """Points with NaN for what is marked as missing, is no number, lies exactly in the origin or out of any range."""
    x, y, z = np.moveaxis(samples.points, 2, 0)
    there = samples.valid & seen_samples(samples.points) & ((x != 0) | (y != 0) | (z != 0))
    for coordinate in (x, y, z):
        there &= np.abs(coordinate) < LARGEST_COORDINATE
    return np.where(there[:, :, None], samples.points, np.nan)


def _turned(points: Floats, turn: Floats) -> Floats:
    """Points (..., 3) turned and scaled by a matrix (3, 3); a path that lies in one piece stays so, and is turned in one go."""
    return np.asarray(np.einsum("...i,ji->...j", points, turn))


def _joined(positions: Floats, labels: list[str]) -> tuple[Floats, list[str], list[Inference]]:
    """Pieces of one marker that stand under the same label one after the other become one again."""
    seen = np.isfinite(positions[:, :, 0])
    kept: list[int] = []
    result = positions.copy(order="K")
    by_label: dict[str, list[int]] = {}
    joined: dict[str, int] = {}
    for index, label in enumerate(labels):
        for first in by_label.get(label, []) if not names.is_unlabelled(label) else []:
            if seen[:, index].any() and seen[:, first].any() and not (seen[:, index] & seen[:, first]).any():
                result[seen[:, index], first] = positions[seen[:, index], index]
                seen[:, first] |= seen[:, index]
                joined[label] = joined.get(label, 1) + 1
                break
        else:
            by_label.setdefault(label, []).append(index)
            kept.append(index)
    inferred = [
        Inference("marker in pieces", say.pieces_joined(label, count), say.ONE_LABEL_IN_PIECES) for label, count in joined.items()
    ]
    return (result[:, kept] if joined else positions), [labels[index] for index in kept], inferred


def _person(file: C3dFile, labels: list[str], settings: Settings) -> tuple[list[int], list[Inference], list[str]]:
    """Indices of the markers of the person asked for, or of the first when there are several."""
    found = names.people(labels)
    prefixes = list(found)
    subjects = dict(zip(file.texts("SUBJECTS:NAMES"), file.texts("SUBJECTS:LABEL_PREFIXES"), strict=False))
    subjects = {name: prefix.rstrip(":_") for name, prefix in subjects.items() if prefix.rstrip(":_") in found}
    if settings.person is not None:
        asked = settings.person.strip().rstrip(":")
        for number, prefix in enumerate(prefixes or [""], start=1):
            if asked in (str(number), prefix) or subjects.get(asked) == prefix:
                chosen = found.get(prefix, list(range(len(labels))))
                return chosen, [Inference("person", prefix or "the only one", say.AS_ASKED)], []
        held = ", ".join(prefixes) or say.ONE_WITHOUT_A_NAME
        raise TakeError(f"{file.name}: there is no person “{asked}” in it. It holds: {held}. Choose with --person.")
    if len(prefixes) > 1:
        warning = say.several_people(len(prefixes), ", ".join(prefixes), prefixes[0])
        return found[prefixes[0]], [Inference("person", prefixes[0], say.first_of(len(prefixes)))], [warning]
    return list(range(len(labels))), [], []


def _rate(file: C3dFile, settings: Settings) -> tuple[float, Inference]:
    if settings.rate_hz is not None:
        return settings.rate_hz, Inference("rate", numbers.hertz(settings.rate_hz), say.AS_ASKED)
    if not rate_is_believable(file.rate_hz):
        raise TakeError(
            f"{file.name}: it gives {numbers.frame_rate(file.rate_hz)}, which cannot be right. Give the rate, such as --rate 120."
        )
    return file.rate_hz, Inference("rate", numbers.hertz(file.rate_hz), say.WRITTEN_IN_FILE)


def _up_in_file(file: C3dFile) -> Guess | None:
    text = "".join(file.texts("POINT:Y_SCREEN")[:1]).strip().lower()
    axis = text[-1:]
    if axis not in ("x", "y", "z") or len(text) > 2:
        return None
    return Guess(("-" if text[0] == "-" else "") + axis, say.drawn_upwards(text.upper()), True)


def _up_from_plates(file: C3dFile) -> Guess | None:
    normals = [np.cross(corner[1] - corner[0], corner[3] - corner[0]) for corner in plate_corners(file)]
    total = np.abs(np.sum([normal / np.linalg.norm(normal) for normal in normals if np.linalg.norm(normal)], axis=0))
    if not np.shape(total) or total.max() < 0.95 * np.linalg.norm(total):
        return None
    return Guess("xyz"[int(np.argmax(total))], say.PLATES_ACROSS, False)


def _up(file: C3dFile, settings: Settings, positions: Floats, labels: list[str]) -> Guess:
    upper, lower = names.upper_end(labels), names.lower_end(labels)
    body = up_from_body(positions, upper, lower)
    in_file = _up_in_file(file) or _up_from_plates(file)
    if body is None and not upper and not lower:
        body = up_from_points(positions)
    return choose_up(settings.up, body, in_file, Guess("z", say.C3D_UP_BY_CUSTOM, False))


def _events(file: C3dFile, rate_hz: float) -> tuple[TakeEvent, ...]:
    """Events with their times from the first frame; stored as minutes and seconds from the start of the recording."""
    stored = file.numbers("EVENT:TIMES").ravel(order="F")
    number = 2
    while (continued := file.numbers(f"EVENT:TIMES{number}")).size:
        stored = np.concatenate([stored, continued.ravel(order="F")])
        number += 1
    count = min(file.count("EVENT:USED"), len(stored) // 2)
    if not count:
        return ()
    times = 60.0 * stored[0 : 2 * count : 2] + stored[1 : 2 * count : 2]
    start, length = (file.first_frame - 1) / rate_hz, file.frames / rate_hz
    # Files that were cut may count from their own first frame: then the times lie outside what was kept.
    if not ((times >= start - 0.5) & (times <= start + length + 0.5)).any() and (times <= length + 0.5).any():
        start = 0.0
    labels, contexts = file.texts("EVENT:LABELS"), file.texts("EVENT:CONTEXTS")
    return tuple(
        TakeEvent(
            labels[index] if index < len(labels) else "",
            _SIDES.get(contexts[index].lower()) if index < len(contexts) else None,
            float(time - start),
        )
        for index, time in enumerate(times)
        if abs(time) < LARGEST_TIME_S
    )


@dataclass(frozen=True)
class _Laboratory:
    """How the recording's points become metres with Z up: turn (3, 3), metres in one unit, and what was inferred of both."""

    turn: Floats
    metres: float
    inferred: tuple[Inference, ...]
    warnings: tuple[str, ...]


def _laboratory(file: C3dFile, settings: Settings, positions: Floats, labels: list[str]) -> _Laboratory:
    """Which way is up and how long a unit is, by what the file says and by the body in positions (F, N, 3)."""
    some = some_frames(positions)
    up = _up(file, settings, some, labels)
    turn = to_z_up(up.value)
    stature = body_height(some, names.upper_end(labels), names.lower_end(labels), turn[2])
    metres, unit = choose_unit(settings.unit, "".join(file.texts("POINT:UNITS")[:1]), stature, some)
    warnings = () if unit.firm else (say.unit_not_certain(unit.why),)
    return _Laboratory(turn, metres, (Inference("up axis", up.value, up.why), Inference("unit", unit.value, unit.why)), warnings)


def _worn(name: str, positions_m: Floats, labels: list[str]) -> tuple[Floats, list[str]]:
    """Positions (F, N, 3) and labels of the points that are markers, without samples that are too far away to be any.

    Raises TakeError when none was ever seen.
    """
    far = np.abs(positions_m) > FARTHEST_M
    if far.any():
        positions_m = np.where(far.any(axis=2, keepdims=True), np.nan, positions_m)
    seen = np.isfinite(positions_m[:, :, 0]).any(axis=0)
    if not seen.any():
        raise TakeError(f"{name}: not one of its markers was ever seen. Capture the take again.")
    # A place that was reserved for an unnamed marker and never used is no marker.
    keep = [index for index, label in enumerate(labels) if seen[index] or not names.is_unlabelled(label)]
    return positions_m[:, keep], [labels[index] or f"*{index + 1}" for index in keep]


def read_c3d(path: Path, data: bytes, sha256: str, settings: Settings) -> Take:
    """Read a C3D file whose bytes are ``data``.

    Raises TakeError with a sentence when it is damaged, holds no markers, or does not tell its rate.
    """
    file = parse_c3d(path.name, data)
    rate_hz, rate = _rate(file, settings)
    samples = read_samples(file)
    all_labels = _labels(file)
    quantities, helpers = _computed(file, all_labels)
    markers = [index for index in range(file.points) if index not in quantities | helpers]
    if not markers:
        raise TakeError(f"{path.name}: all its points are computed; it holds no markers. Export it again with its markers.")
    chosen, person, said = _person(file, [all_labels[index] for index in markers], settings)
    markers = [markers[index] for index in chosen]
    points = _without_missing(samples)
    positions, marker_labels, joined = _joined(points[:, markers], [all_labels[index] for index in markers])
    room = _laboratory(file, settings, positions, marker_labels)
    to_metres = room.turn * room.metres
    positions_m, labels = _worn(path.name, _turned(positions, to_metres), marker_labels)
    plates, said_of_plates = read_plates(file, samples.analog, room.metres, room.turn)
    return Take(
        file=path,
        sha256=sha256,
        kind="markers",
        rate_hz=rate_hz,
        first_frame=file.first_frame,
        labels=names.distinct(labels),
        positions_m=positions_m,
        computed_m={all_labels[index]: _turned(points[:, index], to_metres) for index in sorted(helpers)},
        computed={all_labels[index]: points[:, index] for index in sorted(quantities)},
        unlabelled=tuple(index for index, label in enumerate(labels) if names.is_unlabelled(label)),
        events=_events(file, rate_hz),
        force_plates=tuple(plates),
        inferred=(*room.inferred, rate, *person, *joined),
        warnings=(*file.warnings, *said, *room.warnings, *said_of_plates),
    )
