"""Reading C3D: every dialect as a small file made here, after the format's open description (c3d.org user guide)."""

from __future__ import annotations

import hashlib
import os
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.errors import OptionError, TakeError
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.units import to_z_up
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: A standing figure, metres, Z up, facing +Y.
FIGURE = {
    "left front head": (-0.07, 0.08, 1.65),
    "right front head": (0.07, 0.08, 1.65),
    "seventh cervical vertebra": (0.0, -0.06, 1.45),
    "suprasternal notch": (0.0, 0.08, 1.40),
    "left front of waist": (-0.12, 0.08, 0.98),
    "right front of waist": (0.12, 0.08, 0.98),
    "left lateral knee": (-0.15, 0.0, 0.50),
    "right lateral knee": (0.15, 0.0, 0.50),
    "left heel": (-0.12, -0.08, 0.05),
    "right heel": (0.12, -0.08, 0.05),
    "left second metatarsal head": (-0.13, 0.12, 0.04),
    "right second metatarsal head": (0.13, 0.12, 0.04),
}


def moving_figure(frames: int = 40) -> Floats:
    """The figure walking a little, (F, N, 3) in metres."""
    start = np.array(list(FIGURE.values()))
    path = np.stack([np.linspace(0.2, 0.6, frames), np.linspace(-0.3, 0.9, frames), 0.01 * np.sin(np.arange(frames))], axis=1)
    return start + path[:, None, :]


def _real(values: Any, processor: str) -> bytes:
    values = np.asarray(values, dtype=np.float32)
    if processor == "mips":
        return values.astype(">f4").tobytes()
    if processor == "dec":
        words = (values * np.float32(4)).astype("<f4").view("<u2").reshape(-1, 2)[:, ::-1]
        return words.astype("<u2").tobytes()
    return values.astype("<f4").tobytes()


def _parameter(value: Any, processor: str) -> bytes:
    order = ">" if processor == "mips" else "<"
    if isinstance(value, bytes):
        return struct.pack("bBB", -1, 1, len(value)) + value
    if isinstance(value, str):
        return _parameter(value.encode(), processor)
    if isinstance(value, list) and value and isinstance(value[0], (str, bytes)):
        texts = [item if isinstance(item, bytes) else item.encode() for item in value]
        width = max(map(len, texts))
        return struct.pack("bBBB", -1, 2, width, len(texts)) + b"".join(text.ljust(width) for text in texts)
    array = np.asarray(value)
    head = struct.pack("bB", 4 if array.dtype.kind == "f" else 2, array.ndim) + bytes(array.shape)
    flat = array.ravel(order="F")
    if array.dtype.kind == "f":
        return head + _real(flat, processor)
    return head + flat.astype(np.int64).astype(order + "i8").astype(order + "i2").tobytes()


