"""The hand-over's Blender file, opened again; and what is filled or unusable, told wherever an animator may look."""

from __future__ import annotations

import json
import os
import pickle
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezc3d
import numpy as np
import pygltflib
import pytest
import ufbx
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.hand_over.deliver import deliver
from in_the_round.analysis_core.hand_over.files import paths_of, write_own_files
from in_the_round.analysis_core.hand_over.give import HandOver, hand_over, note_of
from in_the_round.analysis_core.hand_over.note import pages_of, write_note
from in_the_round.analysis_core.hand_over.wishes import Wishes
from in_the_round.analysis_core.review import Review, write_review
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.write.usd import _library
from in_the_round.simulated_dancer import simulate
from in_the_round.simulated_dancer.files import write_c3d
from in_the_round.simulated_dancer.phrases import demo_phrase

pytestmark = pytest.mark.blender
SCRIPT = Path(__file__).with_name("blends_in_blender.py")
RATE_HZ = 60.0
#: Seconds in which the markers of a leg were not seen, and in which nothing was.
HIDDEN_S, LOST_S = (4.0, 4.3), (7.0, 8.0)


@pytest.fixture(scope="module")
def review(tmp_path_factory: pytest.TempPathFactory) -> Review:
    """A simulated take with holes of known place."""
    danced = simulate(demo_phrase(), rate_hz=RATE_HZ, seed=3)
    points = danced.take.positions_m.copy()
    words = ("femoral_epicondyle.L", "thigh_1.L", "thigh_2.L", "shank_1.L", "malleolus.L")
    leg = [index for index, name in danced.landmark_of.items() if name.endswith(words)]
    points[round(HIDDEN_S[0] * RATE_HZ) : round(HIDDEN_S[1] * RATE_HZ), leg] = np.nan
    points[round(LOST_S[0] * RATE_HZ) : round(LOST_S[1] * RATE_HZ)] = np.nan
    path = tmp_path_factory.mktemp("holes") / "holes.c3d"
    write_c3d(path, replace(danced.take, positions_m=points), danced.take.labels)
    return analyse(path, Settings())


@pytest.fixture(scope="module")
def given(review: Review) -> HandOver:
    return hand_over(review, Wishes())


@pytest.fixture(scope="module")
def few(review: Review) -> HandOver:
    return hand_over(review, Wishes(reduce_keys=True))


@pytest.fixture(scope="module")
def opened(given: HandOver, few: HandOver, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[dict[str, Any]]]:
    folder = tmp_path_factory.mktemp("blends")
    # Of the one with few keys the take is looked at, and a step is enough to see that steps can be written: each has a preview.
    short = replace(few, pieces=few.pieces[:1], loops=(), loop_clips=())
    for name, what in (("every", given), ("few", short)):
        (folder / name).write_bytes(pickle.dumps(what))
    files = [str(folder / name) for name in ("out.json", "every", "few")]
    environment = {**os.environ, "BLENDER_USER_RESOURCES": str(folder / "resources")}
    ran = subprocess.run(
        [sys.executable, str(SCRIPT), *files], env=environment, capture_output=True, text=True, timeout=300, check=False
    )
    assert ran.returncode == 0, ran.stderr[-3000:]
    return folder, json.loads((folder / "out.json").read_text(encoding="utf-8"))


def test_actions_are_assets_with_preview_and_catalogue(opened: tuple[Path, list[dict[str, Any]]], given: HandOver) -> None:
    """Every step and the take: marked, seen, filed under a catalogue that stands in the file beside, one slot name for all."""
    folder, (every, _) = opened
    catalogues = {
        line.split(":")[0]: line.split(":")[1]
        for line in (folder / "blender_assets.cats.txt").read_text(encoding="utf-8").splitlines()
        if ":" in line
    }
    assert set(every["actions"]) == {"take", *(piece.name for piece in given.pieces), *(name for name, _ in given.loop_clips)}
    for name, action in every["actions"].items():
        assert action["asset"], name
        kind = name.rpartition("-")[0]
        assert catalogues[action["catalogue"]] == (f"Dance/{kind}" if kind else "Dance"), name
        assert 0.02 < action["shown"] < 0.9, f"{name}: the preview shows nothing, or nothing but the dancer"
        assert action["slots"] == ["dancer"]
        assert action["cyclic"] == name.startswith("loop-")
    assert every["own"] == "take"
    assert every["actions"]["take"]["range"] == [0.0, given.rig.frames - 1.0]
    strips = [strip for track in every["tracks"] for strip in track]
    assert {(name, start) for name, start, _, _ in strips} == {(piece.name, piece.start) for piece in given.pieces}
    assert all(extrapolation == "NOTHING" and mute for _, _, extrapolation, mute in strips)
    assert every["rate_hz"] == pytest.approx(RATE_HZ, rel=1e-6)
    assert sum(action["flips"] for action in every["actions"].values()) == 0
    # Blender keeps the clock as a float: 0.006 ms a minute.
    assert all(told == pytest.approx(asked, rel=2e-7) for asked, told in every["clocks"])


