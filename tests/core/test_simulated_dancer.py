"""The simulated dancer obeys the laws it is used to test others by: planted feet, free fall, equal halves, clean lines."""

from __future__ import annotations

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import JOINTS
from in_the_round.simulated_dancer import CLEAN, Simulation, demo_phrase, simulate


@pytest.fixture(scope="module")
def demo() -> Simulation:
    return simulate(demo_phrase(), rate_hz=120.0, seed=1)


def _speed(points: np.ndarray, rate_hz: float) -> np.ndarray:
    return np.linalg.norm(np.gradient(points, 1.0 / rate_hz, axis=0), axis=-1)


def test_bones_keep_their_length(demo: Simulation) -> None:
    movement = demo.movement
    for suffix in (".L", ".R"):
        for a, b, length in (("hip", "knee", demo.body.thigh_m), ("knee", "ankle", demo.body.shank_m)):
            measured = np.linalg.norm(movement.joint(a + suffix) - movement.joint(b + suffix), axis=1)
            np.testing.assert_allclose(measured, length, atol=1e-9)


def test_feet_never_slide_while_heel_and_ball_are_down(demo: Simulation) -> None:
    movement = demo.movement
    for side in range(2):
        balls = movement.foot_points_m[:, side, 1:3]
        flat = (np.abs(movement.foot_heights_m[:, side]) < 1e-9).all(axis=1)
        moved = np.linalg.norm(np.diff(balls, axis=0), axis=-1).max(axis=1)
        assert moved[flat[1:] & flat[:-1]].max() < 1e-9
        assert movement.foot_points_m[:, side, :, 2].min() > 0.004


def test_every_flight_is_free_fall(demo: Simulation) -> None:
    movement = demo.movement
    jumps = demo.phrase.of_kind("jump")
    assert len(jumps) == 3
    for jump in jumps:
        inside = (movement.time_s > jump.start_s + 0.005) & (movement.time_s < jump.end_s - 0.005)
        # A parabola through the exact centre of mass gives g (9.81 as in the catalogue's worked values).
        fit = np.polyfit(movement.time_s[inside] - jump.start_s, movement.centre_of_mass_m[inside, 2], 2)
        assert -2.0 * fit[0] == pytest.approx(9.81, rel=1e-4)
        assert (movement.foot_points_m[inside][..., 2].min(axis=(1, 2)) > 0.0).all()


def test_nothing_teleports(demo: Simulation) -> None:
    # Ceilings from memory for trained dancers: hands and toes of a single turn and small jumps stay below 6 m/s.
    movement = demo.movement
    for name in JOINTS:
        assert _speed(movement.joint(name), 120.0).max() < 6.0, name
    push = np.gradient(np.gradient(movement.centre_of_mass_m[:, 2], 1 / 120.0), 1 / 120.0) / 9.81
    # No more than about 2.7 body weights on the floor in sautés, and the floor never pulls.
    assert push.max() < 2.0
    assert push.min() > -1.02


def test_the_turn_is_what_was_asked(demo: Simulation) -> None:
    (turn,) = demo.phrase.of_kind("turn")
    assert (turn.side, turn.direction, turn.support) == ("right", "en dehors", "left")
    yaw = np.degrees(demo.movement.angle("pelvis_yaw"))
    assert yaw[turn.end] - yaw[turn.start] == pytest.approx(-360.0, abs=0.1)


def test_mirror_twin_has_equal_numbers() -> None:
    plain = simulate(demo_phrase()[:5], rate_hz=60.0, noise=CLEAN)
    twin = simulate(demo_phrase()[:5], rate_hz=60.0, noise=CLEAN, mirror=True, facing_rad=1.1, place_m=(2.0, -1.0))
    for name in ("hip_flexion", "hip_abduction", "knee_flexion", "foot_turnout", "ankle_dorsiflexion", "foot_deviation"):
        np.testing.assert_allclose(plain.movement.angle(name + ".R"), twin.movement.angle(name + ".L"), atol=1e-9)
    assert [p.side for p in twin.phrase.phases if p.kind == "balance"] == ["right"]


def test_same_arguments_give_the_same_take() -> None:
    # To a nanometre: threads of the linear algebra library may add in another order.
    first, second = (simulate(demo_phrase()[:3], rate_hz=60.0, seed=5).take for _ in range(2))
    np.testing.assert_allclose(first.positions_m, second.positions_m, atol=1e-9)
    assert first.positions_m.shape[1] == 53
