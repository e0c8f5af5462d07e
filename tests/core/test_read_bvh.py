"""BVH dialects, each with a small file of its own."""

from __future__ import annotations

from itertools import permutations
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.errors import TakeError
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.take import Take

ORDERS = ["".join(order) for order in permutations("XYZ")]

#: A body of ten joints in centimetres, Y up, feet at height 0 when the hips are at 90; by joint: parent, offset.
BODY = {
    "Hips": (None, (0, 90, 0)), "Spine": ("Hips", (0, 30, 0)), "Neck": ("Spine", (0, 25, 0)), "Head": ("Neck", (0, 15, 0)),
    "LeftUpLeg": ("Hips", (9, 0, 0)), "LeftLeg": ("LeftUpLeg", (0, -45, 0)), "LeftFoot": ("LeftLeg", (0, -45, 0)),
    "RightUpLeg": ("Hips", (-9, 0, 0)), "RightLeg": ("RightUpLeg", (0, -45, 0)), "RightFoot": ("RightLeg", (0, -45, 0)),
}  # fmt: skip


def hierarchy(root_offset: tuple[float, float, float] = (0, 0, 0), order: str = "ZXY", body: str = "") -> str:
    """The text of the body's hierarchy; body: prefix of every joint."""
    channels = " ".join(f"{axis}rotation" for axis in order)

    def joint(name: str) -> str:
        parent, offset = BODY[name]
        offset = root_offset if parent is None else offset
        head = f"{'ROOT' if parent is None else 'JOINT'} {body}{name}\n{{\nOFFSET {' '.join(map(str, offset))}\n"
        moves = "CHANNELS 6 Xposition Yposition Zposition" if parent is None else "CHANNELS 3"
        inner = "".join(joint(child) for child, (of, _) in BODY.items() if of == name)
        end = "" if inner else "End Site\n{\nOFFSET 0 -8 0\n}\n"
        return f"{head}{moves} {channels}\n{inner}{end}}}\n"

    return joint("Hips")


def row(height: float = 90.0, turns: dict[str, tuple[float, float, float]] | None = None) -> list[float]:
    """Channel values of one frame: the hips' place, then three angles for each joint."""
    values = [0.0, height, 0.0]
    for name in _written():
        values += (turns or {}).get(name, (0.0, 0.0, 0.0))
    return values


def _written() -> list[str]:
    """Joints in the order in which the file lists them."""
    listed: list[str] = []

    def walk(name: str) -> None:
        listed.append(name)
        for child, (of, _) in BODY.items():
            if of == name:
                walk(child)

    walk("Hips")
    return listed


def written(rows: list[list[float]]) -> str:
    return "\n".join(" ".join(f"{value:.6f}" for value in one) for one in rows)


def standing(frames: int = 6) -> list[list[float]]:
    """Rows of a body that bends its left knee more and more."""
    return [row(turns={"LeftLeg": (0.0, 5.0 * frame, 0.0)}) for frame in range(frames)]


def text(rows: str | None = None, frames: int = 6, time: str = "Frame Time: 0.0083333", head: str | None = None) -> str:
    return f"HIERARCHY\n{head or hierarchy()}MOTION\nFrames: {frames}\n{time}\n{written(standing()) if rows is None else rows}\n"


def take_of(folder: Path, content: str | bytes, settings: Settings = Settings()) -> Take:  # noqa: B008 - frozen
    path = folder / "made.bvh"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_take(path, settings)


def refused(folder: Path, content: str | bytes) -> str:
    with pytest.raises(TakeError) as caught:
        take_of(folder, content)
    assert str(caught.value).startswith("made.bvh")
    return str(caught.value)


@pytest.fixture
def plain(tmp_path: Path) -> Take:
    return take_of(tmp_path, text())


def assert_same(take: Take, other: Take) -> None:
    assert take.labels == other.labels
    assert take.rate_hz == other.rate_hz
    np.testing.assert_allclose(take.positions_m, other.positions_m, atol=1e-6)


def test_a_plain_file(plain: Take) -> None:
    assert (plain.kind, plain.frames, plain.rate_hz) == ("skeleton", 6, 120.0)
    joint = dict(zip(plain.labels, plain.positions_m[0], strict=True))
    # Y up becomes Z up, centimetres metres; the head end is told by the body.
    assert joint["Head"][2] == pytest.approx(1.60)
    assert joint["LeftFoot"][2] == pytest.approx(0.0, abs=1e-9)
    assert joint["LeftUpLeg"][:2] == pytest.approx([0.09, 0.0], abs=1e-9)
    bent = plain.positions_m[5, plain.labels.index("LeftFoot")]
    assert np.linalg.norm(bent - plain.positions_m[5, plain.labels.index("LeftLeg")]) == pytest.approx(0.45)


