"""Random stretches of missing markers through the whole analysis: no number changes by more than its ±, none becomes untold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.analyse import analyse_take
from in_the_round.analysis_core.findings.measured import Measured
from in_the_round.analysis_core.settings import Settings
from in_the_round.simulated_dancer import Body, Simulation, demo_phrase, simulate

RATE_HZ = 60.0
#: Gaps of as many seconds, as cameras have them in a clean capture: proposed default.
SHORTEST_S, LONGEST_S = 0.03, 0.2

Numbers = dict[tuple[str, str, str | None, str], Measured]


def numbers(danced: Simulation, seed: int | None) -> Numbers:
    """Every measure of a take; with a seed: after 10 to 60 stretches of single markers were taken away."""
    positions = danced.take.positions_m.copy()
    if seed is not None:
        random = np.random.default_rng(seed)
        frames, markers = positions.shape[:2]
        for _ in range(int(random.integers(10, 60))):
            length = int(random.integers(round(SHORTEST_S * RATE_HZ), round(LONGEST_S * RATE_HZ)))
            start = int(random.integers(0, frames - length))
            positions[start : start + length, int(random.integers(markers))] = np.nan
    review = analyse_take(replace(danced.take, positions_m=positions), Settings(), danced.static_take)
    return {(item.fault, item.measure, item.side, item.step): item for item in review.measured}


@pytest.fixture(scope="module")
def danced() -> Simulation:
    return simulate(demo_phrase(), body=Body(1.62), rate_hz=RATE_HZ, seed=4)


@pytest.fixture(scope="module")
def whole(danced: Simulation) -> Numbers:
    return numbers(danced, None)


@pytest.mark.parametrize("seed", [0, 1])
def test_no_number_is_moved_or_lost_by_short_gaps(seed: int, danced: Simulation, whole: Numbers) -> None:
    """Catches missing samples that count as something, and steps that are no longer seen for the sake of one marker."""
    after = numbers(danced, seed)
    told = {key: item for key, item in whole.items() if item.value is not None}
    assert len(told) > 60
    lost = [key for key in told if key not in after or after[key].value is None]
    assert lost == []
    moved = {
        key: (item.value, after[key].value, item.plus_minus)
        for key, item in told.items()
        if abs(after[key].value - item.value) > item.plus_minus
    }
    assert moved == {}
