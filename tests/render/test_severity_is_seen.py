"""Real pixels: a fault colours its body part in the rendered picture, and a review with all set aside shows none."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import pytest
from in_the_round.analysis_core.review import Review, write_review


@pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module is not installed")
def test_a_fault_is_seen_in_the_picture_and_gone_when_set_aside(takes: tuple[Review, Review], tmp_path: Path) -> None:
    write_review(takes[0], tmp_path / "review")
    result = tmp_path / "result.json"
    script = Path(__file__).with_name("render_twice.py")
    outcome = subprocess.run(
        [sys.executable, str(script), str(tmp_path / "review"), str(tmp_path), str(result)],
        capture_output=True, text=True, timeout=400, check=False,
    )  # fmt: skip
    assert result.exists(), outcome.stdout[-2000:] + outcome.stderr[-2000:]
    told = json.loads(result.read_text(encoding="utf-8"))
    # The lower leg and foot of a dancer who fills the height of the picture: some hundredths of it.
    assert 0.002 < told["True"]["magenta"] < 0.05
    assert told["False"]["magenta"] < 0.0005
    assert min(one["contrast"] for one in told.values()) > 0.5
