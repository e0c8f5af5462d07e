"""Elbows whose markers sit beside the joint, told by how the arm bends: by two links in closed form, and on real arms by what the
fit does not know, that left and right of one person are alike."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core import Settings
from in_the_round.analysis_core.body.anatomy import SHOULDER_BELOW_ACROMION
from in_the_round.analysis_core.body.fit_arms import elbows_seen
from in_the_round.analysis_core.body.landmarks import load_landmarks
from in_the_round.analysis_core.body.solve import solve
from in_the_round.analysis_core.capture import capture

DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "dance_c3d"
STATURE_M, UPPER_M, LOWER_M = 1.7, 0.28, 0.25


def arms(above_m: float, most_bend_deg: float, noise_m: float = 0.0) -> dict[str, np.ndarray]:
    """Landmarks of a trunk that stands still and two arms that swing and bend; the marker on the link it is moved along."""
    time = np.linspace(0.0, 20.0, 600)
    swing = 0.8 * np.sin(1.1 * time)
    bend = np.radians(most_bend_deg) * 0.5 * (1 - np.cos(0.7 * time))
    upper = np.stack([np.sin(swing), np.zeros_like(time), -np.cos(swing)], axis=1)
    lower = np.stack([np.sin(swing + bend), np.zeros_like(time), -np.cos(swing + bend)], axis=1)
    random = np.random.default_rng(3)
    places = {}
    for side, y in ((".L", 0.2), (".R", -0.2)):
        shoulder = np.array([0.0, y, 1.40])
        joint = shoulder + UPPER_M * upper
        wrist = joint + LOWER_M * lower
        marker = joint - above_m * (upper if above_m > 0 else lower)
        places |= {
            "acromion" + side: np.broadcast_to(shoulder + np.array([0.0, 0.0, SHOULDER_BELOW_ACROMION * STATURE_M]), joint.shape),
            "anterior_superior_iliac_spine" + side: np.broadcast_to([0.0, y / 2, 1.0], joint.shape),
            "lateral_elbow_epicondyle" + side: marker,
            "radial_styloid" + side: wrist,
            "ulnar_styloid" + side: wrist,
        }
    return {name: place + random.normal(0.0, noise_m, place.shape) for name, place in places.items()}


@pytest.mark.parametrize("above_m", [-0.05, -0.03, 0.0, 0.03, 0.06])
def test_a_marker_on_a_link_is_told_to_the_millimetre(above_m: float) -> None:
    """Catches a sign, and a place told for the wrong link."""
    for seen in elbows_seen(arms(above_m, 120.0), STATURE_M).values():
        assert seen.above_m == pytest.approx(above_m, abs=1e-3)
        assert seen.sd_m < 1e-3
    noisy = elbows_seen(arms(above_m, 120.0, noise_m=0.004), STATURE_M)
    assert len(noisy) == 2
    assert all(abs(seen.above_m - above_m) < max(0.004, 4 * seen.sd_m) for seen in noisy.values())


def test_an_arm_that_hardly_bends_tells_nothing() -> None:
    assert elbows_seen(arms(0.05, 40.0), STATURE_M) == {}
    without = {name: place for name, place in arms(0.05, 120.0).items() if not name.startswith("acromion")}
    assert elbows_seen(without, STATURE_M) == {}


@pytest.mark.skipif(not DATA.is_dir(), reason="the open recordings (../shared/data) are not here")
def test_a_real_elbow_is_named_and_left_and_right_become_alike() -> None:
    """As the labels have it the right upper arm of ballroom b is 17 % shorter than the left, and the forearm 11 % longer."""
    table = load_landmarks(None)
    movement = solve(capture(DATA / "ballroom_b.c3d", Settings(), table).cleaned, None, table=table)
    (said,) = [reason for reason in movement.recording.misplaced if "elbow" in reason]
    assert said.startswith("Right outer elbow marker sits 4 cm above the elbow joint.")
    for upper, lower in (("shoulder", "elbow"), ("elbow", "wrist")):
        left, right = (
            np.nanmedian(np.linalg.norm(movement.joint(upper + side) - movement.joint(lower + side), axis=1))
            for side in (".L", ".R")
        )
        assert abs(np.log(left / right)) < 0.05