def c3d_bytes(
    points: Floats,
    labels: list[Any],
    *,
    residuals: Floats | None = None,
    processor: str = "intel",
    scale: float = -1.0,
    rate_hz: float = 100.0,
    first_frame: int = 1,
    units: Any = "m",
    analog: Floats | None = None,
    more: dict[str, Any] | None = None,
    header_frames: tuple[int, int] | None = None,
) -> bytes:
    """A C3D file. points (F, N, 3) as stored; residuals (F, N), negative = missing; analog (F, S, C), unscaled.

    more: parameters by ``GROUP:NAME``; None takes one away.
    """
    frames, count = points.shape[:2]
    per_frame, channels = analog.shape[1:] if analog is not None else (0, 0)
    parameters: dict[str, Any] = {
        "POINT:USED": count,
        "POINT:FRAMES": min(frames, 65535),
        "POINT:SCALE": np.float32(scale),
        "POINT:RATE": np.float32(rate_hz),
        "POINT:DATA_START": 0,
        "POINT:UNITS": units,
        "POINT:LABELS": labels[:255] or None,
        "ANALOG:USED": channels,
        "ANALOG:RATE": np.float32(rate_hz * per_frame),
    }
    for start in range(255, len(labels), 255):
        parameters[f"POINT:LABELS{start // 255 + 1}"] = labels[start : start + 255]
    if channels:
        parameters |= {"ANALOG:GEN_SCALE": np.float32(1), "ANALOG:SCALE": np.ones(channels), "ANALOG:OFFSET": [0] * channels}
    parameters |= more or {}
    order = ">" if processor == "mips" else "<"
    names = list(dict.fromkeys(key.partition(":")[0] for key in parameters))
    body = b""
    for number, name in enumerate(names, start=1):
        body += struct.pack("bb", len(name), -number) + name.encode() + struct.pack(order + "hB", 3, 0)
    for key, value in parameters.items():
        if value is None:
            continue
        group, _, name = key.partition(":")
        content = _parameter(value, processor) + b"\0"
        body += struct.pack("bb", len(name), names.index(group) + 1) + name.encode()
        body += struct.pack(order + "H", len(content) + 2) + content
    body += b"\0\0"
    blocks = (len(body) + 4 + 511) // 512
    section = (struct.pack("BBBB", 1, 0x50, min(blocks, 255), {"intel": 84, "dec": 85, "mips": 86}[processor]) + body).ljust(
        512 * blocks, b"\0"
    )
    first, last = header_frames or (first_frame, min(first_frame + frames - 1, 65535))
    header = struct.pack("BB", 2, 0x50) + struct.pack(order + "5H", count, channels * per_frame, first, last, 0)
    header += _real([scale], processor) + struct.pack(order + "2H", 2 + blocks, per_frame) + _real([rate_hz], processor)
    words = np.zeros((frames, count, 4))
    words[:, :, :3] = points if scale < 0 else np.round(points / scale)
    words[:, :, 3] = 0 if residuals is None else residuals
    flat = words.reshape(frames, 4 * count)
    if analog is not None:
        flat = np.concatenate([flat, analog.reshape(frames, per_frame * channels)], axis=1)
    data = _real(flat.ravel(), processor) if scale < 0 else flat.ravel().astype(np.int64).astype(order + "i2").tobytes()
    return header.ljust(512, b"\0") + section + data


def read(tmp_path: Path, data: bytes, settings: Settings | None = None, name: str = "take.c3d") -> Any:
    path = tmp_path / name
    path.write_bytes(data)
    return read_take(path, settings or Settings())


def inferred(take: Any, what: str) -> Any:
    return next(item for item in take.inferred if item.what == what)


@pytest.mark.parametrize("processor", ["intel", "dec", "mips"])
@pytest.mark.parametrize("scale", [-0.1, 0.1])
def test_all_byte_orders_as_floats_and_as_scaled_integers(tmp_path: Path, processor: str, scale: float) -> None:
    points = moving_figure()
    data = c3d_bytes(points * 1000, list(FIGURE), processor=processor, scale=scale, units="mm")
    take = read(tmp_path, data)
    assert take.labels == tuple(FIGURE)
    assert take.rate_hz == 100.0
    assert take.sha256 == hashlib.sha256(data).hexdigest()
    np.testing.assert_allclose(take.positions_m, points, atol=1e-6 if scale < 0 else 0.6e-4)


