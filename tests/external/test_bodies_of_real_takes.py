"""Bodies of open recordings of real dance: human lengths, both sides alike, and misplaced markers named.

Proportions: Drillis and Contini 1966 as in Winter 2009 (thigh 0.245, shank 0.246 of stature). What is wrong with the markers of
these recordings stands in the manifest of the shared data.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.lengths import lengths_of
from in_the_round.analysis_core.body.movement import Movement
from in_the_round.analysis_core.review import Review

DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="the open recordings (../shared/data) are not here")


def _lengths(movement: Movement, first: str, second: str) -> np.ndarray:
    apart = [np.linalg.norm(movement.joint(first + s) - movement.joint(second + s), axis=1) for s in (".L", ".R")]
    return np.nanmedian(apart, axis=1)


@pytest.mark.parametrize("name", ["ballroom_a", "ballroom_f", "ballroom_g"])
def test_legs_in_shoes_with_high_ankle_markers_are_human(name: str, analysed: Callable[..., Review]) -> None:
    """Issue 12: thighs of 48 cm on shanks of 35, sides that differ by 17 %, ankles 21 cm up a shoe's shaft, without a word."""
    movement = analysed(f"dance_c3d/{name}.c3d").movement
    stature = movement.standing.stature_m
    assert 1.5 < stature < 1.9
    for first, second, share in (("hip", "knee", 0.245), ("knee", "ankle", 0.246)):
        lengths = _lengths(movement, first, second)
        np.testing.assert_allclose(lengths / stature, share, atol=0.036)
        assert abs(np.log(lengths[0] / lengths[1])) < 0.04
    for side in (".L", ".R"):
        height = float(np.nanquantile(movement.joint("ankle" + side)[:, 2], 0.05))
        # Bare feet 0.039 of stature; the shoes add a few centimetres.
        assert 0.035 < height < 0.12
    neck = float(np.nanmedian(np.linalg.norm(movement.joint("neck") - movement.joint("head"), axis=1)))
    assert 0.09 < neck / stature < 0.145
    assert movement.recording is not None
    assert sum("outer ankle marker sits" in sentence for sentence in movement.recording.misplaced) == 2


def test_the_ankle_marker_on_the_shaft_is_told_at_its_height(analysed: Callable[..., Review]) -> None:
    """The manifest: ankle markers 21 cm above the floor."""
    movement = analysed("dance_c3d/ballroom_a.c3d").movement
    assert movement.recording is not None
    left = next(text for text in movement.recording.misplaced if text.startswith("Left outer ankle"))
    assert float(left.split(" sits ")[1].split(" cm")[0]) == pytest.approx(21.0, abs=2.0)


@pytest.mark.parametrize(
    ("name", "neutral"), [("classical_indian", True), ("high_leg_turning_jump", False), ("many_turns_jump", False)]
)
def test_a_skeleton_is_neutral_where_its_rest_pose_or_a_t_pose_is(
    name: str, neutral: bool, analysed: Callable[..., Review]
) -> None:
    """The manifest: frame 0 of the first is a T-pose; the others start in the dance. Catches a pelvis 50° over that "stands"."""
    movement = analysed(f"dance_bvh/{name}.bvh").movement
    assert movement.standing.neutral == neutral
    assert (movement.standing.why_no_changes is None) == neutral
    if neutral:
        assert abs(np.degrees(movement.angle("pelvis_tilt")[0])) < 10.0
        assert abs(np.degrees(movement.angle("trunk_pitch")[0])) < 10.0


SKELETONS = (
    "classical_indian", "forward_jumps_original_body", "forward_jumps_other_body", "high_leg_turning_jump", "jump_balance",
    "many_turns_jump", "pointe_tendue_still", "side_steps_pirouette", "slow_turn_arms", "social_dance_wrong_rate",
)  # fmt: skip


@pytest.mark.parametrize("name", SKELETONS)
def test_a_skeleton_without_a_unit_is_a_grown_person(name: str, analysed: Callable[..., Review]) -> None:
    """None of the ten files names a unit. Catches a dancer of 2.26 m, and one of 1.44 m, made so by the fall of one turning jump,
    and a measured dancer of another size than the one that is shown."""
    review = analysed(f"dance_bvh/{name}.bvh")
    stature_m = review.movement.standing.stature_m
    assert 1.5 < stature_m < 1.9
    assert lengths_of(review.movement).stature == pytest.approx(stature_m, rel=1e-3)
    if name in ("high_leg_turning_jump", "many_turns_jump"):
        assert review.movement.doubted
        (doubt,) = (sentence for sentence in review.movement.warnings if "is not believed" in sentence)
        assert "--unit" in doubt
    else:
        # A doubt takes heights and loads away: where the fall makes a body that people have, there is none.
        assert not any("is not believed" in sentence for sentence in review.movement.warnings)
