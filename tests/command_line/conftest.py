"""The whole walk on the demo takes, made once: what its commands left is what other tests look at."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import json
import runpy
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.film.soundtrack import write_sound
from in_the_round.command_line.__main__ import main

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def in_this_process() -> Callable[..., str]:
    """A function that says what the program says, without a start of it for each command."""

    def said(*words: str) -> str:
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            assert main(list(words)) == 0, words
        return out.getvalue()

    return said


@pytest.fixture(scope="session")
def walk() -> Any:
    """The walk of scripts/whole_walk.py."""
    return runpy.run_path(str(ROOT / "scripts" / "whole_walk.py"), run_name="walk")["walk"]


@pytest.fixture(scope="session")
def demo_walk(
    walk: Any,
    in_this_process: Callable[..., str],
    demo_at_60_hz: Path,
    made_once: Callable[[str, Callable[[Path], object]], Path],
) -> dict[str, Any]:
    """Its steps by their names, on every fourth sample of the demo. The film, which needs Blender, has music; its page has no
    pictures. Nobody changes it."""
    film = importlib.util.find_spec("bpy") is not None
    takes = demo_at_60_hz / "careful.c3d", demo_at_60_hz / "careless.c3d"

    def fill(folder: Path) -> None:
        out, music = folder / "out", folder / "music.wav"
        out.mkdir()
        write_sound(0.5 * np.sin(np.arange(20 * 8000) / 3.0)[:, None], 8000, music)
        asked = {"tempo": "120", "film": film, "music": music, "pictures": False, "command": in_this_process}
        made = walk(out, takes, demo_at_60_hz / "static.c3d", **asked)
        # Where they lie is told from the folder: it gets its name when it is whole.
        told = [(step.name, step.said, step.made and str(step.made.relative_to(folder))) for step in made]
        (folder / "steps.json").write_text(json.dumps(told), encoding="utf-8")

    folder = made_once("walk on the demo", fill)
    told = json.loads((folder / "steps.json").read_text(encoding="utf-8"))
    return {name: SimpleNamespace(said=said, made=made and folder / made) for name, said, made in told}
