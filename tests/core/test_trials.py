"""A few trials of the whole analysis that can disagree with it: the truth is from formulas that share no code with it.

The whole programme is ``scripts/bench_findings.py``; this part of it fails when the program gets worse on a kind of error that it
once made.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from in_the_round.simulated_dancer import CLEAN, Body, Fault, simulate
from in_the_round.simulated_dancer.coverage import factor, interval_of_share, learnt
from in_the_round.simulated_dancer.judged import _within
from in_the_round.simulated_dancer.phrases import adage, barre, petit_allegro, turns_from_fifth, turns_from_fourth
from in_the_round.simulated_dancer.programme import SIZES
from in_the_round.simulated_dancer.steps import CloseTo, PhraseStep, Plie, Stand
from in_the_round.simulated_dancer.trials import Outcome, Recorded, record, review_of, trial
from in_the_round.simulated_dancer.truth_of_faults import Dance, true_values
from in_the_round.simulated_dancer.wear import INNER, Wear

PHRASES: dict[str, tuple[PhraseStep, ...]] = {
    "barre": barre(), "adage": adage(), "turns from fourth": turns_from_fourth(), "turns from fifth": turns_from_fifth(),
    "petit allegro": petit_allegro(),
}  # fmt: skip
#: Faults that are danced together, each in a step of its own.
DANCED: dict[str, tuple[tuple[str, str], ...]] = {
    "barre": (("knee-inside-toes", "plie-1"), ("uneven-plie", "plie-3"), ("heels-lift-in-plie", "plie-5")),
    "adage": (("knee-bends-working", "leg-gesture-1"), ("hip-hikes", "leg-gesture-2"), ("low-retire", "balance-1")),
    "turns from fourth": (("axis-tilts", "turn-1"), ("foot-slips-parallel", "turn-2")),
    "turns from fifth": (("heel-lifts-early", "turn-1"), ("turn-travels", "turn-2")),
    "petit allegro": (("feet-not-pointed", "jump-2"), ("stiff-landing", "landing-3"), ("turnout-lost-in-air", "jump-5")),
}


def _faults(name: str) -> tuple[Fault, ...]:
    return tuple(Fault(fault, step, SIZES[fault][0]) for fault, step in DANCED[name])


@cache
def danced(name: str, faulty: bool) -> Outcome:
    recorded = Recorded(rate_hz=60.0, facing_rad=0.8, seed=4, misplaced_m=0.003, wear=Wear(INNER if name == "barre" else ()))
    return trial(recorded, _faults(name) if faulty else (), PHRASES[name], sizes=not faulty)


@pytest.mark.parametrize("name", sorted(PHRASES))
def test_the_clean_dances_are_clean_by_the_catalogue(name: str) -> None:
    """What is danced without a fault lies inside every band of the truth: else "every finding is false" would be wrong itself."""
    values = true_values(danced(name, False).danced)
    assert len(values) > 30
    assert [(v.fault, v.measure, v.step, round(v.value, 2)) for v in values if v.outside > 0.0] == []


@pytest.mark.parametrize("name", sorted(PHRASES))
def test_what_is_built_in_is_there_by_the_catalogue(name: str) -> None:
    values = true_values(danced(name, True).danced)
    for fault, step in DANCED[name]:
        assert any(v.is_fault and v.outside > 0.0 for v in values if (v.fault, v.step) == (fault, step)), fault


def test_the_truth_reads_the_size_that_was_built_in() -> None:
    """Catches a formula of the truth that errs: sizes that the simulator builds in directly, degrees and millimetres."""
    for phrase, fault, step, measure, size, within in (
        (turns_from_fourth()[:3], "foot-slips-parallel", "turn-1", "yaw", 16.0, 0.1),
        (turns_from_fourth()[:3], "turn-travels", "turn-1", "travel", 150.0, 2.0),
        (turns_from_fourth()[:3], "axis-tilts", "turn-1", "tilt", 8.0, 1.2),
        (turns_from_fifth()[:3], "heel-lifts-early", "turn-1", "height", 32.0, 2.5),
        (barre()[:2], "knee-inside-toes", "plie-1", "angle", 22.0, 0.2),
        (barre()[:2], "heels-lift-in-plie", "plie-1", "height", 26.0, 1.0),
        (adage()[:4], "hip-hikes", "leg-gesture-2", "one_foot", 17.0, 0.2),
    ):
        made = simulate(phrase, body=Body(1.65), rate_hz=60.0, noise=CLEAN, faults=(Fault(fault, step, size),))
        told = [v.value for v in true_values(made) if (v.fault, v.measure, v.step) == (fault, measure, step)]
        assert max(told, key=abs) == pytest.approx(size, abs=within), fault


def test_the_knee_direction_of_the_truth_is_the_catalogue_s_worked_value() -> None:
    """Catalogue section 11, row 31: knee direction 37.383°, 22.617° inside a foot at 60°, displaced by 90.88 mm."""
    made = simulate(barre()[:1], rate_hz=60.0, noise=CLEAN)
    movement = made.movement
    for name, place in (("hip", (0.0, -0.09, 0.80)), ("knee", (0.20, -0.25, 0.46)), ("ankle", (0.02, -0.12, 0.08))):
        movement.joint(name + ".R")[:] = place
    line = np.array([np.cos(np.radians(60.0)), -np.sin(np.radians(60.0)), 0.0])
    movement.foot_points_m[:, 1, 0] = 0.0
    movement.foot_points_m[:, 1, 1:3] = 0.18 * line
    movement.angle("knee_flexion.R")[:] = np.radians(67.266)
    movement.segment("pelvis")[:, :, 0] = (1.0, 0.0, 0.0)
    dance = Dance(made)
    assert dance.knee_out("right")[0] == pytest.approx(37.383, abs=1e-3)
    assert dance.knee_inside("right")[0] == pytest.approx(22.617, abs=1e-3)
    assert dance.knee_displaced("right")[0] == pytest.approx(90.88, abs=0.01)


@pytest.mark.parametrize("name", sorted(PHRASES))
def test_a_clean_dance_is_silent(name: str) -> None:
    """Nothing is built in: whatever is found is false. Catches windows that reach beyond the step (a heel that is lowered
    after the turn, a plié that ends on one foot, a retiré still drawn up) and steps that are none (a relevé in a grand plié)."""
    judged = danced(name, False).judged
    assert judged.false == ()
    assert {kind: steps.false for kind, steps in judged.steps.items() if steps.false} == {}


@pytest.mark.parametrize("name", sorted(PHRASES))
def test_clear_faults_are_found_and_nothing_else(name: str) -> None:
    judged = danced(name, True).judged
    assert judged.too_small == ()
    assert [c.fault for c in judged.carried if not c.found] == []
    assert judged.false == ()


def test_a_leg_that_leans_over_a_foot_whose_marker_errs_is_no_knee_inside_the_toes() -> None:
    """Grand plié in second: the knee is 20 mm inside of the foot's plane because the leg leans; its direction is the foot's. A
    heel marker 18 mm beside the heel turns the foot's line by 7°, which once made of the leaning a knee 47 ± 21 mm inside."""
    beside = Wear(moved_m=(("calcaneus", (0.0, 0.0, -0.018)),))
    phrase = (Stand(2), CloseTo("second", "right", None, 2), Plie(6, grand=True))
    danced_once = record(Recorded(rate_hz=60.0, misplaced_m=0.0, wear=beside), (), phrase)
    assert [f.measure for f in review_of(danced_once).findings if f.fault == "knee-inside-toes"] == []


