"""How a number is read from a curve, on curves whose answers are written out by hand: a character wrong in it is seen."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.observation import NotTold, Observation
from in_the_round.analysis_core.findings.reading import (
    FURTHEST,
    HIGHEST,
    LOWEST,
    Measure,
    Window,
    at_an_event_sd,
    extreme,
    placed,
)
from in_the_round.analysis_core.take import Floats

RATE_HZ, FRAMES = 100.0, 201
#: Steps are only carried along.
STEP = cast(Any, SimpleNamespace(id="turn-1", kind="turn"))
UP = Measure("heel-lifts-early", "height", HIGHEST, ("heel",), Evidence.heel_mm, lever_m=0.2, extra_sd=3.0, least_sd=1.0)


def made(unseen: dict[str, int] | None = None) -> Evidence:
    """Evidence of a dancer of whom only is known in how many frames each joint is missing."""

    def joint(name: str) -> Floats:
        places = np.zeros((FRAMES, 3))
        places[: (unseen or {}).get(name, 0)] = np.nan
        return places

    return Evidence(cast(Any, SimpleNamespace(rate_hz=RATE_HZ, frames=FRAMES, joint=joint)), cast(Any, None))


def told(curve: Floats, measure: Measure = UP, frames: tuple[int, int] = (0, FRAMES - 1), **window: Any) -> Observation:
    found = extreme(made(), measure.on("left"), STEP, Window(curve, frames, **window))
    assert isinstance(found, Observation)
    return found


def test_the_direction_says_which_extreme() -> None:
    """A straight line from -1 to 2: its steady ends are a mean of 5 frames with the end repeated, 3 steps of 0.015 apart / 5."""
    line = np.linspace(-1.0, 2.0, FRAMES)
    inside = 0.015 * 3 / 5
    for toward, value, peak in (
        (HIGHEST, 2.0 - inside, FRAMES - 1),
        (LOWEST, -1.0 + inside, 0),
        (FURTHEST, 2.0 - inside, FRAMES - 1),
    ):
        found = told(line, replace(UP, toward=toward))
        assert (found.value, found.peak) == (pytest.approx(value), peak)
    assert told(-line, replace(UP, toward=FURTHEST)).value == pytest.approx(-2.0 + inside)


def test_a_window_is_searched_with_both_its_ends_and_cut_to_the_take() -> None:
    curve = np.zeros(FRAMES)
    curve[[20, 60]] = 5.0
    assert (told(curve, frames=(20, 59)).peak, told(curve, frames=(23, 60)).peak) == (20, 60)
    found = told(curve, frames=(-10, FRAMES + 10))
    assert (found.start, found.end) == (0, FRAMES - 1)
    assert found.curve is not None
    np.testing.assert_array_equal(found.curve, curve)


def test_what_is_not_asked_for_is_not_looked_at() -> None:
    curve = np.zeros(FRAMES)
    curve[100], asked = 9.0, np.ones(FRAMES, dtype=bool)
    asked[90:111] = False
    assert told(curve, asked=asked).value == 0.0
    nothing = extreme(made(), UP.on("left"), STEP, Window(curve, (92, 108), asked))
    assert nothing is None
    # Of the frames 80 to 119 nineteen are asked for: 0.475 of them.
    for least, known in ((0.47, True), (0.48, False)):
        assert (extreme(made(), UP.on("left"), STEP, Window(curve, (80, 119), asked, least)) is not None) is known
    assert extreme(made(), UP.on("left"), STEP, Window(curve, (50, 49))) is None


def test_half_of_what_is_asked_for_has_to_be_known() -> None:
    """Of 100 frames 50 known ones tell the number, 49 do not; the joint that was hidden longest is named first."""
    curve = np.zeros(FRAMES)
    curve[:50] = np.nan
    assert isinstance(extreme(made(), UP.on("left"), STEP, Window(curve, (0, 99))), Observation)
    curve[50] = np.nan
    two = replace(UP, joints=("heel", "toe", "knee"))
    found = extreme(made({"heel.L": 26, "toe.L": 51, "knee.L": 25}), two.on("left"), STEP, Window(curve, (0, 99)))
    assert isinstance(found, NotTold)
    assert found.why == "the left toe and left heel could not be seen for long enough"


def test_a_window_that_events_open_is_doubtful_at_its_edge() -> None:
    """A slope of 2 a frame: 15 ms are 2 frames of 100 Hz, so half of 8 is added to what the measure itself is off by."""
    slope = 2.0 * np.arange(FRAMES)
    assert told(slope, frames=(50, 100)).extra_sd == pytest.approx(np.hypot(3.0, 4.0))
    assert told(slope, frames=(50, 100), moves=False).extra_sd == pytest.approx(3.0)
    assert told(slope, replace(UP, toward=LOWEST), frames=(50, 100)).extra_sd == pytest.approx(np.hypot(3.0, 4.0))
    # A peak two frames inside either end counts, one that is three inside does not; steadied over 5 frames it stays in its place.
    for inside, edge in ((2, 0.5 * (4.4**2 - 0.4**2)), (3, 0.0)):
        hill = -((np.arange(FRAMES) - (50.4 + inside)) ** 2)
        found = told(hill, frames=(50, 100))
        assert (found.peak, found.extra_sd) == (50 + inside, pytest.approx(np.hypot(3.0, edge)))
        found = told(hill[::-1].copy(), frames=(100, 150))
        assert (found.peak, found.extra_sd) == (150 - inside, pytest.approx(np.hypot(3.0, edge)))
    slope[101:] = np.nan
    assert told(slope, frames=(50, 100)).extra_sd == pytest.approx(3.0)


def test_a_measure_is_bound_to_a_side() -> None:
    reading = replace(UP, joints=("heel", "neck", "hip.R")).on("left", against=7, extra_sd=4.0)
    assert reading.joints == ("heel.L", "neck", "hip.R")
    assert (reading.side, reading.against, reading.lever_m, reading.least_sd) == ("left", 7, 0.2, 1.0)
    assert reading.made_of is not None
    assert cast(Any, reading.made_of).keywords == {"side": "left"}
    # Two errors that know nothing of each other.
    assert reading.extra_sd == pytest.approx(5.0)
    assert UP.on("right", lever_m=0.9).lever_m == 0.9
    assert replace(UP, sided=False).on("left").made_of is Evidence.heel_mm


def test_a_part_is_placed_in_the_take() -> None:
    curve = placed(np.array([1.0, 2.0]), 3, 6)
    np.testing.assert_array_equal(curve, [np.nan, np.nan, np.nan, 1.0, 2.0, np.nan])


def test_no_more_than_two_joints_that_were_missing_for_long_are_named() -> None:
    """More than a quarter of the window's own frames: 26 of 100 are, 25 are not; 2 of 7 are, though not of eight."""
    curve = np.full(FRAMES, np.nan)
    three = replace(UP, joints=("heel", "toe", "knee"))
    for unseen, window, named in (
        ({"heel.L": 26, "toe.L": 25}, (0, 99), "the left heel"),
        ({"heel.L": 30, "toe.L": 40, "knee.L": 50}, (0, 99), "the left knee and left toe"),
        ({"toe.L": 2}, (0, 6), "the left toe"),
    ):
        found = extreme(made(unseen), three.on("left"), STEP, Window(curve, window))
        assert isinstance(found, NotTold)
        assert found.why == f"{named} could not be seen for long enough"