@pytest.mark.parametrize(
    "change",
    [
        lambda t: "\ufeff" + t,
        lambda t: t.replace("\n", "\r\n"),
        lambda t: t.replace("\n", "\r"),
        lambda t: t.replace(".", ","),
        lambda t: t.replace("\n{\n", " {\n"),
        lambda t: t.replace("Time: 0.0083333", "Time:0.0083333"),
        lambda t: t.replace("Frames: 6", "Frames:6"),
        lambda t: t.replace("ROOT", "root").replace("JOINT", "Joint").replace("End Site", "end site"),
        lambda t: t.replace("MOTION", "MOTION   # what moves") + "\n# the end\n",
        lambda t: t + "\n\n   \n",
        lambda t: t.replace(" 0.000000", "\t0.000000"),
        lambda t: t.replace("0.0083333", "8.3333e-3"),
    ],
    ids=["mark", "crlf", "cr", "comma", "brace", "glued time", "glued count", "case", "comments", "blanks", "tabs", "exponent"],
)
def test_spellings_of_the_same_file(tmp_path: Path, plain: Take, change: object) -> None:
    assert_same(take_of(tmp_path, change(text())), plain)


def test_sixteen_bit_text(tmp_path: Path, plain: Take) -> None:
    assert_same(take_of(tmp_path, text().encode("utf-16")), plain)


def test_names_in_any_script_and_with_spaces(tmp_path: Path, plain: Take) -> None:
    take = take_of(tmp_path, text(head=hierarchy(body="Élève 舞:")))
    np.testing.assert_allclose(take.positions_m, plain.positions_m, atol=1e-9)
    assert take.labels[0] == "Élève 舞:Hips"


def test_rows_that_are_wrapped(tmp_path: Path, plain: Take) -> None:
    wrapped = "\n".join(
        " ".join(f"{value:.6f}" for value in one[start : start + 9]) for one in standing() for start in range(0, len(one), 9)
    )
    assert_same(take_of(tmp_path, text(wrapped)), plain)


def test_a_short_row_is_a_missing_frame_and_a_cut_last_row_is_left_out(tmp_path: Path, plain: Take) -> None:
    rows = written(standing()).split("\n")
    rows[2] = rows[2].rsplit(" ", 3)[0]
    take = take_of(tmp_path, text("\n".join(rows)))
    assert np.isnan(take.positions_m[2]).all()
    np.testing.assert_allclose(np.delete(take.positions_m, 2, axis=0), np.delete(plain.positions_m, 2, axis=0), atol=1e-6)
    assert any("1 of 6 rows" in warning for warning in take.warnings)
    rows = written(standing()).split("\n")
    rows[5] = rows[5].rsplit(" ", 3)[0]
    cut = take_of(tmp_path, text("\n".join(rows)))
    assert cut.frames == 5
    assert any("last row" in warning for warning in cut.warnings)


@pytest.mark.parametrize("announced", [5, 7])
def test_a_frame_count_off_by_one(tmp_path: Path, plain: Take, announced: int) -> None:
    take = take_of(tmp_path, text(frames=announced))
    assert_same(take, plain)
    assert any(f"announces {announced} frames and holds 6" in warning for warning in take.warnings)


@pytest.mark.parametrize(
    ("time", "word"),
    [("Frame Time: 0", "--rate"), ("Frame Time: -0.01", "--rate"), ("Frame Time: 1e-9", "--rate"), ("", "--rate")],
)
def test_a_frame_time_that_cannot_be_right_is_asked_for(tmp_path: Path, time: str, word: str) -> None:
    assert word in refused(tmp_path, text(time=time))
    assert take_of(tmp_path, text(time=time), Settings(rate_hz=100.0)).rate_hz == 100.0


@pytest.mark.parametrize("order", ORDERS)
def test_every_order_of_rotation(tmp_path: Path, order: str) -> None:
    # The body turned by a rotation whose matrix is known, written in this order: the head must come to the same place.
    from scipy.spatial.transform import Rotation

    true = Rotation.from_euler("YXZ", [40.0, 25.0, -15.0], degrees=True)
    angles = true.as_euler(order, degrees=True)
    take = take_of(tmp_path, text(written([row(turns={"Hips": tuple(angles)})] * 6), head=hierarchy(order=order)))
    along = take.positions_m[0, take.labels.index("Head")] - take.positions_m[0, take.labels.index("Hips")]
    x, y, z = true.apply([0.0, 0.70, 0.0])
    # Y up to Z up: (x, y, z) becomes (x, -z, y).
    assert along == pytest.approx([x, -z, y], abs=1e-6)


def test_joints_without_channels_and_with_six(tmp_path: Path, plain: Take) -> None:
    channels = "CHANNELS 3 Zrotation Xrotation Yrotation"
    none = hierarchy().replace(channels, "CHANNELS 0")
    rows = written([row()[:6]] * 6)
    still = take_of(tmp_path, text(rows, head=none))
    np.testing.assert_allclose(still.positions_m[0], plain.positions_m[0], atol=1e-6)
    # Six channels: the places stand instead of the OFFSET.
    six = hierarchy().replace(channels, "CHANNELS 6 Xposition Yposition Zposition Zrotation Xrotation Yrotation")
    values = [0.0, 90.0, 0.0, 0.0, 0.0, 0.0]
    for name in _written()[1:]:
        values += [*map(float, BODY[name][1]), 0.0, 0.0, 0.0]
    take = take_of(tmp_path, text(written([values] * 6), head=six))
    np.testing.assert_allclose(take.positions_m[0], plain.positions_m[0], atol=1e-6)


