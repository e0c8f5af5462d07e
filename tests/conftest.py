"""What more than one folder of tests needs and is expensive to make."""

from __future__ import annotations

from pathlib import Path

import pytest
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings

DEMO = Path(__file__).resolve().parents[1] / "demo_data"


@pytest.fixture(scope="session")
def careful_review() -> Review:
    """The review of the careful demo take. Nobody changes it."""
    return analyse(DEMO / "careful.c3d", Settings(static=DEMO / "static.c3d"))


@pytest.fixture(scope="session")
def careless_review() -> Review:
    """The review of the careless demo take. Nobody changes it."""
    return analyse(DEMO / "careless.c3d", Settings(static=DEMO / "static.c3d"))
