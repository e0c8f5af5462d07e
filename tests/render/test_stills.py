"""Stills: a picture for each correction, the measure seen in it, before and after beside each other."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.review import Review, read_review, write_review
from in_the_round.command_line import blender_process
from in_the_round.command_line.__main__ import main
from PIL import Image


def pixels_of(path: Path) -> np.ndarray:
    """Red, green and blue of a PNG (ISO/IEC 15948) with eight bits a channel, as Pillow reads it: (height, width, 3)."""
    with Image.open(path) as picture:
        assert picture.mode in ("RGB", "RGBA")
        return np.asarray(picture.convert("RGB")).astype(np.int64)


@pytest.mark.slow
@pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module is not installed")
def test_each_correction_has_its_picture_with_the_measure_on_it(
    takes: tuple[Review, Review], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, review in zip(("careless", "careful"), takes, strict=True):
        write_review(review, tmp_path / name)
    worker = Path(__file__).with_name("worker_without_shadows.py")
    monkeypatch.setattr(blender_process, "_WORKER", worker.stem)
    monkeypatch.setenv("PYTHONPATH", str(worker.parent))
    words = ["stills", str(tmp_path / "careless"), str(tmp_path / "careful"), "--out", str(tmp_path / "stills")]
    assert main([*words, "--size", "384x216", "--json"]) == 0, capsys.readouterr().err
    written = [Path(path) for path in json.loads(capsys.readouterr().out)["stills"]]
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
    assert main(words) == 2
    assert "--force" in capsys.readouterr().err
