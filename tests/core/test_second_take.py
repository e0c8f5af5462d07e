"""A second take beside the first: in step, in its place, coloured where it differs beyond measurement."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import ANGLES, SEGMENTS, Movement
from in_the_round.analysis_core.compare import Comparison, compare
from in_the_round.analysis_core.compare.quantities import quantities
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.views.second_take import (
    BESIDE_M,
    by_the_music,
    in_step,
    levels_of_differences,
    standing,
    standing_by_step,
)

DEMO = Path(__file__).resolve().parents[2] / "demo_data"


@pytest.fixture(scope="module")
def takes(careful_review: Review, careless_review: Review) -> tuple[Review, Review]:
    return careful_review, careless_review


@pytest.fixture(scope="module")
def comparison(takes: tuple[Review, Review]) -> Comparison:
    return compare(*takes)


def moved(review: Review, turn: float, shift: tuple[float, float, float]) -> Review:
    """The same dance in another place of the room, by a matrix of its own."""
    matrix = np.array([[math.cos(turn), -math.sin(turn), 0], [math.sin(turn), math.cos(turn), 0], [0, 0, 1]])
    old = review.movement
    angles = old.angles_rad.copy()
    angles[:, ANGLES.index("pelvis_yaw")] += turn
    return replace(
        review,
        movement=replace(
            old,
            joint_centres_m=old.joint_centres_m @ matrix.T + shift,
            segment_rotations=matrix @ old.segment_rotations,
            angles_rad=angles,
        ),
    )


def test_a_take_in_another_place_is_put_back_exactly_where_it_was(takes: tuple[Review, Review]) -> None:
    """Would catch a turn the wrong way, a shift before the turn, and a change of height."""
    own = takes[0]
    other = moved(own, 2.1, (3.0, -1.5, 0.0)).movement
    step = by_the_music(own.movement, other, 0.0, 0.0)
    put = standing(own.movement, other, step, "ghost").of(other.joint_centres_m)
    assert np.nanmax(np.abs(put - own.movement.joint_centres_m)) < 1e-9
    higher = replace(other, joint_centres_m=other.joint_centres_m + np.array([0, 0, 0.3]))
    put = standing(own.movement, higher, step, "ghost").of(higher.joint_centres_m)
    assert np.nanmax(np.abs(put - own.movement.joint_centres_m - [0, 0, 0.3])) < 1e-9


def put_by_step(own: Review, other: Movement) -> np.ndarray:
    """The pelvis of the second take (F, 3) as it is put, by a rotation of its own: complex numbers."""
    step = by_the_music(own.movement, other, 0.0, 0.0)
    turn, shift = standing_by_step(own, other, step)
    there = other.joint("pelvis")
    spun = (there[:, 0] + 1j * there[:, 1]) * np.exp(1j * turn)
    return np.stack([spun.real, spun.imag, there[:, 2]], axis=1) + shift


def test_what_travels_in_a_turn_is_seen_in_it_and_not_carried_on(takes: tuple[Review, Review]) -> None:
    """Would catch one place for the whole dance (25 cm off after the turn), and a turn about the room's middle."""
    own = takes[1]
    turn = next(phase for phase in own.phrase.phases if phase.kind == "turn")
    after = next(phase for phase in sorted(own.phrase.phases, key=lambda one: one.start) if phase.start > turn.end)
    other = moved(own, 1.9, (2.0, 1.0, 0.0)).movement
    # It travels by 25 cm more in the last half of the turn, and is turned by 20 degrees more from then on.
    share = np.interp(np.arange(other.frames), [(turn.start + turn.end) / 2, turn.end], [0.0, 1.0])
    centre = other.joint_centres_m[turn.end, 0] * [1, 1, 0]
    spin = np.radians(20.0) * share
    matrix = np.array(
        [[np.cos(spin), -np.sin(spin), 0 * spin], [np.sin(spin), np.cos(spin), 0 * spin], [0 * spin, 0 * spin, 1 + 0 * spin]]
    )
    places = np.einsum("ijf,fkj->fki", matrix, other.joint_centres_m - centre) + centre + share[:, None, None] * [0.25, 0.0, 0.0]
    angles = other.angles_rad.copy()
    angles[:, ANGLES.index("pelvis_yaw")] += spin
    put = put_by_step(own, replace(other, joint_centres_m=places, angles_rad=angles))
    off = np.linalg.norm(put - own.movement.joint("pelvis"), axis=1)
    assert off[: turn.start].max() < 1e-6
    assert off[turn.end - 1] == pytest.approx(0.25, abs=0.03)
    assert off[after.start :].max() < 0.01
    one = standing(
        own.movement,
        replace(other, joint_centres_m=places, angles_rad=angles),
        by_the_music(own.movement, other, 0.0, 0.0),
        "ghost",
    )
    assert np.linalg.norm(one.of(places[-1]) - own.movement.joint_centres_m[-1], axis=1).max() > 0.05


