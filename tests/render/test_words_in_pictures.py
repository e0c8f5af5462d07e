"""Captions never run out of their half or into each other: measured from their outlines, in pictures of either shape."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from itertools import combinations
from pathlib import Path

import pytest
from in_the_round.analysis_core.review import Review, write_review


@pytest.mark.skipif(importlib.util.find_spec("bpy") is None, reason="the Blender module is not installed")
def test_long_words_stay_in_their_places(takes: tuple[Review, Review], tmp_path: Path) -> None:
    write_review(takes[0], tmp_path / "review")
    result = tmp_path / "result.json"
    script = Path(__file__).with_name("words_in_pictures.py")
    command = [sys.executable, str(script), str(tmp_path / "review"), str(result)]
    outcome = subprocess.run(command, capture_output=True, text=True, timeout=400, check=False)
    assert result.exists(), outcome.stdout[-2000:] + outcome.stderr[-2000:]
    told = json.loads(result.read_text(encoding="utf-8"))
    assert len(told) == 4
    for name, items in told.items():
        assert sum(item.startswith("Caption") for item in items) == 2 * int(name[-1]), name
        width, height = (int(side) for side in name.split()[0].split("x"))
        for item, where in items.items():
            left, bottom, right, top = where["box"]
            assert min(left, bottom) >= 0.0, (name, item)
            assert max(right, top) <= 1.0, (name, item)
            if item.startswith("Caption") and name.endswith("2"):
                second = item.endswith("2")
                inside = (left > 0.5 if second else right < 0.5) if width > height else (top < 0.56 if second else bottom > 0.5)
                assert inside, (name, item)
        for one, other in combinations(items, 2):
            if set(items[one]["seen"]) & set(items[other]["seen"]):
                a, b = items[one]["box"], items[other]["box"]
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (name, one, other)
