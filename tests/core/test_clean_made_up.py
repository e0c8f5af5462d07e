"""Samples that no camera has seen, and rooms that jump, made on purpose by formulas of their own in takes that are as recorded.

Catches: a gap that was filled by a straight line before the file was given (a pelvis that "tips", a heel that "sinks") taken for
measured; a foot that stands, or a dancer who stands still, taken for such; missing samples written as zeros; a room measured
anew, in which heels "miss the floor" from then on; a landing, or the body's own jerk, taken for a jump of the room.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.body.landmarks import load_landmarks
from in_the_round.analysis_core.capture import clean
from in_the_round.analysis_core.clean.body_seen import without_the_impossible
from in_the_round.analysis_core.clean.joined import find_jumps, put_together
from in_the_round.analysis_core.clean.made_up import find_made_up, without_made_up
from in_the_round.analysis_core.take import Floats

from .named_takes import take_of

MOVING = (
    "careless.c3d",
    "dance_c3d/ballroom_f.c3d",
    "dance_c3d/ballroom_d.c3d",
    "c3d_fullbody/ballet_turn.c3d",
    "c3d_reference/stairs.c3d",
)
STILL = ("static.c3d", "c3d_fullbody/ballet_tpose.c3d", "c3d_reference/static.c3d", "c3d_dialects/gait_duplicate_labels.c3d")


@pytest.mark.parametrize("name", [*MOVING, *STILL])
def test_a_take_as_recorded_is_left_alone(name: str) -> None:
    take, _ = take_of(name)
    assert not find_made_up(take.positions_m, take.rate_hz).any()
    assert find_jumps(take.positions_m, take.rate_hz) == []
    assert without_made_up(take) is take
    assert put_together(take) is take


def test_the_straight_line_of_a_real_take_is_told() -> None:
    """The right front marker of the pelvis of this serve goes 65 mm in eight equal steps: the file itself was filled there."""
    take, named = take_of("c3d_fullbody/serve.c3d")
    told = find_made_up(take.positions_m, take.rate_hz)
    (marker,) = np.flatnonzero(told.any(axis=0))
    assert named.landmark_of[int(marker)] == "anterior_superior_iliac_spine.R"
    steps = np.diff(take.positions_m[np.flatnonzero(told[:, marker]), marker], axis=0)
    np.testing.assert_allclose(steps, np.broadcast_to(steps[0], steps.shape), atol=2e-6)


@pytest.mark.parametrize("name", ["careless.c3d", "dance_c3d/ballroom_f.c3d"])
@pytest.mark.parametrize("how", ["straight", "held"])
def test_a_gap_that_was_filled_before_is_open_again(name: str, how: str) -> None:
    take, named = take_of(name)
    # The wrist moves at these times: a straight line of a marker at rest is no lie.
    marker, start = named.index_of["radial_styloid.L"], round(0.45 * take.frames)
    end = start + round(0.8 * take.rate_hz)
    way = np.linspace(0.0, 1.0, end - start + 2)[1:-1, None] if how == "straight" else np.zeros((end - start, 1))
    before, after = take.positions_m[start - 1, marker], take.positions_m[end, marker]
    positions = take.positions_m.copy()
    positions[start:end, marker] = (
        np.round((before + way * (after - before)) / 1e-4) * 1e-4 if name == "careless.c3d" else (before + way * (after - before))
    )
    if how == "held":
        positions[start:end, marker] = before
    spoiled = without_made_up(replace(take, positions_m=positions))
    open_again = np.isnan(spoiled.positions_m[:, :, 0]) & ~np.isnan(take.positions_m[:, :, 0])
    assert np.flatnonzero(open_again.any(axis=0)).tolist() == [marker]
    assert open_again[start:end, marker].mean() > 0.9
    assert open_again[:, marker].sum() <= end - start + 2
    assert "count as missing" in spoiled.warnings[-1]
    assert take.labels[marker] in spoiled.warnings[-1]


def test_zeros_are_missing_samples() -> None:
    take, _ = take_of("careless.c3d")
    lost = np.random.default_rng(7).random(take.positions_m.shape[:2]) < 0.03
    zeros = replace(take, positions_m=np.where(lost[:, :, None], 0.0, take.positions_m))
    read = without_the_impossible(zeros)
    np.testing.assert_array_equal(np.isnan(read.positions_m[:, :, 0]), lost | np.isnan(take.positions_m[:, :, 0]))
    assert f"{lost.sum()} samples lie exactly at the origin" in read.warnings[-1]


def moved_from(positions: Floats, frame: int, degrees: float, shift: tuple[float, float, float]) -> Floats:
    """All that follows a frame turned about the vertical axis and shifted."""
    turn = np.radians(degrees)
    about_z = np.array([[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]])
    result = positions.copy()
    result[frame:] = result[frame:] @ about_z.T + shift
    return result


@pytest.mark.parametrize("name", ["careless.c3d", "dance_c3d/ballroom_f.c3d", "dance_c3d/ballroom_d.c3d"])
@pytest.mark.parametrize(("degrees", "shift"), [(0.0, (0.0, 0.0, 0.015)), (0.0, (0.03, 0.02, 0.05)), (3.0, (0.1, 0.0, 0.01))])
def test_a_room_that_jumps_is_put_back(name: str, degrees: float, shift: tuple[float, float, float]) -> None:
    take, _ = take_of(name)
    middle = take.frames // 2
    spoiled = replace(take, positions_m=moved_from(take.positions_m, middle, degrees, shift))
    (jump,) = find_jumps(spoiled.positions_m, take.rate_hz)
    assert jump.frame + 1 == middle
    together = put_together(spoiled)
    apart = np.linalg.norm(together.positions_m - take.positions_m, axis=2)
    assert np.nanmax(apart) < 0.004
    assert "All markers jump by" in together.warnings[-1]


def test_a_piece_cut_out_of_the_movement_is_no_jump_of_the_room() -> None:
    """A third of a second is missing in the middle of a turn: the markers go on elsewhere, but not as one body."""
    take, _ = take_of("careless.c3d")
    at = round(12.8 * take.rate_hz)
    left = np.delete(take.positions_m, np.arange(at, at + 80), axis=0)
    assert find_jumps(left, take.rate_hz) == []


def test_all_of_it_happens_before_a_take_is_cleaned() -> None:
    take, _ = take_of("careless.c3d")
    spoiled = replace(take, positions_m=moved_from(take.positions_m, take.frames // 2, 0.0, (0.0, 0.0, 0.015)))
    captured = clean(spoiled, load_landmarks(None))
    assert any("All markers jump by 15 mm" in warning for warning in captured.take.warnings)
