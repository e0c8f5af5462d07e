"""The plan of a film: length, holds at the worst correction, one full turn in a hold, both takes at the same step."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from in_the_round.analysis_core.review import Review
from in_the_round.scene.film_plan import plan_film, same_step
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.trials import Recorded, record, review_of

pytest.importorskip("bpy", reason="the add-on's package needs the Blender module")


@cache
def reviews() -> tuple[Review, Review]:
    careless = record(Recorded(rate_hz=100.0), (Fault("axis-tilts", "turn-1", 8.0),))
    return review_of(careless), review_of(record(Recorded(rate_hz=100.0, tempo_bpm=116.0)))


@pytest.mark.parametrize(("fps", "seconds"), [(24, 10.0), (12, 3.0), (30, 40.0), (25, 0.2)])
def test_the_film_is_as_long_as_asked(fps: int, seconds: float) -> None:
    plan = plan_film(list(reviews()), fps, seconds)
    assert plan.frames.shape == (max(1, round(fps * seconds)), 2)
    assert plan.turned_rad.shape == plan.frames.shape[:1]


def test_it_holds_at_the_worst_correction_and_turns_once_round() -> None:
    careless, careful = reviews()
    plan = plan_film([careless, careful], 24, 10.0)
    (hold,) = plan.holds
    assert hold.finding is not None
    assert hold.finding.fault == "axis-tilts"
    held = plan.frames[hold.first : hold.last + 1, 0]
    assert set(held.tolist()) == {round(hold.finding.peak_s * 100.0)}
    assert plan.turned_rad[hold.last] == pytest.approx(2 * np.pi)
    assert (plan.turned_rad[: hold.first] == 0).all()
    # Before and after, the take goes on in its own time.
    played = np.diff(plan.frames[: hold.first, 0])
    assert np.median(played) == pytest.approx(100.0 / 24, abs=1)


def test_the_other_take_is_held_in_the_same_step() -> None:
    careless, careful = reviews()
    plan = plan_film([careless, careful], 24, 10.0)
    turn = careful.phrase.of_kind("turn")[0]
    frame = plan.frames[plan.holds[0].first, 1]
    # The tilt is worst on the way down, just after the turning itself.
    assert turn.start <= frame <= turn.end + 35
    assert same_step(careless.phrase.of_kind("turn")[0], careful) == turn


def test_a_clean_take_is_held_in_the_middle_of_a_step() -> None:
    plan = plan_film([reviews()[1]], 24, 6.0)
    assert plan.holds[0].finding is None
