"""The whole walk on the demo takes, made once: what its commands left is what other tests look at."""

from __future__ import annotations

import importlib.util
import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.film.soundtrack import write_sound

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_data"


@pytest.fixture(scope="session")
def walk() -> Any:
    """The walk of scripts/whole_walk.py."""
    return runpy.run_path(str(ROOT / "scripts" / "whole_walk.py"), run_name="walk")["walk"]


@pytest.fixture(scope="session")
def demo_walk(walk: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Its steps by their names. The film, which needs Blender's module, has music; its page has no pictures."""
    folder = tmp_path_factory.mktemp("walk")
    music = tmp_path_factory.mktemp("music") / "music.wav"
    write_sound(0.5 * np.sin(np.arange(20 * 8000) / 3.0)[:, None], 8000, music)
    film = importlib.util.find_spec("bpy") is not None
    takes = DEMO / "careful.c3d", DEMO / "careless.c3d"
    made = walk(folder, takes, DEMO / "static.c3d", tempo="120", film=film, music=music, pictures=False)
    return {step.name: step for step in made}
