"""Measures of turns, some of feet and legs, on the simulated dancer's exact movement, against the truth of its own formulas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import ANGLES, JOINTS, Movement
from in_the_round.analysis_core.findings.catalogue import load_profile
from in_the_round.analysis_core.findings.evidence import Evidence
from in_the_round.analysis_core.findings.find import observe
from in_the_round.analysis_core.findings.observation import Observation
from in_the_round.analysis_core.phrase import understand_phrase
from in_the_round.analysis_core.phrase.phase import Contact, Phrase, Turn
from in_the_round.analysis_core.phrase.phase import LegGesture as LegGesturePhase
from in_the_round.analysis_core.take import Side
from in_the_round.simulated_dancer import Simulation, simulate
from in_the_round.simulated_dancer.faults import Fault
from in_the_round.simulated_dancer.leg_gesture import LegGesture
from in_the_round.simulated_dancer.pirouette import Pirouette
from in_the_round.simulated_dancer.sautes import Sautes
from in_the_round.simulated_dancer.steps import CloseTo, PhraseStep, Stand
from in_the_round.simulated_dancer.truth_of_faults import true_values

RATE_HZ = 60.0
FIFTH = CloseTo("fifth", "right", "right", 2)


def danced(turn: PhraseStep, *faults: Fault) -> tuple[Simulation, Evidence]:
    """One turn from fifth, and what the measures look at, of the exact movement."""
    dance = simulate((FIFTH, turn), rate_hz=RATE_HZ, faults=faults)
    return dance, Evidence(dance.movement, understand_phrase(dance.movement))


def told(evidence: Evidence, fault: str, measure: str) -> list[Observation]:
    """All that is measured of a fault."""
    seen: Sequence[object] = [*observe(evidence, load_profile("intermediate"))]
    return [o for o in seen if isinstance(o, Observation) and (o.fault, o.measure) == (fault, measure)]


def truth(dance: Simulation, fault: str, measure: str) -> dict[str | None, float]:
    """The greatest value that the body truly had, by side."""
    values = [v for v in true_values(dance) if (v.fault, v.measure) == (fault, measure)]
    return {v.side: v.value for v in values}


def test_a_foot_that_closes_late_after_a_turn_closes_it() -> None:
    """Held on relevé for a second and more before the other foot comes down. Catches a finish that is only looked for within a
    second of the turning, and a turn that is judged through the balance that follows it."""
    dance, evidence = danced(Pirouette("right", balance_s=1.2, off_s=0.08), Fault("turnout-lost-finish", "turn-1", 32.0))
    (turn,) = evidence.phrase.of(Turn)
    (true_turn,) = dance.phrase.of(Turn)
    assert turn.close_s == pytest.approx(true_turn.close_s, abs=0.1)
    assert turn.close_s is not None
    assert turn.close_s - turn.end_s > 1.3
    assert evidence.turns[0].close == turn.end + RATE_HZ
    true = truth(dance, "turnout-lost-finish", "loss")
    values = {one.side: one.value for one in told(evidence, "turnout-lost-finish", "loss")}
    assert values == pytest.approx(true, abs=2.0)
    assert max(values.values()) > 30.0


def test_a_retire_that_is_low_for_a_part_of_a_turn_is_low() -> None:
    """Low while the dancer turns, drawn up in the balance that ends the turn. Catches a retiré that is only looked for near the
    toe's median place, which is no place of it: it hung between the two."""
    dance, evidence = danced(Pirouette("right", balance_s=0.5, off_s=0.08), Fault("low-retire", "turn-1", 0.62))
    (one,) = told(evidence, "low-retire", "height")
    assert one.value == pytest.approx(truth(dance, "low-retire", "height")["right"], abs=0.02)
    assert one.value < 0.65


@pytest.mark.parametrize(("share", "turns"), [(0.3, 0), (0.45, 0), (0.55, 1), (0.9, 1)])
def test_a_turn_on_one_foot_turns_mostly_on_it(share: float, turns: int) -> None:
    """The other foot stands beside it until only a share of the angle is left. Catches a half turn stepped round in forward jumps
    that became a turn on one foot when all lengths were 0.5 % larger: it was decided by a time alone of 30 %."""
    movement, phrase = _whole_turn()
    (turn,) = phrase.of(Turn)
    yaw = np.abs(movement.angle("pelvis_yaw") - movement.angle("pelvis_yaw")[turn.start])
    left = yaw[turn.end] * (1.0 - share)
    touches = Contact("right", "foot", turn.start_s, (turn.start + int(np.argmax(yaw[turn.start : turn.end] > left))) / RATE_HZ)
    assert len(Evidence(movement, replace(phrase, contacts=(*phrase.contacts, touches))).turns) == turns


@cache
def _plain_turn() -> tuple[Simulation, Evidence]:
    return danced(Pirouette("right", off_s=0.08))


def _whole_turn() -> tuple[Movement, Phrase]:
    dance, evidence = _plain_turn()
    return dance.movement, evidence.phrase


@pytest.mark.parametrize(
    ("turned_deg", "other", "judged"), [(180.0, "right", 0), (180.0, "left", 1), (360.0, "right", 1)],
    ids=["a half turn to each foot", "two half turns on one foot", "a whole turn before another foot's"],
)  # fmt: skip
def test_turning_from_foot_to_foot_is_no_turn_on_one_foot(turned_deg: float, other: Side, judged: int) -> None:
    """Chaînés: a half turn to each step, each on one foot. Catches a head that does not spot in a half turn, a body that leans
    into its way and knees of a step, told of every one of them, when the rate of turning dips between the steps."""
    movement, phrase = _whole_turn()
    (turn,) = phrase.of(Turn)
    step = replace(turn, turned_deg=turned_deg, revolutions=turned_deg / 360.0, chain=1, chain_place=1)
    following = replace(turn, id="turn-2", support=other, start=turn.end + 1, end=turn.end + 9, chain=1, chain_place=2)
    assert len(Evidence(movement, replace(phrase, phases=(step, following))).turns) - (other == "left") == judged


