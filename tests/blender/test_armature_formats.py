"""A dancer that came into the Blender file through FBX, glTF or USD gets the review that the BVH recording gets."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.analyse import analyse

WHOLE = Path(__file__).resolve().parents[3] / "shared" / "data" / "dance_bvh" / "side_steps_pirouette.bvh"
pytestmark = [
    pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module is not installed"),
    pytest.mark.skipif(not WHOLE.exists(), reason="the open recordings (../shared/data) are not here"),
]


#: The end of the turn and what comes after: half the recording, and the half in which something is outside its band.
FRAMES = slice(100, 260)


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A BVH of FRAMES."""
    lines = WHOLE.read_text(encoding="utf-8").splitlines()
    count = next(row for row, line in enumerate(lines) if line.startswith("Frames:"))
    frames = lines[count + 2 :][FRAMES]
    path = tmp_path_factory.mktemp("recording") / WHOLE.name
    path.write_text("\n".join([*lines[:count], f"Frames: {len(frames)}", lines[count + 1], *frames, ""]), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def told(recording: Path) -> dict[str, dict[str, Any]]:
    """What the reviews of all forms say."""
    with TemporaryDirectory() as folder:
        result = Path(folder) / "result.json"
        script = Path(__file__).with_name("review_armature_from.py")
        outcome = subprocess.run(
            [sys.executable, str(script), str(recording), folder, str(result)],
            capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip
        assert result.exists(), outcome.stdout[-2000:] + outcome.stderr[-2000:]
        return dict(json.loads(result.read_text(encoding="utf-8")))


def test_the_armature_of_a_bvh_import_shows_what_the_recording_shows(recording: Path, told: dict[str, dict[str, Any]]) -> None:
    found, review = told["bvh"], analyse(recording)
    yaw = review.movement.angle("pelvis_yaw")
    assert found["frames"] == review.take.frames
    assert found["rate_hz"] == pytest.approx(review.take.rate_hz, rel=1e-4)
    assert found["net_yaw_deg"] == pytest.approx(float(np.degrees(yaw[-1] - yaw[0])), abs=0.5)
    assert found["jumps"] == len(review.phrase.of_kind("jump"))
    # Blender's importer leaves out bones of no length, so that a few heights of the feet differ.
    expected = {finding.fault for finding in review.findings}
    assert len(expected & set(found["faults"])) >= 0.7 * len(expected | set(found["faults"]))
    assert found["clear"], "a recording in which nothing is outside its band asks nothing of the other forms"


# Tolerances: FBX stores degrees and writes leaf bones of its own, so that what is near the edge of its band may fall on either
# side of it; glTF and USD carry turns in single precision.
@pytest.mark.parametrize(
    ("form", "most_mm", "most_deg", "exact"), [("fbx", 6.0, 1.5, False), ("glb", 0.1, 0.05, True), ("usdc", 0.1, 0.05, True)]
)
def test_other_formats_give_the_same_review(
    form: str, most_mm: float, most_deg: float, exact: bool, told: dict[str, dict[str, Any]]
) -> None:
    found, first = told[form], told["bvh"]
    assert found["frames"] == first["frames"]
    assert found["rate_hz"] == pytest.approx(first["rate_hz"], rel=1e-4)
    assert found["net_yaw_deg"] == pytest.approx(first["net_yaw_deg"], abs=most_deg)
    assert found["revolutions"] == pytest.approx(first["revolutions"], abs=0.02)
    assert found["jumps"] == first["jumps"]
    apart = 1000 * np.linalg.norm(np.array(found["legs_m"]) - np.array(first["legs_m"]), axis=2)
    assert float(np.sqrt((apart**2).mean())) < most_mm
    if exact:
        assert found["faults"] == first["faults"]
    # What is plainly outside its band is found in every form.
    assert set(found["clear"]) <= set(first["faults"]), (found["values"], first["values"])
    assert set(first["clear"]) <= set(found["faults"]), (found["values"], first["values"])
