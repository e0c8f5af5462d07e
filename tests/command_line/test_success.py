"""The four commands on the demo takes, as a user runs them; the contract of their outputs."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import JOINTS
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.review import Review, write_review
from in_the_round.command_line.__main__ import main
from in_the_round.simulated_dancer.files import write_c3d

DEMO = Path(__file__).resolve().parents[2] / "demo_data"


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "in_the_round.command_line", *words], capture_output=True, text=True, timeout=280, check=False
    )


def assert_same(one: object, other: object) -> None:
    """Equal, numbers to nine digits: threads of the linear algebra library may add in another order."""
    if isinstance(one, dict) and isinstance(other, dict):
        assert one.keys() == other.keys()
        for key in one:
            assert_same(one[key], other[key])
    elif isinstance(one, list) and isinstance(other, list):
        assert len(one) == len(other)
        for first, second in zip(one, other, strict=True):
            assert_same(first, second)
    elif isinstance(one, float):
        assert one == pytest.approx(other, rel=1e-9, abs=1e-9)
    else:
        assert one == other


@pytest.fixture(scope="module")
def folder(demo_walk: dict[str, Any]) -> Path:
    """The careless take, reviewed by the command."""
    return demo_walk["review"].made


def test_check_json_has_what_the_contract_names() -> None:
    done = run("check", str(DEMO / "careless.c3d"), "--json")
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert said["rate_hz"] == 240.0
    assert said["frames"] == 4800
    assert said["verdict"] in ("good", "usable", "retake")
    assert 0 < said["missing_fraction"] < 0.01
    assert len(said["reasons"]) <= 5
    assert {"label", "landmark", "missing_fraction", "longest_gap_s", "filled"} <= set(said["markers"][0])
    assert {"what", "value", "why"} == set(said["inferred"][0])


def test_check_proposes_landmarks_that_can_be_used_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    still = read_take(DEMO / "static.c3d")
    nameless = tmp_path / "nameless.c3d"
    write_c3d(nameless, still, tuple(f"M{index + 1:03d}" for index in range(len(still.labels))))
    table = tmp_path / "studio.toml"
    assert main(["check", str(nameless), "--propose-landmarks", str(table), "--json"]) == 0
    proposed = json.loads(capsys.readouterr().out)["proposed_landmarks"]
    assert len(proposed) == 53
    assert all(0 <= one["confidence"] <= 1 for one in proposed.values())
    assert main(["check", str(nameless), "--landmarks", str(table), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert sum(marker["landmark"] is not None for marker in again["markers"]) >= 50
    # What is there is not overwritten unasked.
    assert main(["check", str(nameless), "--propose-landmarks", str(table)]) == 2


def test_review_json_has_what_the_contract_names(folder: Path) -> None:
    review = json.loads((folder / "review.json").read_text(encoding="utf-8"))
    assert (review["format"], review["version"]) == ("in-the-round/review", 2)
    built = json.loads((DEMO / "faults.json").read_text(encoding="utf-8"))["takes"]["careless.c3d"]["faults"]
    found = {finding["fault"] for finding in review["findings"]}
    assert {fault["fault"] for fault in built} <= found
    ids = {finding["id"] for finding in review["findings"]}
    for finding in review["findings"]:
        assert finding["fault"] in catalogue()
        assert finding["grade"] in ("watch", "fault")
        assert 0 <= finding["severity"] <= 1
        assert finding["plus_minus"] > 0
        assert finding["start_s"] <= finding["onset_s"] <= finding["peak_s"] <= finding["end_s"]
        assert set(finding["came_after"]) | set(finding["may_have_led_to"]) <= ids
        assert len(finding["view"]["from"]) == len(finding["view"]["at"]) == 3
    assert all(set(chain) <= ids for chain in review["chains"])
    assert all(item["why"].startswith("cannot be told") for item in review["unsure"])
    # The chain that was built in: heel, foot, axis, and what the axis led to.
    names = {finding["id"]: finding["fault"] for finding in review["findings"]}
    assert [names[name] for name in review["chains"][0]][:3] == ["heel-lifts-early", "foot-slips-parallel", "axis-tilts"]


def test_movement_has_what_the_contract_names(folder: Path) -> None:
    with np.load(folder / "movement.npz") as stored:
        assert stored["time_s"].shape == (1200,)
        assert tuple(stored["joint_names"]) == JOINTS
        assert stored["joint_centres_m"].shape == (1200, len(JOINTS), 3)
        names = list(stored["angle_names"])
        for name in ("hip_flexion", "hip_abduction", "knee_flexion", "ankle_dorsiflexion", "foot_turnout", "knee_turnout"):
            assert {f"{name}.L", f"{name}.R"} <= set(names)
        assert {"leg_elevation.L", "heel_height_mm.R", "pelvis_yaw", "trunk_pitch", "head_yaw", "head_pitch"} <= set(names)
        assert stored["angles_deg"].shape == (1200, len(names))
        assert stored["centre_of_mass_m"].shape == (1200, 3)
        assert np.nanmin(stored["joint_centres_m"][:, :, 2]) > -0.05


def test_the_careful_take_has_nothing_to_correct(demo_walk: dict[str, Any]) -> None:
    review = json.loads((demo_walk["review the one before"].made / "review.json").read_text(encoding="utf-8"))
    assert review["findings"] == []


def test_a_review_is_not_overwritten_unless_asked_and_decisions_stay(
    folder: Path, demo_at_60_hz: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = shutil.copytree(folder, tmp_path / "careless")
    take, static = str(demo_at_60_hz / "careless.c3d"), str(demo_at_60_hz / "static.c3d")
    words = ["review", take, "--static", static, "--tempo", "120", "--out", str(folder)]
    assert main(words) == 2
    assert "--force" in capsys.readouterr().err
    before = (folder / "review.json").read_bytes()
    assert main([*words, "--force"]) == 0
    assert_same(json.loads((folder / "review.json").read_bytes())["findings"], json.loads(before)["findings"])


def test_scene_writes_its_file(takes: tuple[Review, Review], tmp_path: Path) -> None:
    """Of a take with a quarter of the samples of the demo take: what is asked is whether it comes."""
    pytest.importorskip("bpy", reason="needs the Blender module")
    folder, out = tmp_path / "review", tmp_path / "out"
    write_review(takes[0], folder)
    out.mkdir()
    scene = out / "careless.blend"
    done = run("scene", str(folder), "--out", str(scene), "--json")
    assert done.returncode == 0, done.stderr
    assert scene.stat().st_size > 100_000
    assert sorted(path.name for path in out.iterdir()) == ["careless.blend"]