@pytest.mark.parametrize("said_by", ["trial", "long frames", "size alone"])
def test_more_frames_than_sixteen_bits_can_count(tmp_path: Path, said_by: str) -> None:
    frames = 70_000
    points = np.tile([0.1, 0.2, 0.3], (frames, 3, 1))
    points[:, :, 0] += np.arange(frames)[:, None] * 1e-5
    more: dict[str, Any] = {}
    if said_by == "trial":
        more = {"TRIAL:ACTUAL_START_FIELD": [1, 0], "TRIAL:ACTUAL_END_FIELD": [frames % 65536, frames // 65536]}
    elif said_by == "long frames":
        more = {"POINT:LONG_FRAMES": np.float32(frames)}
    take = read(tmp_path, c3d_bytes(points, ["A", "B", "C"], more=more), Settings(up="z", unit="m"))
    assert take.frames == frames
    np.testing.assert_allclose(take.positions_m[-1, 0, 0], 0.1 + (frames - 1) * 1e-5, atol=1e-6)


def test_labels_beyond_255_are_continued(tmp_path: Path) -> None:
    labels = [f"P{index}" for index in range(300)]
    points = np.arange(900.0).reshape(1, 300, 3) / 1000 + 0.1
    take = read(tmp_path, c3d_bytes(np.repeat(points, 4, axis=0), labels), Settings(up="z", unit="m"))
    assert take.labels == tuple(labels)
    np.testing.assert_allclose(take.positions_m[0], points[0], atol=1e-6)


@pytest.mark.parametrize("coded", ["residual", "not a number", "exact zero", "out of range", "infinite"])
@pytest.mark.parametrize("processor", ["intel", "mips"])
def test_a_missing_sample_is_nan_however_it_is_coded(tmp_path: Path, coded: str, processor: str) -> None:
    points, residuals = moving_figure(), np.zeros((40, 12))
    at = (slice(5, 9), 3)
    if coded == "residual":
        residuals[at] = -1
    else:
        points[at] = {"not a number": np.nan, "exact zero": 0.0, "out of range": 9.9e9, "infinite": np.inf}[coded]
    take = read(tmp_path, c3d_bytes(points, list(FIGURE), residuals=residuals, processor=processor))
    expected = np.zeros((40, 12), dtype=bool)
    expected[at] = True
    np.testing.assert_array_equal(np.isnan(take.positions_m), np.repeat(expected[:, :, None], 3, axis=2))


def test_first_frame_after_one_keeps_the_times_of_events_and_forces(tmp_path: Path) -> None:
    first = 705  # 7.04 s after the start of the recording
    more = {
        "EVENT:USED": 3,
        "EVENT:TIMES": np.array([[0.0, 0.0, 1.0], [7.14, 7.24, 0.5]]),
        "EVENT:LABELS": ["heel strike", "toe off", "note"],
        "EVENT:CONTEXTS": ["Left", "Right", "General"],
        **plate_parameters(2),
    }
    force = np.zeros((40, 5, 6))
    force[20, 2, 2] = 500.0
    take = read(tmp_path, c3d_bytes(moving_figure(), list(FIGURE), first_frame=first, more=more, analog=force))
    assert take.first_frame == first
    assert [(event.label, event.side) for event in take.events] == [("heel strike", "left"), ("toe off", "right"), ("note", None)]
    # The third is one minute and half a second after the start of the recording.
    np.testing.assert_allclose([event.time_s for event in take.events], [0.10, 0.20, 60.5 - 7.04], atol=1e-5)
    plate = take.force_plates[0]
    assert plate.rate_hz == 500.0
    assert np.flatnonzero(plate.force_n[:, 2] > 100) / plate.rate_hz == pytest.approx([0.204])


def test_event_times_that_count_from_the_kept_part_are_taken_so(tmp_path: Path) -> None:
    more = {"EVENT:USED": 1, "EVENT:TIMES": np.array([[0.0], [0.25]]), "EVENT:LABELS": ["on"], "EVENT:CONTEXTS": ["Left"]}
    take = read(tmp_path, c3d_bytes(moving_figure(), list(FIGURE), first_frame=705, more=more))
    assert take.events[0].time_s == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("named", "per_metre", "unit"),
    [
        ("m", 1, "m"),
        ("cm", 100, "cm"),
        ("mm", 1000, "mm"),
        ("in", 1 / 0.0254, "in"),
        ("inches", 1 / 0.0254, "in"),
        ("millimeters", 1000, "mm"),
        ("mete", 1, "m"),
        ("centim", 100, "cm"),
        (None, 1000, "mm"),
        (None, 1, "m"),
        (None, 1 / 0.0254, "in"),
        ("parsec", 100, "cm"),
        ("mm", 1, "m"),  # named wrongly: the body tells
    ],
)
def test_unit_by_its_name_and_by_the_height_of_the_body(tmp_path: Path, named: str | None, per_metre: float, unit: str) -> None:
    points = moving_figure()
    take = read(tmp_path, c3d_bytes(points * per_metre, list(FIGURE), units=named))
    assert inferred(take, "unit").value == unit
    np.testing.assert_allclose(take.positions_m, points, atol=1e-5)
    wrongly_named = named == "mm" and per_metre == 1
    assert bool(take.warnings) == wrongly_named


@pytest.mark.parametrize("up", ["x", "y", "z", "-x", "-y", "-z"])
def test_up_axis_is_where_the_head_is_and_left_stays_left(tmp_path: Path, up: str) -> None:
    points = moving_figure()
    take = read(tmp_path, c3d_bytes(points @ to_z_up(up), list(FIGURE)))
    assert inferred(take, "up axis").value == up
    np.testing.assert_allclose(take.positions_m, points, atol=1e-6)


def test_the_body_overrules_the_axis_drawn_upwards_and_settings_overrule_both(tmp_path: Path) -> None:
    points = moving_figure()
    data = c3d_bytes(points @ to_z_up("y"), list(FIGURE), more={"POINT:X_SCREEN": "+X", "POINT:Y_SCREEN": "+Z"})
    take = read(tmp_path, data)
    assert inferred(take, "up axis").value == "y"
    assert "although" in inferred(take, "up axis").why
    asked = read(tmp_path, data, Settings(up="z", unit="cm", rate_hz=50.0))
    assert [(item.what, item.why) for item in asked.inferred[:3]] == [
        ("up axis", "as asked for"),
        ("unit", "as asked for"),
        ("rate", "as asked for"),
    ]
    np.testing.assert_allclose(asked.positions_m, points @ to_z_up("y") * 0.01, atol=1e-6)
    assert asked.rate_hz == 50.0


def test_unnamed_points_stand_along_the_axis_in_which_they_are_tallest(tmp_path: Path) -> None:
    points = moving_figure() @ to_z_up("x")
    take = read(tmp_path, c3d_bytes(points, [f"Channel{index}" for index in range(12)], more={"POINT:Y_SCREEN": "+Z"}))
    assert inferred(take, "up axis").value == "x"


def test_computed_points_are_kept_apart(tmp_path: Path) -> None:
    extra = ["LKneeAngles", "RHipPower", "LAnkleForce", "RKneeMoment", "LNormalisedGRF", "CentreOfMass"]
    extra += ["LFEO", "LFEA", "LFEL", "LFEP", "PELO", "PELA", "PELL", "PELP", "Spread", "Bone"]
    figure = moving_figure()
    values = np.tile(np.arange(len(extra), dtype=float)[None, :, None] + 1.0, (40, 1, 3))
    values[:, 0] = [60.0, 5.0, -3.0]
    more = {
        "POINT:TYPE_GROUPS": ["SCALARS", "SCALAR", "MODELED_MARKERS", "MODELED_MARKER"],
        "POINT:SCALARS": ["Spread"],
        "POINT:MODELED_MARKERS": ["Bone"],
    }
    data = c3d_bytes(np.concatenate([figure, values], axis=1) * 1000, [*FIGURE, *extra], units="mm", more=more)
    take = read(tmp_path, data)
    assert take.labels == tuple(FIGURE)
    assert set(take.computed) == {"LKneeAngles", "RHipPower", "LAnkleForce", "RKneeMoment", "LNormalisedGRF", "Spread"}
    assert set(take.computed_m) == set(extra) - set(take.computed)
    np.testing.assert_allclose(take.computed["LKneeAngles"][0], [60_000.0, 5_000.0, -3_000.0])
    np.testing.assert_allclose(take.computed_m["CentreOfMass"][0], values[0, 5], atol=1e-5)


def test_duplicate_empty_and_unnamed_labels(tmp_path: Path) -> None:
    labels = list(FIGURE)
    labels[6], labels[7], labels[9], labels[10] = "left lateral knee", "left lateral knee", "", "*12"
    take = read(tmp_path, c3d_bytes(moving_figure(), labels))
    assert len(set(take.labels)) == 12
    assert take.labels[6:8] == ("left lateral knee", "left lateral knee#2")
    assert take.unlabelled == (9, 10)


def test_pieces_of_one_marker_are_joined(tmp_path: Path) -> None:
    figure = moving_figure()
    residuals = np.zeros((40, 13))
    points = np.concatenate([figure, figure[:, :1]], axis=1)
    residuals[20:, 0] = residuals[:20, 12] = -1
    take = read(tmp_path, c3d_bytes(points, [*FIGURE, "left front head"], residuals=residuals))
    assert take.labels == tuple(FIGURE)
    np.testing.assert_allclose(take.positions_m, figure, atol=1e-6)
    assert inferred(take, "marker in pieces").value == "left front head: 2 joined"


def test_one_prefix_is_one_person(tmp_path: Path) -> None:
    take = read(tmp_path, c3d_bytes(moving_figure(), [f"Ana:{label}" for label in FIGURE]))
    assert take.labels[0] == "Ana:left front head"
    assert inferred(take, "up axis").value == "z"
    assert not take.warnings


@pytest.mark.parametrize("separator", [":", "_"])
@pytest.mark.parametrize(("asked", "second"), [(None, False), ("1", False), ("2", True), ("Bo", True), ("Ana", False)])
def test_one_of_two_people(tmp_path: Path, separator: str, asked: str | None, second: bool) -> None:
    figure = moving_figure()
    beside = figure + np.array([1.0, 0.0, 0.0])
    labels = [f"{name}{separator}{label}" for name in ("Ana", "Bo") for label in FIGURE]
    take = read(tmp_path, c3d_bytes(np.concatenate([figure, beside], axis=1), labels), Settings(person=asked))
    np.testing.assert_allclose(take.positions_m, beside if second else figure, atol=1e-6)
    assert inferred(take, "person").value == ("Bo" if second else "Ana")
    assert any("2 people" in warning for warning in take.warnings) == (asked is None)


def test_a_person_who_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(TakeError, match=r"no person “Cleo”.*Ana"):
        read(tmp_path, c3d_bytes(moving_figure(), [f"Ana:{label}" for label in FIGURE]), Settings(person="Cleo"))


def test_analog_only_and_segment_orientations_only_are_refused_with_words(tmp_path: Path) -> None:
    nothing = np.zeros((10, 0, 3))
    with pytest.raises(TakeError, match=r"analog channels .* no markers"):
        read(tmp_path, c3d_bytes(nothing, [], analog=np.ones((10, 2, 4))))
    with pytest.raises(TakeError, match=r"orientations of body segments"):
        read(tmp_path, c3d_bytes(nothing, [], more={"ROTATION:USED": 21}))
    with pytest.raises(TakeError, match="no markers"):
        read(tmp_path, c3d_bytes(nothing, []))
    with pytest.raises(TakeError, match="computed"):
        read(tmp_path, c3d_bytes(np.ones((10, 1, 3)), ["LKneeAngles"]))
    with pytest.raises(TakeError, match="not one of its markers"):
        read(tmp_path, c3d_bytes(np.ones((10, 1, 3)), ["left lateral knee"], residuals=-np.ones((10, 1))))


def test_files_that_are_no_take_are_refused_with_a_sentence(tmp_path: Path) -> None:
    whole = c3d_bytes(moving_figure(), list(FIGURE))
    damaged_start = whole[:512] + bytes(512) + whole[1024:]
    cases = {
        b"": "empty",
        b"hello": "too short",
        bytes(3000): "does not begin",
        os.urandom(1) + b"x" + whole[2:]: "does not begin",
        whole[:700]: "too short",
        damaged_start: "damaged",
        whole[: len(whole) // 2]: "cut short",
        c3d_bytes(np.zeros((0, 3, 3)), ["A", "B", "C"], header_frames=(1, 0)): "no frames|outside",
    }
    for data, words in cases.items():
        with pytest.raises(TakeError, match=words) as caught:
            read(tmp_path, data)
        assert "take.c3d" in str(caught.value)
    with pytest.raises(TakeError, match="folder"):
        read_take(tmp_path)
    with pytest.raises(TakeError, match="does not exist"):
        read_take(tmp_path / "nothing.c3d")
    with pytest.raises(TakeError, match="neither"):
        read(tmp_path, b"some text", name="notes.txt")


@pytest.mark.parametrize("rate_hz", [0.0, -5.0, 1.0, 1e7, np.nan])
def test_a_rate_that_cannot_be_right_is_asked_for(tmp_path: Path, rate_hz: float) -> None:
    data = c3d_bytes(moving_figure(), list(FIGURE), rate_hz=rate_hz)
    with pytest.raises(TakeError, match="--rate"):
        read(tmp_path, data)
    assert read(tmp_path, data, Settings(rate_hz=120.0)).rate_hz == 120.0


def test_settings_that_make_no_sense() -> None:
    for settings in (Settings(up="w"), Settings(unit="furlong"), Settings(rate_hz=0.0), Settings(rate_hz=float("nan"))):
        with pytest.raises(OptionError):
            read_take(Path("anything.c3d"), settings)


def test_one_frame_less_than_announced_is_read_with_a_warning(tmp_path: Path) -> None:
    take = read(tmp_path, c3d_bytes(moving_figure(), list(FIGURE))[:-16])
    assert take.frames == 39
    assert "end is missing" in take.warnings[0]


def test_parameters_damaged_at_their_end_are_read_as_far_as_they_make_sense(tmp_path: Path) -> None:
    data = bytearray(c3d_bytes(moving_figure(), list(FIGURE), more={"ZZZ:LAST": "x" * 60}))
    at = data.index(b"LAST")
    data[at + 4 : at + 6] = b"\xff\x7f"
    take = read(tmp_path, bytes(data))
    np.testing.assert_allclose(take.positions_m, moving_figure(), atol=1e-6)
    assert "damaged" in take.warnings[0]


def test_accents_and_other_scripts_in_path_and_labels(tmp_path: Path) -> None:
    labels = list(FIGURE)
    labels[4], labels[5] = "бедро", "髋"
    take = read(tmp_path, c3d_bytes(moving_figure(), labels), name="été 踊り.c3d")
    assert take.labels[4:6] == ("бедро", "髋")
    assert take.file.name == "été 踊り.c3d"
    western = read(tmp_path, c3d_bytes(moving_figure(), [*list(FIGURE)[:11], "Zehenspitze mü".encode("cp1252")]))
    assert western.labels[11] == "Zehenspitze mü"


def plate_parameters(kind: int, corners: Floats | None = None, origin: Floats | None = None) -> dict[str, Any]:
    """Parameters of one plate, 0.6 m × 0.4 m unless told otherwise; its first channel is the first analog channel."""
    if corners is None:
        corners = np.array([[0.6, 0.4, 0.0], [0.0, 0.4, 0.0], [0.0, 0.0, 0.0], [0.6, 0.0, 0.0]])[[0, 3, 2, 1]]
    channels = 8 if kind == 3 else 6
    moments = ["N"] * channels if kind == 3 else ["N", "N", "N", "Nm", "Nm", "Nm"]
    return {
        "FORCE_PLATFORM:USED": 1,
        "FORCE_PLATFORM:TYPE": [kind],
        "FORCE_PLATFORM:CORNERS": np.asarray(corners, dtype=np.float64).T[:, :, None],
        "FORCE_PLATFORM:ORIGIN": np.asarray(np.zeros(3) if origin is None else origin, dtype=np.float64)[:, None],
        "FORCE_PLATFORM:CHANNEL": np.arange(1, channels + 1)[:, None],
        "ANALOG:UNITS": moments,
    }


@pytest.mark.parametrize("up", ["z", "y"])
@pytest.mark.parametrize("kind", [1, 2, 3, 4])
def test_force_plates_give_force_and_where_it_acts(tmp_path: Path, kind: int, up: str) -> None:
    # The truth, in the Z-up laboratory: a plate on a step, and a foot that pushes on it; nothing in the first half.
    frames, per_frame = 40, 2
    centre, half = np.array([0.5, 0.3, 0.2]), np.array([0.3, 0.2, 0.0])
    x, y = np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0])  # the plate's own axes; z = x × y points down
    axes = np.stack([x, y, np.cross(x, y)], axis=1)
    corners = np.array([centre + sx * half[0] * x + sy * half[1] * y for sx, sy in ((1, 1), (-1, 1), (-1, -1), (1, -1))])
    floor_force = np.zeros((frames * per_frame, 3))
    floor_force[frames:] = [30.0, -20.0, 700.0]
    point = centre + 0.11 * x - 0.07 * y
    twist = np.where(np.arange(frames * per_frame) >= frames, 4.0, 0.0)

    # What the plate measures: the force on it, in its own axes, and its moment about the sensors' origin.
    on_plate = -floor_force @ axes
    depth = 0.04
    towards_top = np.array([0.0, 0.0, -depth])
    arm = (point - centre) @ axes + towards_top
    moment = np.cross(np.broadcast_to(arm, on_plate.shape), on_plate) + twist[:, None] * [0, 0, 1]
    a, b = 0.25, 0.15
    origin, calibration = towards_top, None
    if kind == 1:
        place = np.broadcast_to((point - centre) @ axes, on_plate.shape)
        channels = np.concatenate([on_plate, place[:, :2], twist[:, None]], axis=1)
    elif kind == 3:
        # Four sensors at (±a, ±b): loads that give this force and this moment; the shear is shared evenly but for the twist.
        total, mx, my = on_plate[:, 2], moment[:, 0] / b, moment[:, 1] / a
        loads = np.stack([total + mx - my, total + mx + my, total - mx + my, total - mx - my], axis=1) / 4
        shear = moment[:, 2] / (2 * b)
        channels = np.concatenate(
            [
                np.stack([on_plate[:, 0] / 2 - shear, on_plate[:, 0] / 2 + shear], axis=1),
                np.stack([on_plate[:, 1] / 2] * 2, axis=1),
                loads,
            ],
            axis=1,
        )
        origin = np.array([a, b, -depth])
    else:
        channels = np.concatenate([on_plate, moment], axis=1)
    if kind == 4:
        calibration = np.eye(6) + 0.05 * np.random.default_rng(1).normal(size=(6, 6))
        channels = channels @ np.linalg.inv(calibration).T
    turn = to_z_up(up)
    more = plate_parameters(kind, corners @ turn, origin)
    if calibration is not None:
        more["FORCE_PLATFORM:CAL_MATRIX"] = calibration[:, :, None]
    data = c3d_bytes(
        moving_figure(frames) @ turn, list(FIGURE), more=more, analog=channels.reshape(frames, per_frame, channels.shape[1])
    )
    plate = read(tmp_path, data).force_plates[0]
    assert plate.kind == kind
    assert plate.rate_hz == 200.0
    np.testing.assert_allclose(plate.corners_m, corners, atol=1e-6)
    np.testing.assert_allclose(plate.force_n, floor_force, atol=1e-3)
    assert np.isnan(plate.centre_of_pressure_m[:frames]).all()
    np.testing.assert_allclose(plate.centre_of_pressure_m[frames:], np.broadcast_to(point, (frames, 3)), atol=1e-5)


