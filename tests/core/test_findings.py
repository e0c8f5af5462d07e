"""Faults are built in and found, their clean twins are silent; a studio's own bands and a dancer's own ranges."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import ANGLES
from in_the_round.analysis_core.findings.catalogue import catalogue, load_profile
from in_the_round.analysis_core.findings.find import find
from in_the_round.analysis_core.review import Review
from in_the_round.simulated_dancer import Fault, Simulation
from in_the_round.simulated_dancer.phrases import leg_phrase
from in_the_round.simulated_dancer.programme import SIZES
from in_the_round.simulated_dancer.sautes import Sautes
from in_the_round.simulated_dancer.steps import CloseTo, PhraseStep, RetireBalance, Stand
from in_the_round.simulated_dancer.trials import Recorded, record, review_of


def test_a_clean_phrase_is_silent(reviewed: Callable[..., Review]) -> None:
    assert reviewed().findings == ()
    assert {item.fault for item in reviewed().unsure} >= {"foot-wings"}


#: The fewest that the catalogue compares.
BALANCES = (Stand(2), CloseTo("fifth", "right", "right", 2), *[RetireBalance("right", True, 8) for _ in range(3)], Stand(2))


JUMPS = (Stand(2), Sautes(4, 0.16), Stand(5))


#: Faults that the demo phrase cannot carry: the phases, a clear and a slight size, and a phrase that carries them.
OWN_PHRASES: tuple[tuple[str, tuple[str, ...], float, float, tuple[PhraseStep, ...]], ...] = (
    ("balance-sways", ("balance-3",), 16.0, 7.0, BALANCES),
    # Every time, not once: what one leg does once is no difference between legs.
    ("uneven-height", ("leg-gesture-3", "leg-gesture-4"), 25.0, 13.0, leg_phrase()),
    ("knee-bends-working", ("leg-gesture-1",), 22.0, 15.5, (*leg_phrase()[:3], Stand(2))),
    # A landing that is held: the last of a series, with time to stand after it.
    # By simulated_dancer.truth_of_faults 170, 118 and 105 mm leave margins of -74, -22 and -9 mm; a fault is below -20.
    ("landing-off-axis", ("landing-4",), 170.0, 105.0, JUMPS),
)


@pytest.mark.parametrize(("fault", "phases", "clear", "slight", "phrase"), OWN_PHRASES)
def test_faults_that_need_a_phrase_of_their_own(
    fault: str,
    phases: tuple[str, ...],
    clear: float,
    slight: float,
    phrase: tuple[PhraseStep, ...],
    reviewed: Callable[..., Review],
) -> None:
    for size, grades in ((None, []), (clear, ["fault"]), (slight, ["watch"])):
        faults = () if size is None else tuple(Fault(fault, phase, size) for phase in phases)
        review = reviewed(*faults, phrase=phrase, misplaced_m=0.002)
        assert [f.grade for f in review.findings if f.fault == fault] == grades, size


def test_every_fault_has_been_built_in() -> None:
    """All of the catalogue but one: off-the-count is the music's (tested below)."""
    built = {*SIZES, *(fault for fault, *_ in OWN_PHRASES), "low-jump", "heavy-landing", "rushed-take-off", "foot-wings"}
    assert set(catalogue()) - built == {"off-the-count"}


INSIDE = {"axis-tilts": 1.2, "trunk-leans": 2.5, "turn-travels": 25.0, "head-lifts": 4.0, "knee-bends-supporting": 5.0}


def test_slight_deviations_inside_the_band_stay_silent(reviewed: Callable[..., Review]) -> None:
    review = reviewed(*(Fault(fault, "turn-1", size) for fault, size in INSIDE.items()))
    assert [f.fault for f in review.findings if f.grade == "fault"] == []


def test_an_own_profile(tmp_path: Path, reviewed: Callable[..., Review]) -> None:
    own = tmp_path / "own.toml"
    own.write_text('name = "ours"\n[bands.axis-tilts.tilt]\nok = [0.0, 9.0]\nfault = [0.0, 12.0]\n', encoding="utf-8")
    profile = load_profile(str(own))
    assert profile.name == "ours"
    assert profile.entries["axis-tilts"].measures["tilt"].ok == (0.0, 9.0)
    assert profile.entries["axis-tilts"].band_source == "the studio's own band"
    review = reviewed(Fault("axis-tilts", "turn-1", 8.0), Fault("heel-lifts-early", "turn-1", 32.0))
    assert "axis-tilts" in {f.fault for f in review.findings}
    assert "axis-tilts" not in {f.fault for f in find(review.movement, review.phrase, profile).findings}


def test_own_measured_ranges_stand_in_for_those_of_the_take(tmp_path: Path, reviewed: Callable[..., Review]) -> None:
    """A landing as deep as this dancer's plié in the take is too stiff for one who is known to bend much further."""
    assert "stiff-landing" not in {f.fault for f in reviewed().findings}
    danced = record(Recorded(rate_hz=60.0))
    own = tmp_path / "own.toml"
    own.write_text("[own]\ndemi_plie_deg = [110.0, 110.0]\npassive_turnout_deg = [20.0, 20.0]\n", encoding="utf-8")
    review = review_of(danced, str(own))
    assert np.degrees(review.movement.standing.demi_plie_rad) == pytest.approx([110.0, 110.0])
    stiff = next(f for f in review.findings if f.fault == "stiff-landing")
    assert stiff.value == pytest.approx(64 / 110, abs=0.04)
    beyond = next(f for f in review.findings if f.measure == "beyond_hips")
    assert beyond.value == pytest.approx(np.degrees(np.nansum(_turnout_at(danced, beyond.peak_s))) - 40.0, abs=beyond.plus_minus)


def _turnout_at(danced: Simulation, time_s: float) -> np.ndarray:
    frame = round(time_s * danced.movement.rate_hz)
    return danced.movement.angles_rad[frame, [ANGLES.index("foot_turnout.L"), ANGLES.index("foot_turnout.R")]]
