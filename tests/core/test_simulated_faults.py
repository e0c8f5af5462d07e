"""Every fault that can be built in shows by the catalogue's own formula, and only where it was built in."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import Movement
from in_the_round.simulated_dancer import CLEAN, Fault, Simulation, demo_phrase, leg_phrase, simulate, supported
from in_the_round.simulated_dancer.phrases import short
from in_the_round.simulated_dancer.sautes import Sautes
from in_the_round.simulated_dancer.steps import CloseTo, Releve, Stand

PHASES = {
    "leg-gesture": "leg-gesture-1",
    "turn": "turn-1",
    "plie": "plie-1",
    "landing": "landing-1",
    "jump": "jump-2",
    "balance": "balance-1",
    "releve": "releve-1",
}
SIZES = {"mm": 30.0, "deg": 16.0, "ratio": 0.6, "s": 0.08}


#: A phrase of a few seconds with the step of each kind that a fault is built into.
SHORT = {
    "leg-gesture": leg_phrase()[:3],
    "turn": (*short("turn"), CloseTo("first", "right", None, 2), Stand(1)),
    "plie": short("plié"),
    "landing": (Stand(2), Sautes(3), Stand(1)),
    "jump": (Stand(2), Sautes(3), Stand(1)),
    "balance": (*short("balance"), Stand(1)),
    "releve": (Stand(2), Releve(2), Stand(1)),
}


@cache
def danced(kind: str, fault: str = "", size: float = 0.0, phase: str = "") -> Simulation:
    """The phrase with a step of a kind, and a fault of a size in that step or in another of its phases."""
    faults = (Fault(fault, phase or PHASES[kind], size),) if fault else ()
    return simulate(SHORT[kind], rate_hz=60.0, noise=CLEAN, faults=faults)


def _span(movement: Movement, start_s: float, end_s: float) -> slice:
    return slice(round(start_s * movement.rate_hz), round(end_s * movement.rate_hz) + 1)


@pytest.mark.parametrize("name", sorted(supported()))
def test_a_fault_changes_its_phase_and_keeps_the_feet_on_the_floor(name: str) -> None:
    unit, (kind, *_) = supported()[name]
    clean, faulty = danced(kind), danced(kind, name, SIZES[unit])
    (built,) = faulty.built_in
    # An arch sinks and moves no joint.
    away = np.linalg.norm(faulty.movement.joint_centres_m - clean.movement.joint_centres_m, axis=2)
    sunk = np.abs(faulty.movement.arch_heights_m - clean.movement.arch_heights_m)
    moved = np.hstack([away, sunk]).max(axis=1) > 1e-4
    assert moved.any()
    first = faulty.movement.time_s[moved][0]
    assert abs(first - built.onset_s) < 0.35
    assert faulty.movement.foot_points_m[..., 2].min() > 0.004
    speed = np.linalg.norm(np.gradient(faulty.movement.joint_centres_m, 1 / 60.0, axis=0), axis=2)
    assert speed.max() < 6.0


def _axis_tilt(s: Simulation, start_s: float, end_s: float) -> np.ndarray:
    movement = s.movement
    line = movement.centre_of_mass_m - movement.foot_points_m[:, 0, 1:3].mean(axis=1)
    tilt = np.degrees(np.arctan2(np.linalg.norm(line[:, :2], axis=1), line[:, 2]))
    return tilt[_span(movement, start_s, end_s)]


def test_sizes_are_what_was_asked_for() -> None:
    """Measures of the catalogue (section 5), each with formulas of its own."""
    (turn,) = danced("turn").phrase.of_kind("turn")
    up, down = turn.start_s + 0.3, turn.end_s - 0.2
    degrees = np.degrees
    tilted = danced("turn", "axis-tilts", 7.0)
    assert _axis_tilt(danced("turn"), up, down).max() < 2.0
    assert _axis_tilt(tilted, up, down).max() == pytest.approx(7.0, abs=0.7)

    early = danced("turn", "heel-lifts-early", 30.0)
    lowest = next(p for p in early.phrase.phases if p.id == "plie-1").bottom_s
    assert isinstance(lowest, float)
    heel = 1000.0 * early.movement.heel_height_m("left")
    assert heel[round(lowest * 60)] == pytest.approx(30.0, abs=3.0)
    assert 1000.0 * danced("turn").movement.heel_height_m("left")[round(lowest * 60)] < 1.0

    far = danced("turn", "turn-travels", 130.0).movement
    ball = far.foot_points_m[:, 0, 1:3, :2].mean(axis=1)
    assert np.linalg.norm(ball[round(turn.end_s * 60)] - ball[round(turn.start_s * 60)]) == pytest.approx(0.13, abs=0.01)

    lean = danced("turn", "trunk-leans", 12.0).movement
    assert degrees(lean.angle("trunk_pitch")[_span(lean, up, down)].max()) == pytest.approx(12.5, abs=1.0)
    head = danced("balance", "head-lifts", 16.0).movement
    assert degrees(head.angle("head_pitch").max()) == pytest.approx(16.0, abs=0.1)
    bent = danced("turn", "knee-bends-supporting", 20.0).movement
    assert degrees(bent.angle("knee_flexion.L")[_span(bent, up, down)].max()) == pytest.approx(20.0, abs=0.5)
    lost = danced("turn", "turnout-lost-working", 25.0).movement
    knee = degrees(lost.angle("knee_turnout.R")[_span(lost, up, down)])
    kept = degrees(danced("turn").movement.angle("knee_turnout.R")[_span(lost, up, down)])
    assert np.nanmax(kept) - np.nanmin(knee) == pytest.approx(25.0, abs=2.0)
    inside = danced("plie", "knee-inside-toes", 18.0).movement
    gap = degrees(inside.angle("foot_turnout.L") - inside.angle("knee_turnout.L"))
    assert np.nanmax(gap[_span(inside, 1.5, 2.5)]) == pytest.approx(18.0, abs=0.5)

    flat = danced("jump", "feet-not-pointed", 0.6)
    jump = flat.phrase.of_kind("jump")[1]
    pointed = flat.movement.angle("plantarflexion.R")[jump.start : jump.end].max() / flat.movement.standing.pointed_rad[1]
    assert pointed == pytest.approx(0.6, abs=0.12)
    stiff = danced("landing", "stiff-landing", 0.55, "landing-3")
    landing = stiff.phrase.of_kind("landing")[2]
    window = _span(stiff.movement, landing.start_s, landing.start_s + 0.5)
    assert stiff.movement.angle("knee_flexion.L")[window].max() / stiff.movement.standing.demi_plie_rad[0] < 0.6


def test_the_clean_phrase_is_clean() -> None:
    """Bands of the catalogue, ok side, for the clean phrase."""
    whole = simulate(demo_phrase(), rate_hz=60.0, noise=CLEAN)
    movement = whole.movement
    assert np.abs(np.degrees(movement.angle("trunk_pitch"))).max() < 2.0
    for suffix in (".L", ".R"):
        gap = np.degrees(movement.angle("foot_turnout" + suffix) - movement.angle("knee_turnout" + suffix))
        for phase in (*whole.phrase.of_kind("landing"), whole.phrase.of_kind("plie")[0]):
            inside = gap[phase.start : phase.end]
            assert np.nanmax(np.abs(inside)) < 4.0
    hold = whole.phrase.of_kind("balance")[0]
    assert _axis_tilt(whole, hold.start_s, hold.end_s).max() < 2.0
    for jump in whole.phrase.of_kind("jump"):
        assert movement.angle("plantarflexion.L")[jump.start : jump.end].max() > 0.85 * movement.standing.pointed_rad[0]


def test_an_unknown_fault_or_phase_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot be built in"):
        simulate(demo_phrase(), rate_hz=60.0, faults=(Fault("knee-sings", "turn-1", 1.0),))
    with pytest.raises(ValueError, match="needs a phase"):
        simulate(demo_phrase(), rate_hz=60.0, faults=(Fault("axis-tilts", "jump-1", 1.0),))