def test_beside_is_to_the_dancers_own_right(takes: tuple[Review, Review]) -> None:
    own = takes[0].movement
    step = by_the_music(own, own, 0.0, 0.0)
    away = standing(own, own, step, "beside").of(np.zeros(3))
    across = (own.joint("hip.R") - own.joint("hip.L"))[0]
    assert np.linalg.norm(away) == pytest.approx(BESIDE_M)
    assert away @ across / np.linalg.norm(across) > 0.98 * BESIDE_M


def test_in_step_by_the_movement_and_by_the_music(takes: tuple[Review, Review], comparison: Comparison) -> None:
    a, b = takes
    step = in_step(comparison.alignment, a.movement, b.movement)
    assert comparison.alignment.landmarks
    for landmark in comparison.alignment.landmarks:
        frame = round(landmark.a_s * a.movement.rate_hz)
        assert step.shown[frame]
        assert step.samples[frame] / b.movement.rate_hz == pytest.approx(landmark.b_s, abs=0.02)
    rising = np.diff(step.samples[step.shown])
    assert rising.min() > -1e-6
    for gap in (part for part in comparison.alignment.unmatched if part.take == "a" and part.end_s - part.start_s > 0.2):
        assert not step.shown[round(0.5 * (gap.start_s + gap.end_s) * a.movement.rate_hz)]
    music = by_the_music(a.movement, b.movement, 0.5, 1.5)
    assert music.samples[240] == pytest.approx(240 + 1.0 * b.movement.rate_hz)
    assert not music.shown[-1] or b.movement.duration_s > a.movement.duration_s + 1.0


def test_a_take_against_itself_is_calm(takes: tuple[Review, Review]) -> None:
    assert not levels_of_differences(takes[0], takes[0], compare(takes[0], takes[0])).any()


def test_each_difference_that_is_told_colours_its_body_part_at_its_moment(
    takes: tuple[Review, Review], comparison: Comparison
) -> None:
    """Would catch another scale than the comparison's own, a wrong part or side, and colours for what cannot be shown."""
    a = takes[0]
    levels = levels_of_differences(*takes, comparison)
    told = [found for found in comparison.differences if found.beyond_measurement]
    assert told
    parts_of = {quantity.name: quantity.parts for quantity in quantities()}
    for found in told:
        frame = round(found.a_s * a.movement.rate_hz)
        size = abs(found.value) / found.least
        # Straight lines of our own through (1.1, 0.35) and (4, 1).
        least = 0.35 + 0.65 * (min(size, 4.0) - 1.1) / 2.9 if size > 1.1 else 3.5 * (size - 1.0)
        for part in parts_of[found.quantity]:
            assert levels[frame, SEGMENTS.index(part)] >= least - 0.05, found
    coloured = {SEGMENTS[index] for index in np.flatnonzero(levels.max(axis=0) > 0)}
    assert coloured == {part for found in told for part in parts_of[found.quantity]}


def test_every_quantity_says_which_body_parts_show_it() -> None:
    for quantity in quantities():
        assert quantity.parts
        assert set(quantity.parts) <= set(SEGMENTS), quantity.name