@pytest.mark.parametrize(("revolutions", "asked"), [(0.55, False), (0.7, False), (0.8, True)])
def test_a_head_spots_in_whole_turns_only(revolutions: float, asked: bool) -> None:
    """Catches a half turn that was rounded up to a whole one, and told for a head that stays with the chest."""
    movement, phrase = _whole_turn()
    (turn,) = phrase.of(Turn)
    part = replace(turn, turned_deg=360.0 * revolutions, revolutions=revolutions)
    assert bool(told(Evidence(movement, replace(phrase, phases=(part,))), "late-spot", "apart")) is asked


@pytest.mark.parametrize(("lasts_s", "falls"), [(0.6, True), (1.3, False)])
def test_an_axis_that_leans_further_and_further_falls(lasts_s: float, falls: bool) -> None:
    """The centre of mass goes to 4.5° beside the ball, by 7.5 or by 3.5° a second. Catches a fall that is worth a watch only
    because the turn ended before it had leant far (catalogue: faster than 5° a second is a fault)."""
    movement, phrase = _whole_turn()
    (turn,) = Evidence(movement, phrase).turns
    lean = np.radians(4.5) * np.clip((movement.time_s - movement.time_s[turn.rise] - 0.05) / lasts_s, 0.0, 1.0)
    ball = Evidence(movement, phrase).ball(turn.support)
    mass = ball + np.stack([np.sin(lean), 0 * lean, np.cos(lean)], axis=1)
    (one,) = told(Evidence(replace(movement, centre_of_mass_m=mass), phrase), "axis-tilts", "tilt")
    assert one.value == pytest.approx(4.5, abs=0.1) or not falls
    assert one.beyond_fault is falls
    assert str(one.says).startswith("axis falls" if falls else "axis leans")


@pytest.mark.parametrize("off_m", [0.0, 0.05, 0.09])
def test_a_toe_that_comes_off_the_leg_is_told_by_how_far(off_m: float) -> None:
    """The toe goes straight away from the standing leg for the second half of the turn. Truth: a hundred places along that leg.
    Catches a distance to the line from hip to ankle, which passes beside the knee, and a toe held to be off that always was."""
    dance, evidence = _plain_turn()
    (turn,) = evidence.turns
    if not off_m:
        assert told(evidence, "low-retire", "gap")[0].value == pytest.approx(truth(dance, "low-retire", "gap")["right"], abs=1.0)
    knee, toe = (evidence.joint(*at) for at in (("knee", "left"), ("toe", "right")))
    away = (toe - knee) * [1.0, 1.0, 0.0]
    away = off_m * away / np.linalg.norm(away, axis=1, keepdims=True)
    places = dance.movement.joint_centres_m.copy()
    half = slice((turn.alone + turn.close) // 2, None)
    places[half, JOINTS.index("toe.R")] += away[half]
    (one,) = told(Evidence(replace(dance.movement, joint_centres_m=places), evidence.phrase), "low-retire", "gap")
    assert one.value == pytest.approx(1000 * off_m, abs=4.0)


@cache
def _one_saute() -> Simulation:
    return simulate((Stand(1), Sautes(1, 0.13), Stand(1)), rate_hz=RATE_HZ)


@pytest.mark.parametrize("later_s", [0.0, 0.08])
def test_a_foot_that_stretches_late_in_the_air_is_told_by_when(later_s: float) -> None:
    """One sauté, and the same with all feet 0.08 s later. Catches a stretch that is only told by its greatest, however late."""
    dance = _one_saute()
    angles = dance.movement.angles_rad.copy()
    columns, frames = [ANGLES.index("plantarflexion" + side) for side in (".L", ".R")], np.arange(len(angles))
    for column in columns:
        angles[:, column] = np.interp(frames - later_s * RATE_HZ, frames, angles[:, column])
    evidence = Evidence(replace(dance.movement, angles_rad=angles), understand_phrase(dance.movement))
    values = {one.side: one.value for one in told(evidence, "feet-not-pointed", "late")}
    true = truth(dance, "feet-not-pointed", "late")
    assert values == pytest.approx({side: value + later_s for side, value in true.items()}, abs=1.0 / RATE_HZ)
    assert (values["left"] > 0.0) is (later_s > 0.0)


@pytest.mark.parametrize(("direction", "judged"), [("front", True), ("back", False)])
def test_a_pelvis_tips_while_a_leg_is_lifted_a_little(direction: str, judged: bool) -> None:
    """A dégagé of 40° with the pelvis tipped 9° forward (catalogue: tendu, dégagé, jeté); to the back it has to tip. Catches a
    pelvis that is only looked at in pliés, turns and balances."""
    dance = simulate((FIFTH, LegGesture("right", direction, 40.0)), rate_hz=RATE_HZ)
    phrase = understand_phrase(dance.movement)
    angles = dance.movement.angles_rad.copy()
    angles[:, ANGLES.index("pelvis_tilt")] += np.radians(9.0)
    evidence = Evidence(replace(dance.movement, angles_rad=angles), phrase)
    found = [one for one in told(evidence, "back-arches", "tilt") if one.phase.kind == "leg-gesture"]
    assert [round(one.value) for one in found] == [9] * judged
    assert len(phrase.of(LegGesturePhase)) == 1
