"""Two takes of one phrase: what was done to time is told as time, what was done to shape as shape, and nothing else is told."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.analyse import analyse_take
from in_the_round.analysis_core.compare import Comparison, compare, to_json, write_comparison
from in_the_round.analysis_core.compare.aligning import align
from in_the_round.analysis_core.errors import InTheRoundError, OutputError
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.take import Floats
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.phrases import demo_phrase
from in_the_round.simulated_dancer.simulate import Simulation
from in_the_round.simulated_dancer.steps import Plie
from in_the_round.simulated_dancer.trials import Recorded, record, review_of
from scipy.interpolate import CubicSpline

RATE = 60.0
#: Up to the pirouette.
PHRASE = demo_phrase()[:6]


@pytest.fixture(scope="module")
def danced() -> Simulation:
    return record(Recorded(rate_hz=RATE), phrase=PHRASE)


@pytest.fixture(scope="module")
def review(danced: Simulation) -> Review:
    return review_of(danced)


def in_other_time(danced: Simulation, course: Callable[[Floats], Floats]) -> Review:
    """The review of the same dance in another time, filmed anew: what A shows at t, B shows at course(t)."""
    own = np.arange(danced.take.frames) / RATE
    fine = np.linspace(0, own[-1], 20 * danced.take.frames)
    time_s = np.arange(int(course(own[-1:])[0] * RATE)) / RATE
    places = CubicSpline(own, danced.take.positions_m, axis=0)(np.interp(time_s, course(fine), fine))
    noise = np.random.default_rng(11).normal(scale=0.0003, size=places.shape)
    return analyse_take(replace(danced.take, positions_m=places + noise, sha256="other"), Settings(), danced.static_take)


def shown(comparison: Comparison) -> list[str]:
    return [f"{d.quantity} in {d.phase}" for d in comparison.differences if d.beyond_measurement]


def moving(review: Review, time_s: Floats) -> np.ndarray:
    """Where some joint of A moves by more than 10 cm/s: a body that stands still tells no time."""
    speed = np.linalg.norm(np.gradient(review.movement.joint_centres_m, 1 / RATE, axis=0), axis=2).max(axis=1)
    return speed[np.clip(np.round(time_s * RATE).astype(int), 0, len(speed) - 1)] > 0.10


def assert_in_step(review: Review, other: Review, course: Callable[[Floats], Floats]) -> None:
    alignment = align((review.movement, review.phrase), (other.movement, other.phrase))
    assert alignment.method == "landmarks"
    assert alignment.unmatched == ()
    assert len(alignment.landmarks) >= 12
    at = np.array([(landmark.a_s, landmark.b_s) for landmark in alignment.landmarks])
    assert np.abs(at[:, 1] - course(at[:, 0])).max() <= 1 / RATE
    a_s, b_s = alignment.path
    assert np.all(np.diff(a_s) > 0)
    assert np.all(np.diff(b_s) > 0)
    assert np.abs(b_s - course(a_s))[moving(review, a_s)].max() <= 0.040


def test_against_itself_nothing(review: Review) -> None:
    told = compare(review, review)
    assert told.differences == ()
    assert not any(timing.beyond_measurement or timing.since_before_beyond for timing in told.timing)
    assert {change.change for change in told.findings} <= {"same"}
    a_s, b_s = told.alignment.path
    assert np.abs(a_s - b_s).max() < 1e-3


def test_slower_in_the_middle_is_time_and_no_shape(danced: Simulation, review: Review) -> None:
    """1.2 s longer over four seconds in the middle. Truth: the course itself, which shares no code with the alignment."""

    def course(time_s: Floats) -> Floats:
        share = np.clip((time_s - 5.0) / 4.0, 0.0, 1.0)
        return time_s + 1.2 * share * share * (3 - 2 * share)

    other = in_other_time(danced, course)
    assert_in_step(review, other, course)
    told = compare(review, other)
    assert shown(told) == []
    last = told.timing[-1]
    assert last.value_s == pytest.approx(1.2, abs=2 / RATE)
    assert last.beyond_measurement
    before = [timing for timing, landmark in zip(told.timing, told.alignment.landmarks, strict=True) if landmark.a_s < 5.0]
    assert before
    assert not any(timing.beyond_measurement for timing in before)


def test_a_wandering_tempo_is_followed(danced: Simulation, review: Review) -> None:
    def course(time_s: Floats) -> Floats:
        return 1.06 * time_s + 0.15 * np.sin(2 * np.pi * time_s / 6.0)

    assert_in_step(review, in_other_time(danced, course), course)


@pytest.fixture(scope="module")
def leaning() -> Review:
    return review_of(record(Recorded(rate_hz=RATE), [Fault("trunk-leans", "balance-1", 15.0)], PHRASE))


def test_leaning_in_one_balance_is_told_there(review: Review, leaning: Review) -> None:
    """15° in one balance: the trunk leans there, and the rest is what hangs on the trunk; no time."""
    told = compare(review, leaning)
    balance = next(phase for phase in review.phrase.phases if phase.id.startswith("balance") and phase.side != "both")
    trunk = [d for d in told.differences if d.quantity == "trunk_pitch" and d.beyond_measurement]
    assert [d.phase for d in trunk] == [balance.id]
    assert trunk[0].value == pytest.approx(15.0, abs=trunk[0].plus_minus)
    hangs = ("trunk", "thorax", "head", "hip_flexion", "wrist", "centre_of_mass", "pelvis_tilt", "shoulder")
    others = [d for d in told.differences if d.beyond_measurement and d is not trunk[0]]
    assert all(d.quantity.startswith(hangs) for d in others), shown(told)
    assert all(balance.start_s - 0.6 <= d.a_s <= balance.end_s + 0.6 for d in others), shown(told)
    assert not any(timing.beyond_measurement for timing in told.timing)
    leans = [change for change in told.findings if change.fault == "trunk-leans"]
    assert [(change.change, change.a is None) for change in leans] == [("new", True)]


def test_findings_are_better_worse_the_same_or_gone(review: Review, leaning: Review) -> None:
    """One finding with another value in the other take, inside and outside the ± of the difference; and without it.

    Both takes have the same static take: the ± is the one within a take.
    """
    lean = next(finding for finding in leaning.findings if finding.fault == "trunk-leans")

    def change(value: float) -> tuple[str, float | None]:
        findings = tuple(replace(f, value=value) if f is lean else f for f in leaning.findings)
        other = replace(leaning, analysed=findings, take=replace(leaning.take, sha256="anew"))
        told = next(c for c in compare(leaning, other).findings if c.fault == "trunk-leans")
        return told.change, told.value

    assert lean.plus_minus_within_take is not None
    apart = 1.2 * np.sqrt(2) * lean.plus_minus_within_take
    assert change(lean.value - apart) == ("better", pytest.approx(-apart))
    assert change(lean.value + apart) == ("worse", pytest.approx(apart))
    assert change(lean.value + 0.5 * apart)[0] == "same"
    assert [c.change for c in compare(leaning, review).findings if c.fault == "trunk-leans"] == ["gone"]


def test_what_must_not_matter_does_not(review: Review) -> None:
    """A smaller dancer of another rate, place and facing, with other errors of the markers and another skin: lengths are told in
    legs, so that nothing is left but angles of her own body within what can be shown."""
    other = review_of(
        record(
            Recorded(stature_m=1.4, rate_hz=90.0, facing_rad=2.1, place_m=(1.5, -2.0), seed=8, misplaced_m=0.005), phrase=PHRASE
        )
    )
    told = compare(review, other)
    assert shown(told) == []
    assert not any(timing.beyond_measurement or timing.since_before_beyond for timing in told.timing)
    assert told.alignment.unmatched == ()


def test_a_step_that_only_one_takes_has_is_named_and_not_forced(review: Review) -> None:
    """B has two more pliés in between."""
    longer = (*PHRASE[:2], Plie(4), Plie(4), *PHRASE[2:])
    other = review_of(record(Recorded(rate_hz=RATE), phrase=longer))
    alignment = align((review.movement, review.phrase), (other.movement, other.phrase))
    extra = [part for part in alignment.unmatched if part.take == "b"]
    assert sum(part.end_s - part.start_s for part in extra) == pytest.approx(8 * 0.5, abs=0.8)
    assert any("plie" in part.why for part in extra)
    assert not [part for part in alignment.unmatched if part.take == "a"]


def test_too_short_is_said(review: Review) -> None:
    with pytest.raises(InTheRoundError, match="too short"):
        compare(review, replace(review, take=replace(review.take, duration_s=0.2)))


def test_the_document_follows_the_contract(review: Review, tmp_path: Path) -> None:
    told = compare(review, review)
    path = write_comparison(told, tmp_path)
    data = json.loads(path.read_text(encoding="utf-8"))
    assert data == json.loads(json.dumps(to_json(told)))
    assert (data["format"], data["version"]) == ("in-the-round/comparison", 1)
    assert {"a", "b", "alignment", "differences", "timing", "findings"} <= set(data)
    assert {"method", "landmarks", "path", "unmatched"} <= set(data["alignment"])
    assert {"name", "a_s", "b_s"} <= set(data["alignment"]["landmarks"][0])
    assert len(data["alignment"]["path"]["a_s"]) == len(data["alignment"]["path"]["b_s"])
    with pytest.raises(OutputError):
        write_comparison(told, tmp_path)
