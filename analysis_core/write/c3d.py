"""C3D: the cleaned recording, with the labels, rate, unit, axes, force plates and analog samples of the one it came from."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ezc3d
import numpy as np

from ..errors import OutputError
from ..phrase.phase import Jump, Phase, Plie, Turn
from ..take import CleanedTake, Floats, Source, Take
from ..units import METRES_PER_UNIT, to_z_up
from ..wording.hand_over import not_kept
from .files import whole_file

#: Residual of a sample of which nothing is known (C3D file format user guide: a negative residual marks it as invalid).
_UNKNOWN = -1.0
#: Step of the residuals, metres. Proposed default.
_RESIDUAL_STEP_M = 0.00025
#: What the writing library raises for files that it cannot read.
_UNREADABLE = (RuntimeError, OSError, ValueError, KeyError, UnicodeDecodeError)
_CONTEXTS = {"left": "Left", "right": "Right"}
#: What a file may leave out of its events, with what stands for it: the writing library wants all of it.
_OF_EVENTS: dict[str, str | int] = {"CONTEXTS": "General", "LABELS": "", "DESCRIPTIONS": "", "SUBJECTS": "", "ICON_IDS": 0,
                                    "GENERIC_FLAGS": 0}  # fmt: skip


def _inferred(take: Take, what: str) -> str:
    return next(item.value for item in take.inferred if item.what == what)


def _as_recorded(cleaned: CleanedTake) -> tuple[Floats, Floats]:
    """Points (F, N, 3) in the recording's own unit and axes, NaN where nothing is known, and residuals (F, N)."""
    take = cleaned.take
    metres = METRES_PER_UNIT[_inferred(take, "unit")]
    # Back to how it lies in the recording, whose force plates and other points stay.
    places = cleaned.positions_m if take.levelled_by is None else cleaned.positions_m @ take.levelled_by
    points = places @ to_z_up(_inferred(take, "up axis")) / metres
    known = np.isfinite(points).all(axis=2)
    error = np.where(cleaned.source == Source.MEASURED, 0.0, np.nan_to_num(cleaned.error_m) / metres)
    return points, np.where(known, error, _UNKNOWN)


def _stored_labels(parameters: Any) -> list[str]:
    """All labels of a file: those beyond 255 go on in LABELS2, LABELS3, …"""
    labels = list(parameters["LABELS"]["value"])
    number = 2
    while f"LABELS{number}" in parameters:
        labels += parameters[f"LABELS{number}"]["value"]
        number += 1
    return labels


def _places(labels: Sequence[str], stored: Sequence[str]) -> tuple[list[int], dict[int, list[int]]]:
    """Column of the file for each of our labels; and the columns that hold further pieces of a marker, by its first column.

    Labels that stood twice at one time are ``name#2`` in a take; unnamed ones carry their number.
    """
    columns: dict[str, list[int]] = {}
    for index, label in enumerate(stored):
        columns.setdefault(label.strip() or f"*{index + 1}", []).append(index)
    places = []
    for label in labels:
        name, mark, number = label.rpartition("#")
        repeated = bool(mark) and label not in columns and number.isdecimal()
        own = columns[name if repeated else label]
        places.append(own[int(number) - 1 if repeated and len(own) >= int(number) else 0])
    taken = set(places)
    pieces = {own[0]: [index for index in own[1:] if index not in taken] for own in columns.values() if own[0] in taken}
    return places, {first: others for first, others in pieces.items() if others}


def _fill_in(file: Any, cleaned: CleanedTake, places: list[int], pieces: dict[int, list[int]]) -> None:
    """Put the cleaned markers into a file in place of its own; a marker in pieces stays in its pieces."""
    points, residuals = _as_recorded(cleaned)
    stored, kept = file["data"]["points"], file["data"]["meta_points"]["residuals"]
    before = {piece: np.isfinite(stored[0, piece]) & (kept[0, piece] >= 0) for others in pieces.values() for piece in others}
    stored[:3, places] = np.moveaxis(points, (2, 1, 0), (0, 1, 2))
    stored[3, places] = 1.0
    kept[0, places] = residuals.T
    for first, others in pieces.items():
        for piece in others:
            here = before[piece]
            stored[:3, piece], kept[0, piece] = np.nan, _UNKNOWN
            stored[:3, piece, here], kept[0, piece, here] = stored[:3, first, here], kept[0, first, here]
            stored[:3, first, here], kept[0, first, here] = np.nan, _UNKNOWN
    # A residual is stored as a whole number of steps up to 255, and steps are the scale: a quarter of a millimetre, rounded up.
    step = _RESIDUAL_STEP_M / METRES_PER_UNIT[_inferred(cleaned.take, "unit")]
    file["parameters"]["POINT"]["SCALE"]["value"] = [-step]
    filled = kept[0] > 0
    kept[0, filled] = np.minimum(np.ceil(kept[0, filled] / step), 255) * step + 0.01 * step


def _moments(phase: Phase) -> list[tuple[float | None, str]]:
    """The moments of a step that become events of the file, seconds, with what happens in them."""
    match phase:
        case Jump():
            return [(phase.take_off_s, "take-off"), (phase.landing_s, "landing")]
        case Turn():
            return [(phase.releve_s, "relevé"), (phase.close_s, "feet close")]
        case Plie():
            return [(phase.bottom_s, "bottom of the plié")]
    return []


def _complete_events(file: Any) -> None:
    """Everything that an event may have, for every event of a file; a group that announces none goes."""
    group = file["parameters"].get("EVENT")
    if group is None:
        return
    count = int(np.shape(group["TIMES"]["value"])[1]) if "TIMES" in group and np.ndim(group["TIMES"]["value"]) == 2 else 0
    if count == 0:
        del file["parameters"]["EVENT"]
        return
    # As many as there are times: a count that says otherwise, or none, is no reason to lose them.
    file.add_parameter("EVENT", "USED", [count])
    for name, usual in _OF_EVENTS.items():
        given = list(group[name]["value"])[:count] if name in group else []
        file.add_parameter("EVENT", name, given + [usual] * (count - len(given)))