def test_a_plate_that_cannot_be_used_is_left_out_with_words(tmp_path: Path) -> None:
    figure, force = moving_figure(), np.zeros((40, 2, 6))
    for change in (
        {"FORCE_PLATFORM:TYPE": [7]},
        {"FORCE_PLATFORM:CHANNEL": np.arange(5, 11)[:, None]},
        {"FORCE_PLATFORM:CORNERS": np.zeros((3, 4, 1))},
    ):
        take = read(tmp_path, c3d_bytes(figure, list(FIGURE), analog=force, more=plate_parameters(2) | change))
        assert take.force_plates == ()
        assert "Force plate 1" in take.warnings[0]


def mutated(data: bytes, rng: np.random.Generator) -> bytes:
    """The bytes with a few of them changed, cut, doubled or filled with zeros, mostly where the structure is."""
    result = bytearray(data)
    for _ in range(int(rng.integers(1, 6))):
        at = int(rng.integers(0, len(result) if rng.random() < 0.2 else min(len(result), 2048)))
        match int(rng.integers(0, 6)):
            case 0 | 1:
                result[at] = int(rng.integers(0, 256))
            case 2:
                result[at : at + 2] = rng.choice([b"\xff\xff", b"\x00\x00", b"\x00\x80", b"\xff\x7f"])
            case 3:
                del result[at : at + int(rng.integers(1, 40))]
            case 4:
                result[at:at] = result[max(0, at - 30) : at]
            case _:
                result[at : at + 30] = bytes(30)
        if len(result) < 8:
            break
    return bytes(result[: int(rng.integers(1, len(result) + 1))] if rng.random() < 0.1 else result)


