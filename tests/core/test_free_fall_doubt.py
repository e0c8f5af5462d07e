"""A wrong rate or unit shows in flight: bodies fall with 9.81 m/s² (physics)."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.analyse import analyse_take
from in_the_round.analysis_core.body.movement import Movement
from in_the_round.analysis_core.findings.load import jump_load
from in_the_round.analysis_core.phrase import doubt_by_free_fall
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.simulated_dancer import Body, Simulation, simulate
from in_the_round.simulated_dancer.files import write_bvh
from in_the_round.simulated_dancer.sautes import Sautes
from in_the_round.simulated_dancer.steps import Plie, Stand

RATE_HZ = 60.0


@cache
def recorded() -> Simulation:
    return simulate((Stand(2), Plie(4), Sautes(4), Stand(2)), body=Body(1.6), rate_hz=RATE_HZ, seed=5)


def danced() -> Movement:
    return recorded().movement


@cache
def reviewed(rate: float = 1.0, length: float = 1.0) -> Review:
    take, static = (
        replace(take, rate_hz=rate * RATE_HZ, positions_m=length * take.positions_m)
        for take in (recorded().take, recorded().static_take)
    )
    return analyse_take(take, Settings(), static)


def test_a_skeleton_that_has_a_unit_is_not_scaled_by_its_flights(tmp_path: Path) -> None:
    """Jumps of a body drawn a fifth too small: scaled where nobody knows the unit, left alone where it is known."""
    movement = danced()
    path = tmp_path / "small.bvh"
    write_bvh(path, movement)
    take = read_take(path)
    assert take.skeleton is not None
    small = replace(
        take,
        positions_m=0.8 * take.positions_m,
        skeleton=replace(take.skeleton, rest_positions_m=0.8 * take.skeleton.rest_positions_m),
    )
    scaled = [
        [item.value for item in analyse_take(small, Settings(unit=unit)).take.inferred if item.what == "scale"]
        for unit in (None, "m")
    ]
    assert [len(values) for values in scaled] == [1, 0]


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


def test_what_hangs_on_a_doubted_rate_is_not_told() -> None:
    """Issue 12.5: loads, heights and speeds of a doubted take; catches a warning beside numbers that go on being told."""
    doubted, plain = reviewed(length=1.15), reviewed()
    assert jump_load(plain.phrase).height_m is not None
    load = jump_load(doubted.phrase)
    assert load.jumps > 0
    assert (load.height_m, load.load_body_weights, load.fade) == (None, None, None)
    named = {name for phase in doubted.phrase.phases for name, value in vars(phase).items() if value is not None}
    assert not {name for name in named if name.endswith(("_m", "_m_s", "_deg_s"))}
    assert not {f.unit for f in doubted.findings} & {"mm", "s", "body weights"}


def hopping(heights_m: tuple[float, float], length_s: float, falls_m_s2: float) -> Movement:
    """Once in each second feet (left, right) that are so high for so long while the body goes along a parabola."""
    time = np.arange(danced().frames) / RATE_HZ % 1.0
    in_air = time < length_s
    path = 0.9 + np.where(in_air, falls_m_s2 / 2 * time * (length_s - time), 0.0)
    feet = np.broadcast_to(np.array(heights_m)[:, None] * in_air[:, None, None], danced().foot_heights_m.shape)
    return replace(
        danced(),
        centre_of_mass_m=np.stack([0 * path, 0 * path, path], axis=1),
        foot_heights_m=feet,
        ground_m=np.zeros_like(danced().ground_m),
    )


@pytest.mark.parametrize(
    ("heights_m", "length_s", "doubted"),
    [
        ((0.15, 0.15), 0.45, True),
        ((0.15, 0.0), 0.45, False),
        ((0.0, 0.15), 0.45, False),
        ((0.15, 0.022), 0.45, False),
        ((0.15, 0.15), 0.15, False),
    ],
    ids=["a flight", "left foot only", "right foot only", "right foot skims the floor", "too short"],
)
def test_only_a_flight_that_is_one_raises_doubt(heights_m: tuple[float, float], length_s: float, doubted: bool) -> None:
    """Issue 12.5: the body falls with 6 m/s² in each of them; both feet have to be clear of the floor for long enough.

    Catches a doubt that is raised on a leap from foot to foot, on a skimming foot, on a hop, and one that is raised no more.
    """
    assert (doubt_by_free_fall(hopping(heights_m, length_s, 6.0)) is not None) is doubted
    assert doubt_by_free_fall(hopping(heights_m, length_s, 9.81)) is None


def test_small_hops_in_a_chain_of_steps_raise_no_doubt() -> None:
    """Feet 12 to 25 mm off the floor for 0.15 s, falling with 12 m/s² because they still push: seen in real quick steps."""
    assert doubt_by_free_fall(hopping((0.022, 0.022), 0.15, 12.0)) is None


def test_legs_that_are_lifted_by_who_lies_raise_no_doubt() -> None:
    """Both feet high while the body sinks slowly along a parabola, its hips on the floor. Catches floor work whose rate was said
    to be wrong, which took all times and heights from the review."""
    flying = hopping((0.3, 0.3), 0.45, 6.0)
    places = flying.joint_centres_m.copy()
    places[..., 2] *= 0.1
    assert doubt_by_free_fall(flying) is not None
    assert doubt_by_free_fall(replace(flying, joint_centres_m=places)) is None


@pytest.mark.parametrize("ratio", [2.0, 0.5, 1.2])
def test_low_jumps_tell_a_rate_that_is_far_off(ratio: float) -> None:
    """Feet 33 mm off the floor for 0.13 s, as in low jumps with trailing toes, under a rate that is so many times their own.

    Catches a wrong rate without a word, which took all jumps from the review and told of heads that tip.
    """
    slowed = hopping((0.033, 0.033), 4 * 0.133, 9.81 / 4**2)
    assert doubt_by_free_fall(replace(slowed, rate_hz=4 * RATE_HZ)) is None
    told = doubt_by_free_fall(replace(slowed, rate_hz=4 * RATE_HZ * ratio))
    assert told is not None
    assert f"{4 * RATE_HZ:.0f} Hz would fit" in told