def test_a_balance_with_a_hop_in_it_is_a_balance() -> None:
    """What is still by the catalogue, and what was danced as a balance, overlap: counted once."""
    assert _within([(0.0, 4.0), (1.0, 2.0), (3.0, 6.0)], 1.5, 5.0) == pytest.approx(3.5)
    assert _within([(0.0, 1.0), (2.0, 3.0)], 0.5, 2.5) == pytest.approx(1.0)
    assert _within([], 0.0, 1.0) == 0.0


def test_how_sure_a_share_of_covered_values_is() -> None:
    """Exact binomial interval of 19 in 20 (Clopper & Pearson: 75.1 to 99.9 %, two standard libraries agree); ten takes of which
    one errs in all its ten values are no surer than ten values."""
    apart = interval_of_share([(1, 1)] * 19 + [(0, 1)])
    assert apart == pytest.approx((0.7513, 0.9987), abs=2e-2)
    together = interval_of_share([(10, 10)] * 9 + [(0, 10)])
    assert together[0] < 0.6
    assert together[1] > 0.99
    assert interval_of_share([(5, 5)] * 3)[0] < 0.5


def test_a_share_is_learnt_where_many_takes_tell_it() -> None:
    """Errors of half the stated size, 1000 takes: the ± is to be halved. One body of twelve that errs threefold alone is not
    believed to be one in twelve of all; of five takes nothing is believed."""
    random = np.random.default_rng(2)
    half = [np.abs(random.normal(scale=0.5 / 1.96, size=4)) for _ in range(1000)]
    assert factor(half) == pytest.approx(0.5, abs=0.03)
    assert 0.5 < factor([*half[:11], np.full(4, 3.0)]) < 2.0
    known = {("a", "b"): 0.8}
    assert learnt({("a", "b"): half, ("c", "d"): half[:5]}, known) == {("a", "b"): pytest.approx(0.4, abs=0.03)}


def test_the_stated_error_covers_the_true_one() -> None:
    """95 % is stated; catches a ± that leaves out the window or a definition that differs from the catalogue's."""
    covered = [told for name in PHRASES for told in danced(name, False).judged.covered]
    inside = np.array([abs(error) <= plus_minus for _, _, error, plus_minus in covered])
    assert inside.size > 200
    assert inside.mean() > 0.92
