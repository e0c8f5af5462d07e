"""What more than one folder of tests needs and is expensive to make."""

from __future__ import annotations

from pathlib import Path

import pytest
from in_the_round.analysis_core.analyse import analyse
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.trials import Recorded, record, review_of

DEMO = Path(__file__).resolve().parents[1] / "demo_data"


@pytest.fixture(scope="session")
def careful_review() -> Review:
    """The review of the careful demo take. Nobody changes it."""
    return analyse(DEMO / "careful.c3d", Settings(static=DEMO / "static.c3d"))


@pytest.fixture(scope="session")
def careless_review() -> Review:
    """The review of the careless demo take. Nobody changes it."""
    return analyse(DEMO / "careless.c3d", Settings(static=DEMO / "static.c3d"))


@pytest.fixture(scope="session")
def takes() -> tuple[Review, Review]:
    """A take with three faults in it, and one without. Nobody changes them."""
    faults = (Fault("axis-tilts", "turn-1", 8.0), Fault("heel-lifts-early", "turn-1", 30.0), Fault("arms-drop", "turn-1", 120.0))
    now, before = (review_of(record(Recorded(rate_hz=60.0), told)) for told in (faults, ()))
    return now, before
