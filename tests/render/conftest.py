"""Pictures and words of one review, looked at in one Blender."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.review import Review, write_review


@pytest.fixture(scope="session")
def looked_at(takes: tuple[Review, Review], made_once: Callable[[str, Callable[[Path], object]], Path]) -> Callable[[str], Any]:
    """A function that gives what a script of looked_at_in_blender.py told, by the script's name."""
    if importlib.util.find_spec("bpy") is None:
        pytest.skip("the Blender module is not installed")

    def fill(folder: Path) -> None:
        write_review(takes[0], folder / "review")
        script = Path(__file__).with_name("looked_at_in_blender.py")
        command = [sys.executable, str(script), str(folder / "review"), str(folder)]
        outcome = subprocess.run(command, capture_output=True, text=True, timeout=400, check=False)
        assert outcome.returncode == 0, outcome.stdout[-2000:] + outcome.stderr[-2000:]

    folder = made_once("looked at in Blender", fill)
    return lambda name: json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
