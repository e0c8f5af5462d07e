"""Where the hips face, and turns counted through moments in which they have no heading; truth by rotations put together here."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.body.heading import count_is_known, facing, followed, whole_body_steps
from in_the_round.analysis_core.body.movement import ANGLES, JOINTS
from in_the_round.analysis_core.phrase import understand_phrase
from in_the_round.simulated_dancer import Body, Simulation, demo_phrase, simulate
from scipy.spatial.transform import Rotation

FRAMES = 200
#: ISB axes of an upright segment that faces along x: X forward, Y up, Z to the right.
UPRIGHT = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
#: A dancer who stands upright facing along x, metres; where the body has no such joint it does not matter.
_SIDED = {"hip": (0.08, 0.9), "knee": (0.09, 0.48), "ankle": (0.09, 0.08), "shoulder": (0.17, 1.35)}
PLACES = {"lumbar": (0.0, 0.0, 1.0), "neck": (0.0, 0.0, 1.4), "head": (0.02, 0.0, 1.55)}
PLACES |= {f"{name}{side}": (0.0, y * sign, z) for name, (y, z) in _SIDED.items() for side, sign in ((".L", 1), (".R", -1))}


def _moved(trunk: Rotation, legs: Rotation) -> tuple[np.ndarray, np.ndarray]:
    """Heading (F,) of the pelvis, which goes with the trunk, about a hip at 0.9 m; and its directions."""
    middle = np.array([0.0, 0.0, 0.9])
    joints = {name: np.full((FRAMES, 3), np.nan) for name in JOINTS}
    for name, place in PLACES.items():
        turn = trunk if np.array(place)[2] > 0.95 else legs
        joints[name] = turn.apply(np.array(place) - middle) + middle
    rotations = {"pelvis": trunk.as_matrix() @ UPRIGHT}
    ahead = facing(rotations["pelvis"])
    return followed(ahead, whole_body_steps(joints), np.ones(FRAMES, dtype=bool)), ahead


def _there_and_back(most_deg: float) -> np.ndarray:
    return np.radians(most_deg) * np.sin(np.linspace(0, np.pi, FRAMES)) ** 2


@pytest.mark.parametrize("tip_deg", [100.0, -100.0, 130.0])
def test_a_deep_tip_is_no_turn(tip_deg: float) -> None:
    """Penché or cambré on a still leg, hips past the vertical; catches two phantom turns of ±176° (issue 12.4)."""
    tip = Rotation.from_rotvec(_there_and_back(tip_deg)[:, None] * [0.0, 1.0, 0.0])
    slightly_askew = Rotation.from_euler("x", 8, degrees=True)
    yaw, _ = _moved(slightly_askew * tip, Rotation.identity(FRAMES))
    known = np.isfinite(yaw)
    assert known[[0, -1]].all()
    assert np.degrees(np.ptp(yaw[known])) < 25.0
    assert yaw[-1] - yaw[0] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("tip_deg", [85.0, 100.0])
def test_a_turn_in_penche_is_followed_by_trunk_and_legs(tip_deg: float) -> None:
    """A promenade of one turn to the left with the hips past the vertical all the while; catches a turn that is lost."""
    turn = Rotation.from_euler("z", 2 * np.pi * np.clip(np.linspace(-0.3, 1.3, FRAMES), 0, 1)[:, None])
    tip = Rotation.from_rotvec(
        np.radians(tip_deg) * np.clip(np.minimum(*np.linspace([0, 8], [8, 0], FRAMES).T), 0, 1)[:, None] * [0.0, 1.0, 0.0]
    )
    yaw, ahead = _moved(turn * tip, turn)
    assert np.isnan(ahead).any()
    assert np.degrees(yaw[-1] - yaw[0]) == pytest.approx(360.0, abs=1.0)
    assert np.isfinite(yaw).all()


def test_a_roll_on_the_floor_is_no_turn() -> None:
    """Down, twice over along the body's own axis, and up again: nothing turned about the vertical."""
    lying = Rotation.from_rotvec(
        np.radians(90) * np.clip(np.minimum(*np.linspace([0, 6], [6, 0], FRAMES).T), 0, 1)[:, None] * [0.0, 1.0, 0.0]
    )
    roll = Rotation.from_rotvec(4 * np.pi * np.clip(np.linspace(-0.5, 1.5, FRAMES), 0, 1)[:, None] * [0.0, 0.0, 1.0])
    yaw, _ = _moved(lying * roll, lying * roll)
    known = np.isfinite(yaw)
    assert np.degrees(yaw[-1] - yaw[0]) == pytest.approx(0.0, abs=1.0)
    assert np.degrees(np.ptp(yaw[known])) < 60.0


