"""Every open recording: read rightly, or refused with a sentence. What is expected stands in the table below, and why."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.errors import TakeError
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.take import Take

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="the open recordings (../shared/data) are not here")


@dataclass(frozen=True)
class Read:
    """A file that is read: frames, rate, points that move, up axis and unit that are concluded, what it shows."""

    frames: int
    rate_hz: float
    points: int
    up: str
    unit: str
    why: str
    warns: str = ""


@dataclass(frozen=True)
class Refused:
    """A file that is refused: words of the sentence, and why it cannot be used."""

    words: tuple[str, ...]
    why: str


SAME = Read(450, 50.0, 26, "z", "mm", "one trial in six codings")
# Frames, rates and points are those of the files' own headers, checked with ezc3d where it reads them (test below).
FILES: dict[str, Read | Refused] = {
    "c3d_dialects/analog_16bit.c3d": Read(100, 100.0, 44, "z", "mm", "16-bit analog beside the markers"),
    "c3d_dialects/analog_only.c3d": Refused(("8 analog channels", "no markers"), "no points in it"),
    "c3d_dialects/bad_parameter_section.c3d": Read(332, 120.0, 45, "z", "mm", "its labels are lost", "damaged"),
    "c3d_dialects/dance_broken_header.c3d": Read(499, 65.05, 40, "x", "mm", "a parameter of the wrong type"),
    "c3d_dialects/empty.c3d": Refused(("empty (0 bytes)",), "nothing in it"),
    "c3d_dialects/float_same.c3d": Read(512, 200.0, 24, "z", "mm", "floats"),
    "c3d_dialects/gait_duplicate_labels.c3d": Read(487, 100.0, 33, "z", "mm", "labels that occur twice"),
    "c3d_dialects/integer_scaled.c3d": Read(512, 200.0, 24, "z", "mm", "the same as scaled integers"),
    "c3d_dialects/no_units.c3d": Read(296, 100.0, 34, "y", "mm", "no unit named", "unit of length is not certain"),
    "c3d_dialects/plate_type_2.c3d": Read(199, 60.0, 13, "z", "mm", "a force plate of type 2"),
    "c3d_dialects/same_data_dec_int.c3d": SAME,
    "c3d_dialects/same_data_dec_real.c3d": SAME,
    "c3d_dialects/same_data_mips_int.c3d": SAME,
    "c3d_dialects/same_data_mips_real.c3d": SAME,
    "c3d_dialects/same_data_pc_int.c3d": SAME,
    "c3d_dialects/same_data_pc_real.c3d": SAME,
    "c3d_dialects/unicode_name/танец été 舞.c3d": Read(237, 250.0, 27, "z", "mm", "a name in three scripts"),
    "c3d_dialects/units_cut_short.c3d": Read(480, 60.0, 8, "z", "m", "the unit reads “mete”"),
    "c3d_fullbody/ballet_tpose.c3d": Read(89, 30.0, 41, "y", "mm", "Y up"),
    "c3d_fullbody/ballet_turn.c3d": Read(100, 30.0, 41, "y", "mm", "Y up"),
    "c3d_fullbody/duplicate_labels.c3d": Read(1050, 100.0, 22, "z", "mm", "pieces of one marker under one label"),
    "c3d_fullbody/serve.c3d": Read(1092, 50.0, 39, "z", "m", "metres"),
    "c3d_fullbody/serve_gaps.c3d": Read(1092, 50.0, 39, "z", "m", "not-a-number with a residual that claims a sample"),
    "c3d_fullbody/two_people.c3d": Read(599, 50.0, 39, "z", "m", "two people; the first is taken and said so", "2 people"),
    "c3d_reference/stairs.c3d": Read(323, 120.0, 81, "z", "mm", "computed angles and forces among the points"),
    "c3d_reference/static.c3d": Read(498, 120.0, 77, "z", "mm", "computed angles and centres among the points"),
    "gpl_test_only/foot_dynamic_with_angles.c3d": Read(205, 100.0, 37, "z", "mm", "computed angles among the points"),
    "gpl_test_only/foot_static.c3d": Read(912, 100.0, 45, "z", "mm", "computed angles among the points"),
    "gpl_test_only/segment_matrices.c3d": Refused(("orientations of body segments", "no markers"), "matrices only"),
    "bvh_dialects/colon_prefix.bvh": Read(69, 30.0, 70, "y", "cm", "a prefix with a colon"),
    "bvh_dialects/figure_eight_walk.bvh": Read(1064, 120.0, 30, "y", "in", "the root's OFFSET must not be added"),
    "bvh_dialects/frame_time_23976.bvh": Read(3, 23.976, 3, "y", "11.2 cm", "a rate of film", "size of the dancer"),
    "bvh_dialects/mixed_orders.bvh": Read(75, 30.0, 29, "z", "in", "five rotation orders"),
    "bvh_dialects/no_end_site.bvh": Read(120, 60.0, 4, "y", "21 cm", "bones without an end", "size of the dancer"),
    "bvh_dialects/rotation_first_root.bvh": Read(4, 25.0, 6, "y", "in", "rotations before positions"),
    "bvh_dialects/rows_mismatch.bvh": Read(3070, 100.0, 26, "y", "cm", "one row more than announced", "announces 3069"),
    "bvh_dialects/walk_with_positions.bvh": Read(101, 24.0, 24, "y", "cm", "the root's OFFSET must not be added"),
}


def concluded(take: Take, what: str) -> str:
    return next(item.value for item in take.inferred if item.what == what)


@pytest.mark.parametrize("name", FILES)
def test_every_file_is_read_or_refused_as_it_should_be(name: str) -> None:
    expected = FILES[name]
    if isinstance(expected, Refused):
        with pytest.raises(TakeError) as caught:
            read_take(DATA / name)
        assert all(words in str(caught.value) for words in expected.words)
        return
    take = read_take(DATA / name)
    assert (take.frames, take.positions_m.shape) == (expected.frames, (expected.frames, expected.points, 3))
    assert take.rate_hz == pytest.approx(expected.rate_hz, abs=0.005)
    assert (concluded(take, "up axis"), concluded(take, "unit")) == (expected.up, expected.unit)
    assert any(expected.warns in warning for warning in (*take.warnings, "")), take.warnings
    assert len(set(take.labels)) == len(take.labels)


def test_the_table_names_every_file_that_has_to_be_read() -> None:
    folders = ("c3d_dialects", "c3d_fullbody", "c3d_reference", "gpl_test_only", "bvh_dialects")
    there = [path for folder in folders for path in (DATA / folder).rglob("*") if path.suffix in (".c3d", ".bvh")]
    assert {str(path.relative_to(DATA)) for path in there} == set(FILES)


def test_six_codings_of_one_trial_agree() -> None:
    """Manifest: X -239 … 473.9, Y -76.9 … 2484.0, Z 28.8 … 967.4 mm, 1.9 % missing; integers are coded to 0.1 mm."""
    takes = [read_take(DATA / name) for name, expected in FILES.items() if expected is SAME]
    first = takes[0].positions_m
    for take in takes:
        np.testing.assert_allclose(take.positions_m, first, atol=1.1e-4, equal_nan=True)
        assert take.labels == takes[0].labels
        assert [event.time_s for event in take.events] == [event.time_s for event in takes[0].events]
    millimetres = 1000 * first
    assert np.nanmin(millimetres, axis=(0, 1)) == pytest.approx([-239.0, -76.9, 28.8], abs=0.1)
    assert np.nanmax(millimetres, axis=(0, 1)) == pytest.approx([473.9, 2484.0, 967.4], abs=0.1)
    assert 100 * np.isnan(first[:, :, 0]).mean() == pytest.approx(1.9, abs=0.1)


@pytest.mark.parametrize(
    "name",
    [
        name
        for name, expected in FILES.items()
        if isinstance(expected, Read)
        and name.endswith(".c3d")
        and not any(word in name for word in ("broken", "bad_parameter", "mips", "dec", "no_units"))
    ],
)
def test_positions_equal_those_of_the_reference_library(name: str) -> None:
    """ezc3d, called here directly, reads the same numbers; those that it misreads or refuses are left to the next test."""
    import ezc3d

    take = read_take(DATA / name)
    points = ezc3d.c3d(str(DATA / name))["data"]["points"][:3].transpose(2, 1, 0)
    scale = {"mm": 1e-3, "m": 1.0}[concluded(take, "unit")]
    labels = list(ezc3d.c3d(str(DATA / name))["parameters"]["POINT"]["LABELS"]["value"])
    order = {"z": [0, 1, 2], "y": None, "x": None}[concluded(take, "up axis")]
    shared = [label for label in take.labels if labels.count(label) == 1]
    assert len(shared) >= min(8, len(take.labels)) or "duplicate" in name
    for label in shared:
        ours, theirs = take.positions_m[:, take.labels.index(label)], points[:, labels.index(label)] * scale
        known = np.isfinite(ours).all(axis=1)
        if order is not None:
            np.testing.assert_allclose(ours[known], theirs[known][:, order], atol=1e-6)
        else:
            # Turned to Z up: lengths stay.
            np.testing.assert_allclose(np.linalg.norm(ours[known], axis=1), np.linalg.norm(theirs[known], axis=1), atol=1e-6)


def test_the_second_person_is_somebody_else() -> None:
    path = DATA / "c3d_fullbody/two_people.c3d"
    first, second = read_take(path), read_take(path, Settings(person="2"))
    assert first.labels[0].split(":")[0] != second.labels[0].split(":")[0]
    apart = np.nanmean(first.positions_m, axis=1) - np.nanmean(second.positions_m, axis=1)
    assert np.nanmedian(np.linalg.norm(apart[:, :2], axis=1)) > 0.5


@pytest.mark.filterwarnings("ignore::UserWarning")
@pytest.mark.parametrize(
    "name", ["no_units", "dance_broken_header", "same_data_mips_real", "same_data_mips_int", "same_data_dec_real"]
)
def test_positions_equal_those_of_the_second_reference_library(name: str) -> None:
    """The registry's pure-Python reader reads what the first one does not."""
    import c3d

    take = read_take(DATA / f"c3d_dialects/{name}.c3d")
    with (DATA / f"c3d_dialects/{name}.c3d").open("rb") as file:
        points = np.array([points for _, points, _ in c3d.Reader(file).read_frames()])
    known = points[:, :, 3] >= 0
    lengths = np.where(known, np.linalg.norm(points[:, :, :3], axis=2) * 1e-3, np.nan)
    ours = np.linalg.norm(take.positions_m, axis=2)
    assert ours.shape == lengths.shape
    np.testing.assert_array_equal(np.isfinite(ours), np.isfinite(lengths))
    np.testing.assert_allclose(ours, lengths, atol=1e-6)
