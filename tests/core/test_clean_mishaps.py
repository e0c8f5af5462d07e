"""Mishaps of a capture room with known truth: found, named, put right; and none invented on clean takes."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from in_the_round.analysis_core.clean import clean_take, judge_capture
from in_the_round.analysis_core.take import CleanedTake, CleaningEvent, Source, Take
from in_the_round.simulated_dancer import Body, Simulation, demo_phrase, simulate
from in_the_round.simulated_dancer.dirt import Dirt, spoil
from in_the_round.simulated_dancer.markers import Noise

from .named_takes import take_of

#: The slowest and the quickest usual rate.
RATES = (60.0, 240.0)


@cache
def danced(rate_hz: float) -> Simulation:
    noise = Noise(misplaced_m=0.004)
    return simulate(demo_phrase(), body=Body(1.58), rate_hz=rate_hz, seed=int(rate_hz), noise=noise, facing_rad=0.6)


def cleaned(take: Take, danced: Simulation) -> CleanedTake:
    return clean_take(take, landmark_of=danced.landmark_of, segment_of=danced.segment_of)


def mishaps(cleaned: CleanedTake) -> list[CleaningEvent]:
    return [event for event in cleaned.events if event.kind != "gap"]


def off_m(cleaned: CleanedTake, danced: Simulation, label: str, start_s: float, end_s: float) -> float:
    """Largest distance from the unspoiled samples in a part of the take."""
    part = slice(round(start_s * danced.take.rate_hz), round(end_s * danced.take.rate_hz))
    marker = danced.take.labels.index(label)
    apart = np.linalg.norm(cleaned.positions_m[part, marker] - danced.take.positions_m[part, marker], axis=1)
    return float(np.nanmax(apart))


@pytest.mark.parametrize("rate_hz", RATES)
def test_a_clean_take_stays_as_it_is(rate_hz: float) -> None:
    it = danced(rate_hz)
    result = cleaned(it.take, it)
    assert result.events == ()
    np.testing.assert_array_equal(result.positions_m, it.take.positions_m)
    assert (result.source == Source.MEASURED).all()


@pytest.mark.parametrize(
    ("label", "other", "rate_hz"),
    [
        ("lateral_malleolus.L", "lateral_malleolus.R", 60.0),
        ("calcaneus.R", "lateral_malleolus.R", 60.0),
        ("second_metatarsal_head.L", "fifth_metatarsal_head.L", 60.0),
        ("third_metacarpal_head.L", "third_metacarpal_head.R", 60.0),
        ("posterior_superior_iliac_spine.L", "posterior_superior_iliac_spine.R", 60.0),
        ("front_of_head.L", "back_of_head.L", 60.0),
        # The nearest two of one body part, and the two that go furthest between frames, at the other end of usual rates.
        ("second_metatarsal_head.L", "fifth_metatarsal_head.L", 240.0),
        ("third_metacarpal_head.L", "third_metacarpal_head.R", 240.0),
    ],
)
def test_exchanged_labels_are_found_named_and_put_right(label: str, other: str, rate_hz: float) -> None:
    it = danced(rate_hz)
    # During the turn (12 to 14 s), and again for the rest of the take.
    spoiled, truth = spoil(it.take, (Dirt("swap", label, 12.6, 13.3, other), Dirt("swap", label, 16.0, 21.0, other)))
    result = cleaned(spoiled, it)
    found = mishaps(result)
    assert [(e.kind, {e.label, e.other}, e.repaired) for e in found] == [("swap", {label, other}, True)] * 2
    for event, true in zip(found, truth, strict=True):
        assert event.start_s == pytest.approx(true.start_s, abs=2.01 / rate_hz)
        assert event.end_s == pytest.approx(true.end_s, abs=2.01 / rate_hz)
    assert off_m(result, it, label, 0.0, 20.0) < 0.001
    np.testing.assert_array_equal(result.take.positions_m, spoiled.positions_m)


def test_labels_that_come_back_exchanged_after_a_gap() -> None:
    it = danced(60.0)
    pair = ("medial_femoral_epicondyle.L", "medial_femoral_epicondyle.R")
    hidden = [Dirt("gap", label, at, at + 0.2) for label in pair for at in (6.0, 7.0)]
    spoiled, _ = spoil(it.take, (Dirt("swap", pair[0], 6.1, 7.1, pair[1]), *hidden))
    result = cleaned(spoiled, it)
    (swap,) = mishaps(result)
    assert (swap.kind, swap.repaired) == ("swap", True)
    assert swap.start_s == pytest.approx(6.2, abs=0.02)
    assert off_m(result, it, pair[0], 6.25, 6.95) < 0.001


@pytest.mark.parametrize("rate_hz", RATES)
def test_a_spike_and_a_ghost_are_taken_out_and_closed(rate_hz: float) -> None:
    it = danced(rate_hz)
    spikes = (Dirt("spike", "thigh_2.L", 5.0, 5.0, size_m=0.2), Dirt("spike", "calcaneus.R", 8.0, 8.0, size_m=0.15))
    spoiled, _ = spoil(it.take, spikes)
    positions = spoiled.positions_m.copy()
    ghost = slice(round(10.0 * rate_hz), round(10.3 * rate_hz))
    positions[ghost, it.take.labels.index("sacrum")] += np.array([0.2, 0.1, -0.1])
    result = cleaned(replace(spoiled, positions_m=positions), it)
    assert [(e.kind, e.label) for e in mishaps(result)] == [("spike", "thigh_2.L"), ("spike", "calcaneus.R"), ("spike", "sacrum")]
    assert off_m(result, it, "thigh_2.L", 4.9, 5.1) < 0.003
    assert off_m(result, it, "calcaneus.R", 7.9, 8.1) < 0.003
    assert off_m(result, it, "sacrum", 9.9, 10.4) < 0.008
    marker = it.take.labels.index("thigh_2.L")
    assert result.source[round(5.0 * rate_hz), marker] in (Source.OWN_PATH, Source.BODY_PART)


@pytest.mark.parametrize("rate_hz", RATES)
def test_a_marker_that_falls_off_is_named_from_when_it_left(rate_hz: float) -> None:
    it = danced(rate_hz)
    label = "posterior_superior_iliac_spine.R"
    spoiled, _ = spoil(it.take, (Dirt("fell-off", "calcaneus.L", 6.2, 20.0),))
    # This one falls to the floor in sight and lies there for a second before it is lost.
    positions, marker, first = spoiled.positions_m.copy(), it.take.labels.index(label), round(9.0 * rate_hz)
    falling = np.arange(positions.shape[0] - first)[:, None] / rate_hz
    positions[first:, marker] = positions[first, marker] - 0.5 * 9.81 * np.minimum(falling, 0.42) ** 2 * np.array([0.0, 0.0, 1.0])
    positions[round(10.5 * rate_hz) :, marker] = np.nan
    result = cleaned(replace(spoiled, positions_m=positions), it)
    first_lost, second_lost = mishaps(result)
    assert (first_lost.kind, first_lost.label) == ("fell-off", "calcaneus.L")
    assert first_lost.start_s == pytest.approx(6.2, abs=2.01 / rate_hz)
    assert (second_lost.kind, second_lost.label) == ("fell-off", label)
    assert second_lost.start_s == pytest.approx(9.0, abs=0.1)
    assert np.isnan(result.positions_m[round(9.5 * rate_hz), marker]).all()
    quality = judge_capture(result, landmark_of=it.landmark_of)
    assert quality.verdict == "retake"
    assert quality.reasons[0] == (
        "Left heel marker missing from 6.2 s: heel and foot findings will be lost from there. Stick it back and retake."
    )


@pytest.mark.parametrize(
    ("label", "rate_hz"),
    [
        ("calcaneus.L", 60.0),
        ("lateral_malleolus.R", 60.0),
        ("anterior_superior_iliac_spine.L", 60.0),
        ("front_of_head.R", 60.0),
        ("lateral_malleolus.R", 240.0),
    ],
)
def test_a_marker_stuck_back_elsewhere_is_found_and_put_back(label: str, rate_hz: float) -> None:
    it = danced(rate_hz)
    spoiled, (true,) = spoil(it.take, (Dirt("moved", label, 8.4, 9.0, size_m=0.04),))
    result = cleaned(spoiled, it)
    (found,) = mishaps(result)
    assert (found.kind, found.label, found.repaired) == ("moved", label, True)
    assert found.start_s == pytest.approx(true.start_s, abs=0.1)
    assert found.end_s == pytest.approx(true.end_s, abs=0.1)
    # Back to where it sat, as well as its neighbours tell.
    assert off_m(result, it, label, 9.1, 20.0) < 0.012
    marker = it.take.labels.index(label)
    assert result.source[-1, marker] == Source.BODY_PART
    reasons = judge_capture(result, landmark_of=it.landmark_of).reasons
    assert any("sits in another place from 9.0 s" in reason for reason in reasons)


def test_gaps_are_not_taken_for_anything_worse() -> None:
    it = danced(60.0)
    random = np.random.default_rng(5)
    dirt = []
    for _ in range(120):
        start = float(random.uniform(0.5, 18.5))
        dirt.append(Dirt("gap", it.take.labels[int(random.integers(53))], start, start + float(random.uniform(0.05, 0.8))))
    spoiled, _ = spoil(it.take, dirt)
    result = cleaned(spoiled, it)
    assert mishaps(result) == []
    known = np.isfinite(spoiled.positions_m)
    np.testing.assert_array_equal(result.positions_m[known], spoiled.positions_m[known])


@pytest.mark.parametrize(("noise_m", "verdict"), [(0.0007, "good"), (0.006, "usable"), (0.3, "retake")])
def test_markers_that_shake_are_no_good_take(noise_m: float, verdict: str) -> None:
    """Catches a take of nothing but noise called usable; the number told is the noise put in (closed form: white noise)."""
    it = danced(60.0)
    shaken = it.take.positions_m + np.random.default_rng(4).normal(0.0, noise_m, it.take.positions_m.shape)
    quality = judge_capture(cleaned(replace(it.take, positions_m=shaken), it), landmark_of=it.landmark_of)
    assert quality.verdict == verdict
    told = [reason for reason in quality.reasons if "shake" in reason]
    assert len(told) == (verdict != "good")
    if verdict == "usable":
        # Three axes together: the noise of one axis times the square root of three.
        assert float(told[0].split(" by ")[1].split()[0]) == pytest.approx(1000 * noise_m * 3**0.5, abs=1.5)


def test_labels_in_doubt_carry_no_measure() -> None:
    """The heel and the little-toe ball of a foot of ballroom e, whose labels may be exchanged near the end. Catches samples that
    are called uncertain and are judged all the same."""
    take, named = take_of("dance_c3d/ballroom_e.c3d")
    result = clean_take(take, landmark_of=named.landmark_of, segment_of=named.segment_of)
    (doubt,) = (event for event in result.events if event.kind == "swap")
    assert not doubt.repaired
    span = slice(round(doubt.start_s * take.rate_hz), round(doubt.end_s * take.rate_hz) + 1)
    both = [take.labels.index(label) for label in (doubt.label, doubt.other or "")]
    assert (result.source[span, both] != Source.MEASURED).all()
    # What nothing else holds for so long is open, and the sentence is the one that says why.
    assert np.isnan(result.positions_m[span, both]).any()
    said = judge_capture(result, landmark_of=named.landmark_of).reasons
    assert any("may be exchanged" in sentence and "not used there" in sentence for sentence in said)
    assert not any("missing from" in sentence and "heel" in sentence for sentence in said)