@pytest.mark.parametrize(("height", "added"), [(90.0, False), (0.0, True)])
def test_both_conventions_of_the_root_offset(tmp_path: Path, height: float, added: bool) -> None:
    take = take_of(tmp_path, text(written([row(height)] * 6), head=hierarchy(root_offset=(0, 90, 0))))
    assert take.positions_m[0, take.labels.index("LeftFoot"), 2] == pytest.approx(0.0, abs=1e-6)
    said = next(item for item in take.inferred if item.what == "root OFFSET")
    assert said.value == ("added" if added else "not added")


def test_a_rest_pose_as_first_frame_is_left_out(tmp_path: Path) -> None:
    arms = [row(turns={"LeftUpLeg": (0.0, 40.0 + frame, 0.0), "Spine": (30.0, 0.0, 0.0)}) for frame in range(9)]
    take = take_of(tmp_path, text(written([row(), *arms]), frames=10))
    assert (take.frames, take.first_frame) == (9, 2)
    assert any(item.what == "first frame" for item in take.inferred)


def test_zero_length_bones_and_several_roots(tmp_path: Path, plain: Take) -> None:
    flat = hierarchy().replace("OFFSET 0 25 0", "OFFSET 0 0 0")
    assert np.isfinite(take_of(tmp_path, text(head=flat)).positions_m).all()
    prop = "ROOT Fan\n{\nOFFSET 0 0 0\nCHANNELS 3 Xposition Yposition Zposition\nEnd Site\n{\nOFFSET 0 20 0\n}\n}\n"
    rows = written([[*one, 50.0, 100.0, 0.0] for one in standing()])
    take = take_of(tmp_path, text(rows, head=hierarchy() + prop))
    np.testing.assert_allclose(take.positions_m[:, : len(plain.labels)], plain.positions_m, atol=1e-6)
    assert take.positions_m[0, take.labels.index("Fan"), 2] == pytest.approx(1.0)


def test_two_people_of_whom_one_is_asked_for(tmp_path: Path) -> None:
    both = hierarchy(body="Ana:") + hierarchy(body="Bo:")
    rows = written([[*one, *row(110.0)] for one in standing()])
    first, second = (take_of(tmp_path, text(rows, head=both), Settings(person=person)) for person in (None, "Bo"))
    assert any("2 people" in warning for warning in first.warnings)
    assert first.labels[0] == "Ana:Hips"
    assert second.labels[0] == "Bo:Hips"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", ("empty",)),
        ("HIERARCHY\n", ("MOTION",)),
        (text().split("MOTION")[0], ("MOTION",)),
        (text().replace("HIERARCHY", "SKELETON"), ("HIERARCHY",)),
        (text(rows="", frames=0), ("no frames",)),
        (text(frames=600), ("cut short", "600", "6")),
        (text(rows="one two three"), ("numbers",)),
        (text().replace("CHANNELS 3", "CHANNELS 99", 1), ("skeleton", "channels")),
        (text().replace("OFFSET 0 30 0", "OFFSET 0 up 0"), ("skeleton", "“up”")),
        (text().replace("}", "", 1), ("skeleton",)),
        (text().replace("{", "", 1), ("skeleton",)),
        (text(head="ROOT Hips\n{\nOFFSET 0 0 0\n}\n"), ("channel",)),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_sentence(tmp_path: Path, content: str, words: tuple[str, ...]) -> None:
    message = refused(tmp_path, content)
    assert all(word in message for word in words), message


def test_damaged_files_are_read_or_refused_but_never_crash(tmp_path: Path) -> None:
    """Hundreds of mutations of one file; anything but a take or a sentence is a defect."""
    random = np.random.default_rng(8)
    original = text().encode()
    outcomes = {"read": 0, "refused": 0}
    for _ in range(600):
        data = bytearray(original)
        for _ in range(int(random.integers(1, 6))):
            at = int(random.integers(len(data)))
            kind = int(random.integers(4))
            if kind == 0:
                data[at] = int(random.integers(256))
            elif kind == 1:
                del data[at : at + int(random.integers(1, 40))]
            elif kind == 2:
                data[at:at] = bytes(random.integers(32, 127, int(random.integers(1, 12))).astype(np.uint8))
            else:
                data[at:at] = data[at : at + 60]
        try:
            take = take_of(tmp_path, bytes(data))
        except TakeError:
            outcomes["refused"] += 1
        else:
            assert take.positions_m.shape[0] < 10_000
            outcomes["read"] += 1
    assert min(outcomes.values()) > 50
