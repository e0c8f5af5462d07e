"""Simulated takes as files come back as they were; dirt and label habits do what they say."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.joint_names import map_skeleton
from in_the_round.analysis_core.body.landmarks import recognise
from in_the_round.analysis_core.body.solve import solve
from in_the_round.analysis_core.clean import clean_take
from in_the_round.analysis_core.phrase import understand_phrase
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.wording.capture import NO_TOES
from in_the_round.simulated_dancer import CLEAN, Simulation, leg_phrase, simulate
from in_the_round.simulated_dancer.dirt import Dirt, spoil
from in_the_round.simulated_dancer.files import write_bvh, write_c3d
from in_the_round.simulated_dancer.labels import Habit, label_of


@pytest.fixture(scope="module")
def legs() -> Simulation:
    return simulate(leg_phrase(), rate_hz=60.0, noise=CLEAN, facing_rad=0.4, place_m=(0.5, 0.2))


def test_lifted_legs_are_straight_and_clear_the_floor(legs: Simulation) -> None:
    gestures = legs.phrase.of_kind("leg-gesture")
    assert [g.side for g in gestures] == ["right"] * 4 + ["left"] * 2
    for gesture in gestures:
        assert gesture.elevation_deg == pytest.approx(70.0, abs=0.5)
    assert legs.movement.foot_points_m[..., 2].min() > 0.003


@pytest.mark.parametrize("step_mm", [None, 0.1])
def test_c3d_comes_back(legs: Simulation, tmp_path: Path, step_mm: float | None) -> None:
    spoiled, _ = spoil(legs.take, (Dirt("gap", "calcaneus.L", 1.0, 1.5),))
    write_c3d(tmp_path / "legs.c3d", spoiled, spoiled.labels, integer_step_mm=step_mm)
    again = read_take(tmp_path / "legs.c3d")
    assert again.labels == spoiled.labels
    np.testing.assert_allclose(again.positions_m, spoiled.positions_m, atol=6e-5 if step_mm else 1e-6, equal_nan=True)


def test_bvh_comes_back(legs: Simulation, tmp_path: Path) -> None:
    write_bvh(tmp_path / "legs.bvh", legs.movement)
    again = read_take(tmp_path / "legs.bvh")
    for name, joint in (
        ("Hips", "pelvis"),
        ("LeftLeg", "knee.L"),
        ("RightFoot", "ankle.R"),
        ("LeftUpLeg", "hip.L"),
        ("RightHand", "wrist.R"),
    ):
        np.testing.assert_allclose(again.positions_m[:, again.labels.index(name)], legs.movement.joint(joint), atol=1e-4)


@pytest.mark.parametrize("before", ["dancer1_", "rig-2 ", ""])
def test_what_all_joints_are_called_first_is_no_part_of_their_names(legs: Simulation, tmp_path: Path, before: str) -> None:
    """Catches a rig of which no joint was recognised, since every name began with the dancer's."""
    write_bvh(tmp_path / "legs.bvh", legs.movement)
    take = read_take(tmp_path / "legs.bvh")
    plain = map_skeleton(take)
    labels = tuple(before.strip("_- ") if label == "Hips" and before else before + label for label in take.labels)
    assert map_skeleton(replace(take, labels=labels)) == plain


def test_a_skeleton_that_ends_at_the_ankles_stands_on_feet_of_usual_size(legs: Simulation, tmp_path: Path) -> None:
    """A file without end sites. Catches feet that are unknown: not one step of the dance was found, and nothing said why."""
    path = tmp_path / "legs.bvh"
    write_bvh(path, legs.movement)
    path.write_text(re.sub(r"\n *End Site\s*\{\s*OFFSET[^}]*\}", "", path.read_text(encoding="utf-8")), encoding="utf-8")
    movement = solve(clean_take(read_take(path), landmark_of={}, segment_of={}))
    assert NO_TOES in movement.warnings
    exact = legs.movement
    for side in range(2):
        # The lifted leg's own height is the exact one; the other foot stands.
        apart = movement.foot_heights_m[:, side, :3].mean(axis=1) - exact.foot_heights_m[:, side, :3].mean(axis=1)
        assert np.quantile(np.abs(apart), 0.9) < 0.02
    phases = [phase.kind for phase in understand_phrase(movement).phases]
    assert phases.count("leg-gesture") == len(legs.phrase.of_kind("leg-gesture"))


def test_dirt_is_where_it_says(legs: Simulation) -> None:
    dirt = (
        Dirt("swap", "lateral_malleolus.L", 2.0, 3.0, other="lateral_malleolus.R"),
        Dirt("spike", "thigh_1.L", 4.0, 4.0, size_m=0.1),
        Dirt("fell-off", "radial_styloid.R", 10.0, 10.0),
        Dirt("moved", "thigh_2.R", 5.0, 5.5, size_m=0.05),
    )
    take, truth = spoil(legs.take, dirt, seed=3)
    before, after = legs.take.positions_m, take.positions_m
    assert [(event.kind, event.label) for event in truth] == [(d.kind, d.label) for d in dirt]
    left, right = (take.labels.index("lateral_malleolus" + x) for x in (".L", ".R"))
    np.testing.assert_array_equal(after[120:181, left], before[120:181, right])
    spiked = take.labels.index("thigh_1.L")
    assert np.linalg.norm(after[240, spiked] - before[240, spiked]) == pytest.approx(0.1)
    assert np.isnan(after[600:, take.labels.index("radial_styloid.R")]).all()
    moved = take.labels.index("thigh_2.R")
    np.testing.assert_allclose(np.linalg.norm(after[331:, moved] - before[331:, moved], axis=1), 0.05, atol=1e-9)


@pytest.mark.parametrize("habit", ["words", "atlas"])
def test_label_habits_are_recognised(legs: Simulation, habit: Habit) -> None:
    found = recognise(tuple(label_of(landmark, habit) for landmark in legs.take.labels))
    assert found.landmark_of == legs.landmark_of
