"""Stills: a picture for each correction, the measure seen in it, before and after beside each other."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.review import Review, read_review, write_review
from PIL import Image


def pixels_of(path: Path) -> np.ndarray:
    """Red, green and blue of a PNG (ISO/IEC 15948) with eight bits a channel, as Pillow reads it: (height, width, 3)."""
    with Image.open(path) as picture:
        assert picture.mode in ("RGB", "RGBA")
        return np.asarray(picture.convert("RGB")).astype(np.int64)


@pytest.mark.slow
@pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module is not installed")
def test_each_correction_has_its_picture_with_the_measure_on_it(takes: tuple[Review, Review], tmp_path: Path) -> None:
    for name, review in zip(("careless", "careful"), takes, strict=True):
        write_review(review, tmp_path / name)
    words = ["stills", str(tmp_path / "careless"), str(tmp_path / "careful"), "--out", str(tmp_path / "stills")]
    done = subprocess.run(
        [sys.executable, "-m", "in_the_round.command_line", *words, "--size", "384x216", "--json"],
        capture_output=True, text=True, timeout=500, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    written = [Path(path) for path in json.loads(done.stdout)["stills"]]
    ids = {finding.id for finding in read_review(tmp_path / "careless").findings}
    assert {path.stem for path in written} == ids
    assert len(ids) == 3
    for path in written:
        pixels = pixels_of(path)
        assert pixels.shape[:2] == (216, 384)
        red, green, blue = (pixels[..., channel] for channel in range(3))
        measured = (blue > 1.5 * red) & (blue > 1.3 * green) & (blue > 60)
        halves = measured[:, :192].sum(), measured[:, 192:].sum()
        # A fine line: some pixels in either half, and no flood.
        assert 5 < halves[0] < 1500, path.name
        assert 2 < halves[1] < 1500, path.name
    again = subprocess.run(
        [sys.executable, "-m", "in_the_round.command_line", *words], capture_output=True, text=True, check=False
    )
    assert again.returncode == 2
    assert "--force" in again.stderr