def test_fifteen_hundred_damaged_files_are_read_or_refused_but_never_crash_or_ask_for_much_memory(tmp_path: Path) -> None:
    import tracemalloc

    rng = np.random.default_rng(20)
    figure = moving_figure(8)
    more = plate_parameters(2) | {
        "EVENT:USED": 2,
        "EVENT:TIMES": np.array([[0.0, 0.0], [0.01, 0.02]]),
        "EVENT:LABELS": ["on", "off"],
        "EVENT:CONTEXTS": ["Left", "Right"],
    }
    seeds = [
        c3d_bytes(figure, list(FIGURE), processor=processor, scale=scale, analog=np.ones((8, 2, 6)), more=more | axes)
        for processor in ("intel", "dec", "mips")
        # Axes that a file names are read from it; those of the others are told from the body, which takes longer.
        for scale, axes in ((-0.1, {"POINT:X_SCREEN": "+Y", "POINT:Y_SCREEN": "+Z"}), (0.1, {}))
    ]
    path = tmp_path / "damaged.c3d"
    refused = peak = 0
    for number in range(1500):
        # Memory is traced for every eleventh: it makes reading four times slower, and the six kinds of file come round in turn.
        if traced := number % 11 == 0:
            tracemalloc.start()
        path.write_bytes(mutated(seeds[number % len(seeds)], rng))
        try:
            take = read_take(path)
        except TakeError:
            refused += 1
        else:
            assert take.positions_m.shape == (take.frames, len(take.labels), 3)
            assert not np.isinf(take.positions_m).any()
        if traced:
            peak = max(peak, tracemalloc.get_traced_memory()[1])
            tracemalloc.stop()
    assert 100 < refused < 1400
    assert peak < 30e6
