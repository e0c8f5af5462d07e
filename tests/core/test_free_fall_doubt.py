"""A wrong rate or unit shows in flight: bodies fall with 9.81 m/s² (physics)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from in_the_round.analysis_core.analyse import analyse_take
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.simulated_dancer import Body, demo_phrase, simulate

RATE_HZ = 120.0


def reviewed(rate: float = 1.0, length: float = 1.0) -> Review:
    danced = simulate(demo_phrase(), body=Body(1.6), rate_hz=RATE_HZ, seed=5)
    take, static = (
        replace(take, rate_hz=rate * RATE_HZ, positions_m=length * take.positions_m) for take in (danced.take, danced.static_take)
    )
    return analyse_take(take, Settings(), static)


def doubts(review: Review) -> list[str]:
    return [warning for warning in review.take.warnings if "the body falls with" in warning]


def test_a_true_take_is_not_doubted() -> None:
    assert doubts(reviewed()) == []


@pytest.mark.parametrize("wrong", [2.0, 0.5])
def test_a_wrong_rate_is_told_with_the_one_that_would_fit(wrong: float) -> None:
    (sentence,) = doubts(reviewed(rate=wrong))
    fits = float(sentence.split(" Hz would fit")[0].rsplit(" ", 1)[1])
    assert fits == pytest.approx(RATE_HZ, rel=0.03)
    assert "--rate" in sentence


def test_a_body_a_quarter_too_large_is_told() -> None:
    (sentence,) = doubts(reviewed(length=1.25))
    factor = float(sentence.split("lengths × ")[1].split(" ")[0])
    assert factor == pytest.approx(0.8, rel=0.03)
