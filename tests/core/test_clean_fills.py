"""Gaps knocked out of a simulated take: how true the fills are, and how true the errors that are stated beside them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from in_the_round.analysis_core.clean import clean_take
from in_the_round.analysis_core.take import Source
from in_the_round.simulated_dancer import Body, Simulation, demo_phrase, simulate
from in_the_round.simulated_dancer.cleaning_trials import gap_trial
from in_the_round.simulated_dancer.markers import Noise


@cache
def danced() -> Simulation:
    return simulate(demo_phrase(), body=Body(1.62), rate_hz=60.0, seed=4, noise=Noise(misplaced_m=0.004))


# Targets of the project: 3 mm at 0.1 s, 8 mm by the rigid body at 0.5 s, 20 mm by the whole body's pattern at 1 s.
@pytest.mark.parametrize(("length_s", "most_mm"), [(0.1, 3.0), (0.5, 8.0), (1.0, 20.0)])
def test_fills_are_as_true_as_they_have_to_be_and_say_so(length_s: float, most_mm: float) -> None:
    by_source = defaultdict(list)
    for fill in gap_trial(danced(), length_s, seed=1):
        by_source[fill.source].append((fill.error_m, fill.stated_m))
    assert len(by_source[Source.NONE]) <= 3
    for source in (Source.OWN_PATH, Source.BODY_PART, Source.WHOLE_BODY):
        if by_source[source]:
            error, stated = np.array(by_source[source]).T
            rms_mm = 1000 * float(np.sqrt((error**2).mean()))
            assert rms_mm <= (8.0 if source == Source.BODY_PART and length_s > 0.1 else most_mm)
            # An error that is stated too small would let a finding rest on what was made up.
            assert rms_mm <= 1.3 * 1000 * float(np.sqrt((stated**2).mean()))
    assert by_source[Source.OWN_PATH if length_s == 0.1 else Source.BODY_PART]
    assert length_s < 1.0 or by_source[Source.WHOLE_BODY]


def test_samples_lost_at_random_are_filled_and_their_error_is_stated() -> None:
    """Four of ten samples lost, each by itself. Catches a take whose smallest gaps stay open (hence no standing, a relevé that
    seems half as high), and an error of a fill that nothing could try, stated ten times too wide."""
    take = replace(danced().take, positions_m=danced().take.positions_m[:480])
    lost = np.random.default_rng(11).random(take.positions_m.shape[:2]) < 0.4
    holed = replace(take, positions_m=np.where(lost[:, :, None], np.nan, take.positions_m))
    cleaned = clean_take(holed, landmark_of=danced().landmark_of, segment_of=danced().segment_of)
    # Runs of missing samples longer than a tenth of a second, and the ends of the take, may stay open.
    filled = lost & np.isfinite(cleaned.positions_m).all(axis=2)
    assert filled.sum() > 0.85 * lost.sum()
    apart_mm = 1000 * np.linalg.norm(cleaned.positions_m - take.positions_m, axis=2)[filled]
    stated_mm = 1000 * cleaned.error_m[filled]
    assert np.median(apart_mm) < 2.0
    assert 0.5 < np.sqrt(np.mean(apart_mm**2) / np.mean(stated_mm**2)) < 1.3
