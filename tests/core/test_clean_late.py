"""Markers that come later or earlier than the rest of the body, made so on purpose by straight lines between samples: found
alone, with their lag, and put back in time; nothing is found in takes that are in time, simulated and of real dancers.

Catches: skin that follows a swing taken for a late marker; the companion of a late marker blamed; a limb of which one marker is
held for early; a take of standing still, in which no lag can be told.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.clean import clean_take, judge_capture
from in_the_round.analysis_core.clean.late import Late, find_late, in_time
from in_the_round.analysis_core.take import Floats, Take

from .named_takes import take_of

DANCED = ("careless.c3d", "dance_c3d/ballroom_d.c3d", "c3d_reference/stairs.c3d")
STILL = ("static.c3d", "c3d_fullbody/ballet_tpose.c3d", "c3d_fullbody/ballet_turn.c3d")
ALONE = (
    ("second_metatarsal_head.L", 0.050),
    ("calcaneus.R", 0.080),
    ("lateral_malleolus.L", -0.050),
    ("posterior_superior_iliac_spine.R", 0.050),
    ("ulnar_styloid.R", 0.050),
    ("front_of_head.L", 0.050),
)
LIMBS = (("foot", "toes"), ("forearm", "hand"), ("upper_arm", "forearm", "hand"))


def delayed(take: Take, markers: tuple[int, ...], by_s: float) -> Floats:
    """Positions in which some markers come late: each coordinate read from its own past, the first sample before that."""
    positions = take.positions_m.copy()
    for marker in markers:
        for axis in range(3):
            path = take.positions_m[:, marker, axis]
            known = np.isfinite(path)
            positions[:, marker, axis] = np.interp(take.time_s - by_s, take.time_s[known], path[known])
    return positions


@pytest.mark.parametrize("name", [*DANCED, *STILL])
def test_nothing_is_late_in_a_take_that_is_in_time(name: str) -> None:
    take, named = take_of(name)
    assert find_late(take.positions_m, take.rate_hz, named.landmark_of, named.segment_of) == []


@pytest.mark.parametrize("name", DANCED)
def test_a_late_marker_is_found_alone_with_its_lag(name: str) -> None:
    take, named = take_of(name)
    for landmark, by_s in ALONE:
        marker = named.index_of[landmark]
        spoiled = delayed(take, (marker,), by_s)
        (found,) = find_late(spoiled, take.rate_hz, named.landmark_of, named.segment_of)
        assert found.markers == (marker,), landmark
        # The demo, whose noise is small, within 3 ms; real ones, which wobble on their skin, within 6.
        assert found.lag_s == pytest.approx(by_s, abs=0.003 if name == "careless.c3d" else 0.006), landmark


def test_a_limb_that_is_late_is_told_as_one() -> None:
    take, named = take_of("careless.c3d")
    for parts in LIMBS:
        limb = tuple(index for index, segment in named.segment_of.items() if segment in {part + ".R" for part in parts})
        (found,) = find_late(delayed(take, limb, 0.060), take.rate_hz, named.landmark_of, named.segment_of)
        assert set(found.markers) == set(limb)
        assert found.lag_s == pytest.approx(0.060, abs=0.003)


def test_a_late_marker_is_put_in_time_and_said() -> None:
    take, named = take_of("c3d_reference/stairs.c3d")
    marker = named.index_of["second_metatarsal_head.R"]
    spoiled = delayed(take, (marker,), 0.050)
    cleaned = clean_take(replace(take, positions_m=spoiled), landmark_of=named.landmark_of, segment_of=named.segment_of)
    (event,) = (event for event in cleaned.events if event.kind == "late")
    assert event.lag_s == pytest.approx(0.050, abs=0.004)
    within = slice(0, take.frames - round(0.06 * take.rate_hz))
    wrong, left = (
        np.linalg.norm(positions[within, marker] - take.positions_m[within, marker], axis=1)
        for positions in (spoiled, cleaned.positions_m)
    )
    assert np.nanmax(wrong) > 0.10
    assert np.nanmax(left) < 0.10 * np.nanmax(wrong)
    (reason,) = (text for text in judge_capture(cleaned, landmark_of=named.landmark_of).reasons if "later" in text)
    assert reason.startswith("Right middle of the ball marker comes ")
    assert "put in time" in reason


def test_between_frames_a_path_is_followed_exactly_where_it_is_a_cubic() -> None:
    time = np.arange(40) / 50.0
    path = np.stack([1 + 2 * time - 3 * time**2 + time**3, time**2, time], axis=1)[:, None]
    late = (1.0 + 2 * (time - 0.033) - 3 * (time - 0.033) ** 2 + (time - 0.033) ** 3, (time - 0.033) ** 2, time - 0.033)
    back = in_time(np.stack(late, axis=1)[:, None], [Late((0,), 0.033)], 50.0)
    np.testing.assert_allclose(back[:36], path[:36], atol=1e-12)
    assert np.isnan(back[-1]).all()