def test_blender_shows_the_motion(opened: tuple[Path, list[dict[str, Any]]], given: HandOver, few: HandOver) -> None:
    """Joints in the world within 0.01 mm with a key on every frame; few keys are evaluated by Blender as by our curves."""
    assert few.reduced is not None
    for told, rig, most_m in zip(opened[1], (given.rig, few.reduced.rig), (1e-5, 2e-5), strict=True):
        columns = [told["names"].index(name) for name in rig.names]
        away = np.abs(np.array(told["heads"])[:, columns] - rig.origins_m[::40])
        assert away.max() < most_m
    every, fewer = (told["actions"]["take"]["keys"] for told in opened[1])
    assert fewer < 0.2 * every, "at 60 Hz; at 240 Hz they are below a twentieth"


def _seconds(stretches: list[list[float]] | str) -> list[tuple[float, float]]:
    if isinstance(stretches, str):
        return [(float(a), float(b)) for a, b in re.findall(r"([\d.]+)\D+([\d.]+)", stretches)]
    return [(a, b) for a, b in stretches]


def _one_of(stretches: list[tuple[float, float]], wanted: tuple[float, float]) -> bool:
    return any(abs(a - wanted[0]) < 0.1 and abs(b - wanted[1]) < 0.1 for a, b in stretches)


def test_what_is_filled_or_unusable_is_told_everywhere(
    opened: tuple[Path, list[dict[str, Any]]], given: HandOver, review: Review, tmp_path: Path
) -> None:
    """Note (JSON, HTML), timeline markers, custom properties of .blend, glTF and FBX, all for holes that the test made.

    Would catch a gap that is smoothed over in silence, and one that is told in seconds of another rate.
    """
    note = note_of(given, review, {})
    assert _one_of(_seconds(note["filled_s"]), HIDDEN_S)
    assert _one_of(_seconds(note["unusable_s"]), LOST_S)
    assert not any(a < 4.1 and b > 4.2 for a, b in note["measured_s"])
    write_note(pages_of(note), tmp_path)
    html = (tmp_path / "note.html").read_text(encoding="utf-8")
    assert "unusable" in html
    assert re.search(r"7\.0\d\W+(to\W+)?(8|7\.9)", html), "the lost second is not named in the page"
    markers = dict(opened[1][0]["markers"])
    assert markers["unusable from here"] / RATE_HZ == pytest.approx(LOST_S[0], abs=0.1)
    assert markers["usable again"] / RATE_HZ == pytest.approx(LOST_S[1], abs=0.1)
    assert {"filled from here", "measured again"} <= set(markers)
    write_own_files(given, paths_of(tmp_path, "holes", ("glb", "fbx", "usd")), lambda words, share: None, overwrite=True)
    document = pygltflib.GLTF2().load(str(tmp_path / "holes.glb"))
    dancer = ufbx.load_file(str(tmp_path / "holes.fbx")).find_node("dancer")
    properties = {item.name: item.value_str for item in dancer.props.props}
    for where, words in (
        ("blend", opened[1][0]["properties"]), ("glTF", document.asset.extras), ("FBX", properties),
    ):  # fmt: skip
        assert _one_of(_seconds(words["filled_s"]), HIDDEN_S), where
        assert _one_of(_seconds(words["unusable_s"]), LOST_S), where


def test_unusable_seconds_are_cut_from_every_format(review: Review, tmp_path: Path) -> None:
    """The longest stretch without the lost second, told by each format's own reader, and by the note in words.

    Would catch a format that is handed over whole: the cleaned C3D was.
    """
    write_review(review, tmp_path / "review")
    formats = ("c3d", "bvh", "glb", "fbx", "usd")
    note = deliver(
        tmp_path / "review", tmp_path / "out", Wishes(cut_unusable=True), formats, None, lambda words, share: None,
        recording=Path(review.take.folder or "") / review.take.file,
    )  # fmt: skip
    begin, end = note["kept_s"]
    assert not (begin < LOST_S[1] - 0.1 and end > LOST_S[0] + 0.1)
    assert end - begin > 7.0 - 0.1
    frames, out = round((end - begin) * RATE_HZ), tmp_path / "out"
    assert f"Frames: {frames}\n" in (out / "holes.bvh").read_text(encoding="utf-8")
    document = pygltflib.GLTF2().load(str(out / "holes.glb"))
    clip = next(each for each in document.animations if each.name == "take")
    assert document.accessors[clip.samplers[0].input].max[0] == pytest.approx((frames - 1) / RATE_HZ, abs=1e-5)
    assert ufbx.load_file(str(out / "holes.fbx")).anim.time_end == pytest.approx((frames - 1) / RATE_HZ, abs=1e-5)
    stage = _library().Usd.Stage.Open(str(out / "holes.usdc"))
    assert stage.GetEndTimeCode() - stage.GetStartTimeCode() == frames - 1
    cleaned = ezc3d.c3d(str(out / "holes.c3d"))
    assert cleaned["data"]["points"].shape[2] == frames
    assert cleaned["header"]["points"]["first_frame"] == round(begin * RATE_HZ)
    assert "longest stretch in which the body is known" in (out / "note.html").read_text(encoding="utf-8")