def test_an_event_at_either_end_of_a_take_is_doubtful_by_what_there_is() -> None:
    slope = 2.0 * np.arange(FRAMES)
    assert (at_an_event_sd(made(), slope, 0), at_an_event_sd(made(), slope, FRAMES - 1)) == (2.0, 2.0)


def test_a_measure_adds_nothing_unasked() -> None:
    """Its own errors are nothing unless they are declared, and a number is beyond its fault only where that is said."""
    plain = Measure("heel-lifts-early", "height", HIGHEST, ("heel",))
    found = told(np.zeros(FRAMES), plain, moves=False)
    assert (found.extra_sd, found.least_sd, found.beyond_fault) == (0.0, 0.0, False)
    assert UP.on("left").told(STEP, 1.0, (0, 1, 2)).extra_sd == 3.0


def test_a_steady_value_is_told_wherever_there_is_one() -> None:
    """A spike of 5, five frames a mean, is 1, whatever is missing elsewhere. Where half has to be asked for, half is enough."""
    curve = np.zeros(FRAMES)
    curve[100], curve[50] = 5.0, np.nan
    assert told(curve).value == pytest.approx(1.0)
    asked = np.arange(FRAMES) < 50
    assert told(curve, frames=(0, 99), asked=asked, least_asked=0.5).value == 0.0