def test_a_hidden_pelvis_is_followed_by_the_rest_of_the_body() -> None:
    """Two turns in 200 frames, the pelvis unseen for 1.2 of them; catches 360° less."""
    turn = Rotation.from_euler("z", np.linspace(0, 4 * np.pi, FRAMES)[:, None])
    yaw, ahead = _moved(turn, turn)
    middle = np.array([0.0, 0.0, 0.9])
    joints = {name: np.full((FRAMES, 3), np.nan) for name in JOINTS}
    joints |= {name: turn.apply(np.array(place) - middle) for name, place in PLACES.items()}
    ahead[40:160] = np.nan
    steps = whole_body_steps(joints)
    found = followed(ahead, steps, np.isfinite(ahead[:, 0]))
    # Nobody saw where the pelvis itself faced.
    assert np.isnan(found[40:160]).all()
    np.testing.assert_allclose(found[160:], yaw[160:], atol=1e-6)
    assert count_is_known(found, steps).all()


def test_where_nobody_was_seen_the_count_goes_on_at_the_rate_but_is_not_relied_on() -> None:
    angles = np.linspace(0, 4 * np.pi, FRAMES)
    ahead = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(FRAMES)])
    ahead[40:160] = np.nan
    nothing = np.full(FRAMES - 1, np.nan)
    yaw = followed(ahead, nothing, np.isfinite(ahead[:, 0]))
    assert yaw[-1] - yaw[0] == pytest.approx(4 * np.pi)
    assert not count_is_known(yaw, nothing)[41:159].any()
    ahead = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(FRAMES)])
    ahead[40:60] = np.nan
    assert count_is_known(followed(ahead, nothing, np.isfinite(ahead[:, 0])), nothing).all()


@pytest.fixture(scope="module")
def danced() -> Simulation:
    return simulate(demo_phrase(), body=Body(1.62), rate_hz=120.0, seed=3)


def _hidden(danced: Simulation, seconds: float) -> tuple[object, ...]:
    """Turns found when nobody is seen for a while in the middle of the pirouette."""
    turn = danced.phrase.of_kind("turn")[0]
    middle, half = (turn.start + turn.end) // 2, round(60 * seconds)
    angles = danced.movement.angles_rad.copy()
    angles[middle - half : middle + half, ANGLES.index("pelvis_yaw")] = np.nan
    joints = danced.movement.joint_centres_m.copy()
    joints[middle - half : middle + half] = np.nan
    return understand_phrase(replace(danced.movement, angles_rad=angles, joint_centres_m=joints)).of_kind("turn")


def test_a_gap_of_half_a_turn_leaves_the_count_unknown_with_a_reason(danced: Simulation) -> None:
    """Catches a turn that is lost, or that is told as none or one when it cannot be known."""
    (turn,) = _hidden(danced, 0.6)
    assert turn.revolutions is None
    assert turn.turned_deg is None
    assert "cannot be told" in str(turn.not_counted)


def test_a_short_gap_leaves_the_turn_as_it_was(danced: Simulation) -> None:
    (turn,) = _hidden(danced, 0.15)
    assert turn.revolutions == pytest.approx(1.0, abs=0.01)
    assert turn.not_counted is None
