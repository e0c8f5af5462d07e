"""Angles of the hip where a leg is lifted to the side: no spikes, the same rotation, less trust (catalogue 1.2, 2.4, M09)."""

from __future__ import annotations

import numpy as np
import pytest
from in_the_round.analysis_core.body.angles import angle_trust
from in_the_round.analysis_core.body.geometry import cardan_zxy, without_jumps
from in_the_round.analysis_core.body.movement import ANGLES
from in_the_round.simulated_dancer.leg_gesture import LegGesture
from in_the_round.simulated_dancer.steps import CloseTo, Stand
from in_the_round.simulated_dancer.trials import Recorded, record, review_of
from scipy.spatial.transform import Rotation


def _lifted(highest_deg: float, flexion_deg: float, turnout_deg: float, noise_deg: float) -> tuple[Rotation, np.ndarray]:
    """A leg lifted to the side and lowered in two seconds at 240 Hz: rotations of the thigh in the pelvis, and its abduction."""
    raised = np.radians(highest_deg) * np.sin(np.linspace(0, np.pi, 480)) ** 2
    angles = np.stack([np.full(480, np.radians(flexion_deg)), -raised, np.full(480, -np.radians(turnout_deg))], axis=1)
    shaken = Rotation.from_rotvec(np.random.default_rng(2).normal(scale=np.radians(noise_deg), size=(480, 3)))
    return Rotation.from_euler("ZXY", angles) * shaken, raised


@pytest.mark.parametrize("highest", [60.0, 85.0, 95.0, 120.0])
@pytest.mark.parametrize("flexion", [0.0, 12.0])
def test_a_leg_lifted_to_the_side_has_no_spike(highest: float, flexion: float) -> None:
    rotation, raised = _lifted(highest, flexion, 0.0, 0.0)
    plain = cardan_zxy(rotation.as_matrix())
    smooth = without_jumps(plain)
    assert np.degrees(np.abs(np.diff(smooth, axis=0)).max()) < 2.0
    np.testing.assert_allclose(-smooth[:, 1], raised, atol=1e-9)
    # The other triple is the same rotation.
    again = Rotation.from_euler("ZXY", smooth)
    assert (again * rotation.inv()).magnitude().max() < 1e-9
    if highest > 90:
        assert np.degrees(np.abs(np.diff(np.unwrap(plain[:, 0]))).max()) > 90.0


def test_a_turned_out_leg_reads_as_the_catalogue_says() -> None:
    """Catalogue section 11, row 20: 45° / 45° lift with 50° of twist reads −30.53°, 60° / 60° reads −13.13° (swing and twist)."""
    for lift, expected in ((45.0, -30.53), (60.0, -13.13)):
        # Shortest arc from hanging (−y) to the direction, after a twist of 50° outward about the leg.
        direction = Rotation.from_euler("ZX", [np.radians(lift), -np.radians(lift)]).apply([0.0, -1.0, 0.0])
        axis = np.cross([0.0, -1.0, 0.0], direction)
        angle = np.arccos(np.clip(-direction[1], -1, 1))
        swing = Rotation.from_rotvec(angle * axis / np.linalg.norm(axis))
        turned = swing * Rotation.from_euler("Y", np.radians(-50.0))
        assert np.degrees(cardan_zxy(turned.as_matrix()[None])[0, 2]) == pytest.approx(expected, abs=0.01)


def test_noise_near_the_singularity_never_stays_behind() -> None:
    """Half a degree of noise while the leg is held at the horizontal: whatever happens there, the way down is told plainly."""
    rotation, raised = _lifted(90.0, 5.0, 20.0, 0.5)
    plain = cardan_zxy(rotation.as_matrix())
    smooth = without_jumps(plain)
    calm = raised < np.radians(44.0)
    np.testing.assert_allclose(smooth[calm], plain[calm], atol=1e-12)


def test_missing_samples_stay_missing() -> None:
    rotation, _ = _lifted(120.0, 5.0, 0.0, 0.0)
    plain = cardan_zxy(rotation.as_matrix())
    plain[100:120] = np.nan
    smooth = without_jumps(plain)
    assert np.isnan(smooth[100:120]).all()
    assert np.isfinite(np.delete(smooth, slice(100, 120), axis=0)).all()


@pytest.mark.parametrize("elevation", [60.0, 90.0, 115.0])
def test_a_danced_leg_to_the_side_has_no_spike_and_less_trust(elevation: float) -> None:
    """The whole way, from markers with noise: no angle of the leg moves faster than a leg can (a kick: 1500° a second)."""
    phrase = (Stand(2), CloseTo("fifth", "right", "right", 2), LegGesture("right", "side", elevation), Stand(2))
    review = review_of(record(Recorded(rate_hz=240.0), (), phrase))
    movement = review.movement
    for name in ("hip_flexion", "hip_abduction", "leg_elevation", "leg_azimuth", "foot_turnout"):
        steps = np.abs(np.diff(np.degrees(movement.angle(name + ".R"))))
        assert np.nanmax(steps) < 1500 / 240, name
    trust = angle_trust(movement.angles_rad)[:, ANGLES.index("hip_flexion.R")]
    highest = np.degrees(np.nanmax(movement.angle("hip_abduction.R")))
    assert np.nanmin(trust) == pytest.approx(min(1.0, np.cos(np.radians(highest)) / 0.5), abs=0.02)
