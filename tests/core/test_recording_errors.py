"""Each source of a recording's error alone, against what its definition gives in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import SEGMENTS
from in_the_round.analysis_core.body.recording_errors import (
    Centres,
    Draws,
    Landmarks,
    Samples,
    Skin,
    bends,
    lasting_a_while,
    speeds,
)
from in_the_round.analysis_core.take import Floats

#: So many that a share in common is known to 0.006 (1 SD; the mirror images tell nothing new).
MANY = 20000
SIDED = ("malleolus.L", "malleolus.R", "sacrum")


def rms(values: Floats) -> Floats:
    """Over the recordings, without the first, which is the recording itself."""
    return np.asarray(np.sqrt(np.mean(values[1:] ** 2, axis=0)))


def test_draws_have_the_spread_that_is_asked_for_exactly_and_come_with_their_mirror_images() -> None:
    """Catches a spread that hangs on the seed, and errors of a mirrored dance that are not the mirrored errors."""
    drawn = Draws(32, seed=3).of(SIDED)
    assert not drawn[0].any()
    assert rms(drawn) == pytest.approx(np.ones((1, 3, 3)), abs=1e-12)
    first, twin = drawn[1:17, 0], drawn[17:, 0]
    assert np.array_equal(twin[:, 0], first[:, 1] * [1.0, 1.0, -1.0])
    assert np.array_equal(twin[:, 2], first[:, 2] * [1.0, 1.0, -1.0])


def test_landmarks_lie_beside_by_their_own_spread() -> None:
    beside = Landmarks(SIDED, np.array([0.004, 0.006, 0.0])).drawn(Draws(32, seed=1))
    assert rms(beside) == pytest.approx(np.repeat([[0.004], [0.006], [0.0]], 3, axis=1), abs=1e-12)


def test_joint_centres_lie_elsewhere_by_their_own_spread() -> None:
    elsewhere = Centres(("hip.L", "hip.R"), np.array([0.010, 0.010])).drawn(Draws(32, seed=1))
    assert not elsewhere[0].any()
    assert rms(elsewhere) == pytest.approx(np.full((2, 3), 0.010), abs=1e-12)


@pytest.mark.parametrize(("bend", "shake"), [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (0.6, 0.8)])
def test_skin_slides_with_bend_and_half_as_far_with_shaking(bend: float, shake: float) -> None:
    """sd·√(bend² + (shake/2)²) in each direction. Catches a bend that is added to a shake, and skin that slides at rest."""
    thigh = SEGMENTS.index("thigh.L")
    skin = Skin(("a", "b"), np.array([thigh, thigh]), np.full(2, 0.01), np.full((1, 2), bend), np.full((1, 2), shake))
    slid = skin.drawn(Draws(MANY, seed=2))
    expected = 0.01 * np.hypot(bend, 0.5 * shake)
    assert rms(slid) == pytest.approx(np.full((1, 2, 3), expected), rel=0.06, abs=1e-15)
    if expected:
        together = np.mean(slid[1:, 0, 0] * slid[1:, 0, 1]) / expected**2
        # Half of it, by its square, is the segment's: two of its markers have that in common.
        assert together == pytest.approx(0.5, abs=0.03)


def test_samples_have_noise_of_their_own_and_errors_that_last_a_while() -> None:
    """Noise: nothing in common a frame later. What lasts: exp(-t / 0.4 s) in common after t, and always its whole spread."""
    time_s = np.array([0.0, 0.1, 0.5])
    zero, one = np.zeros((3, 1)), np.ones((3, 1))
    noise = Samples(("a",), time_s, 0.002 * one, zero).drawn(Draws(MANY, seed=4))
    assert rms(noise) == pytest.approx(np.full((3, 1, 3), 0.002), abs=1e-12)
    assert np.mean(noise[1:, 0] * noise[1:, 1]) == pytest.approx(0.0, abs=0.03 * 0.002**2)
    lasting = Samples(("a",), time_s, zero, 0.003 * one).drawn(Draws(MANY, seed=4))
    assert rms(lasting) == pytest.approx(np.full((3, 1, 3), 0.003), rel=0.05)
    for first, second in ((0, 1), (1, 2), (0, 2)):
        together = np.mean(lasting[1:, first] * lasting[1:, second]) / 0.003**2
        assert together == pytest.approx(np.exp(-(time_s[second] - time_s[first]) / 0.4), abs=0.04)


def test_frames_at_the_same_time_err_alike() -> None:
    drawn = Draws(8, seed=1).of(("a",), 2)
    assert np.array_equal(*np.moveaxis(lasting_a_while(drawn, np.array([1.0, 1.0])), 1, 0))


def test_a_knee_bent_by_120_degrees_drags_thigh_and_shank_by_tanh_1_and_leaves_the_rest() -> None:
    standing = np.broadcast_to(np.eye(3), (len(SEGMENTS), 3, 3)).copy()
    bent = standing[None].copy()
    c, s = np.cos(np.radians(120.0)), np.sin(np.radians(120.0))
    about_z = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    for name in ("shank.L", "foot.L"):
        bent[0, SEGMENTS.index(name)] = about_z
    told = bends(bent, standing)
    assert [float(told[name][0]) for name in ("thigh.L", "shank.L")] == pytest.approx([np.tanh(1.0)] * 2)
    assert [float(told[name][0]) for name in ("foot.L", "thigh.R", "pelvis", "head")] == pytest.approx([0.0] * 4, abs=1e-7)


def test_speed_is_the_way_by_the_time_at_the_ends_of_a_take_too() -> None:
    path = np.zeros((5, 1, 3))
    path[:, 0, 0] = 0.02 * np.arange(5)
    assert speeds(path, np.array([0, 2, 4]), 100.0)[:, 0] == pytest.approx([2.0, 2.0, 2.0])