def _add_events(file: Any, phases: Sequence[Phase], take: Take, kept: slice) -> None:
    """The phrase's moments within the frames kept; times count from the start of the recording, cut or not."""
    _complete_events(file)
    begin, first, last = (take.first_frame - 1) / take.rate_hz, kept.start / take.rate_hz, kept.stop / take.rate_hz
    moments = [
        (time, _CONTEXTS.get(str(phase.side), "General"), f"{phase.id} {words}")
        for phase in phases
        for time, words in _moments(phase)
        if time is not None and first <= time <= last
    ]
    for time, context, label in sorted(moments):
        minutes, seconds = divmod(begin + time, 60.0)
        file.add_event(time=(minutes, seconds), context=context, label=label)


def _new_file(cleaned: CleanedTake) -> Any:
    """A file of its own for a recording that the writing library cannot read: markers only."""
    take = cleaned.take
    file = ezc3d.c3d()
    file["parameters"]["POINT"]["RATE"]["value"] = [take.rate_hz]
    file["parameters"]["POINT"]["UNITS"]["value"] = [_inferred(take, "unit")]
    file["parameters"]["POINT"]["LABELS"]["value"] = list(take.labels)
    # Nothing else in this file says which axis is up.
    file.add_parameter("POINT", "Y_SCREEN", [_inferred(take, "up axis").upper().rjust(2, "+")])
    file["data"]["points"] = np.full((4, len(take.labels), take.frames), np.nan)
    file["data"]["meta_points"]["residuals"] = np.zeros((1, len(take.labels), take.frames))
    file["data"]["meta_points"]["camera_masks"] = np.zeros((7, len(take.labels), take.frames), dtype=bool)
    return file


def _complete_labels(file: Any) -> None:
    """One label for every point and channel: a file may name fewer or more, but the writing library wants as many."""
    for group, count in (("POINT", file["data"]["points"].shape[1]), ("ANALOG", file["data"]["analogs"].shape[1])):
        named = _stored_labels(file["parameters"][group])
        if len(named) != count and count <= 255:
            numbered = [f"*{index + 1}" for index in range(len(named), count)]
            file["parameters"][group]["LABELS"]["value"] = named[:count] + numbered


def _cut(file: Any, rows: slice) -> None:
    """Only the frames ``rows`` of a file, with the analog samples of the same time; its frames keep their numbers."""
    data, frames = file["data"], file["data"]["points"].shape[2]
    for name in ("residuals", "camera_masks"):
        data["meta_points"][name] = data["meta_points"][name][..., rows]
    data["points"] = data["points"][..., rows]
    for name in ("analogs", "rotations"):
        each = data[name].shape[2] // frames if name in data else 0
        if each:
            data[name] = data[name][..., rows.start * each : rows.stop * each]
    header = file["header"]["points"]
    header["first_frame"] += rows.start
    header["last_frame"] = header["first_frame"] + rows.stop - rows.start - 1
    # Some programs keep the numbers of the first and last frame here, too; the writing library keeps what stands there.
    file["parameters"].get("TRIAL", {}).pop("ACTUAL_START_FIELD", None)
    file["parameters"].get("TRIAL", {}).pop("ACTUAL_END_FIELD", None)


def _finish(file: Any, phases: Sequence[Phase], take: Take, kept: slice | None) -> None:
    """Events, and only what is kept."""
    _add_events(file, phases, take, kept or slice(0, take.frames))
    if kept is not None:
        _cut(file, kept)


def _reason(error: BaseException) -> str:
    return str(error).strip().rstrip(".") or type(error).__name__


def _with_markers_only(cleaned: CleanedTake) -> Any:
    """The cleaned markers in a file of their own."""
    file = _new_file(cleaned)
    _fill_in(file, cleaned, list(range(len(cleaned.take.labels))), {})
    return file


def write_cleaned_c3d(
    cleaned: CleanedTake, phases: Sequence[Phase], path: Path, *, kept: slice | None = None, overwrite: bool = False
) -> tuple[str, ...]:
    """Write a cleaned marker take as C3D; returns sentences that say what could not be kept.

    The recording is read again (``cleaned.take.file``), its markers replaced and all the rest kept. Missing samples are missing;
    the residual is 0 for measured samples, the expected error in the recording's unit for filled ones, −1 where nothing is
    known. The phrase's moments are events. kept: write these frames alone, all if None; they keep their numbers, and so their
    time. Written through ezc3d. Raises OutputError when the file is there, cannot be written, or the take is no marker take.
    """
    take = cleaned.take
    if take.kind != "markers":
        raise OutputError(f"{take.file.name} is a skeleton; a C3D file holds markers. Choose bvh, glb, fbx or usd.")
    why = ""
    try:
        file = ezc3d.c3d(str(take.file))
        _complete_labels(file)
        _fill_in(file, cleaned, *_places(take.labels, _stored_labels(file["parameters"]["POINT"])))
    except _UNREADABLE as error:
        file, why = _with_markers_only(cleaned), _reason(error)
    _finish(file, phases, take, kept)
    with whole_file(path, overwrite=overwrite) as temporary:
        try:
            file.write(str(temporary))
        except ValueError as error:
            # Parameters that contradict the samples are read, but not written.
            file, why = _with_markers_only(cleaned), _reason(error)
            _finish(file, phases, take, kept)
            file.write(str(temporary))
    return (not_kept(take.file.name, why),) if why else ()
