"""Recordings by name with what their labels stand for, for tests of cleaning."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from in_the_round.analysis_core.body.landmarks import Recognition, load_landmarks, recognise
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.take import Take

ROOT = Path(__file__).parents[2]


@cache
def take_of(name: str) -> tuple[Take, Recognition]:
    """A demo take, or an open recording below shared/data; skips where that is not there."""
    demo = ROOT / "demo_data" / name
    path = demo if demo.exists() else ROOT.parent / "shared" / "data" / name
    if not path.exists():
        pytest.skip(f"{name} is not there: the open recordings lie beside the repository.")
    take = read_take(path)
    return take, recognise(take.labels, load_landmarks(None))
