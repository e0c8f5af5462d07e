"""A dancer that came into the Blender file through FBX, glTF or USD gets the review that the BVH recording gets."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.analyse import analyse

RECORDING = Path(__file__).resolve().parents[3] / "shared" / "data" / "dance_bvh" / "side_steps_pirouette.bvh"
pytestmark = [
    pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module is not installed"),
    pytest.mark.skipif(not RECORDING.exists(), reason="the open recordings (../shared/data) are not here"),
]


@cache
def _all_reviewed() -> dict[str, dict[str, Any]]:
    with TemporaryDirectory() as folder:
        result = Path(folder) / "result.json"
        script = Path(__file__).with_name("review_armature_from.py")
        outcome = subprocess.run(
            [sys.executable, str(script), str(RECORDING), folder, str(result)],
            capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip
        assert result.exists(), outcome.stdout[-2000:] + outcome.stderr[-2000:]
        return dict(json.loads(result.read_text(encoding="utf-8")))


def reviewed(form: str) -> dict[str, Any]:
    return _all_reviewed()[form]


def test_the_armature_of_a_bvh_import_shows_what_the_recording_shows() -> None:
    told = reviewed("bvh")
    review = analyse(RECORDING)
    yaw = review.movement.angle("pelvis_yaw")
    assert told["frames"] == review.take.frames
    assert told["rate_hz"] == pytest.approx(review.take.rate_hz, rel=1e-4)
    assert told["net_yaw_deg"] == pytest.approx(float(np.degrees(yaw[-1] - yaw[0])), abs=0.5)
    assert told["jumps"] == len(review.phrase.of_kind("jump"))
    # Blender's importer leaves out bones of no length, so that a few heights of the feet differ.
    faults = {finding.fault for finding in review.findings}
    assert len(faults & set(told["faults"])) >= 0.7 * len(faults | set(told["faults"]))


# Tolerances: FBX stores degrees and writes leaf bones of its own, so that what is near the edge of its band may fall on either
# side of it; glTF and USD carry turns in single precision.
@pytest.mark.parametrize(
    ("form", "most_mm", "most_deg", "exact"), [("fbx", 6.0, 1.5, False), ("glb", 0.1, 0.05, True), ("usdc", 0.1, 0.05, True)]
)
def test_other_formats_give_the_same_review(form: str, most_mm: float, most_deg: float, exact: bool) -> None:
    told, first = reviewed(form), reviewed("bvh")
    assert told["frames"] == first["frames"]
    assert told["rate_hz"] == pytest.approx(first["rate_hz"], rel=1e-4)
    assert told["net_yaw_deg"] == pytest.approx(first["net_yaw_deg"], abs=most_deg)
    assert told["revolutions"] == pytest.approx(first["revolutions"], abs=0.02)
    assert told["jumps"] == first["jumps"]
    apart = 1000 * np.linalg.norm(np.array(told["legs_m"]) - np.array(first["legs_m"]), axis=2)
    assert float(np.sqrt((apart**2).mean())) < most_mm
    if exact:
        assert told["faults"] == first["faults"]
    # What is plainly outside its band is found in every form.
    assert set(told["clear"]) <= set(first["faults"]), (told["values"], first["values"])
    assert set(first["clear"]) <= set(told["faults"]), (told["values"], first["values"])
