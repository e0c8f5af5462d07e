"""When the body's own fall begins and ends, against a path written down by formulas; toes that trail close over the floor."""

from __future__ import annotations

import numpy as np
import pytest
from in_the_round.analysis_core.phrase.falling import free_falls, timed_by_falls

G = 9.81
RATE_HZ = 120.0
TAKE_OFF_S, LANDING_S = 1.003, 1.271


def _path(noise_m: float = 0.0, seed: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Time and height of a centre of mass that flies between two known moments; the push fades, and the catch grows, evenly.

    By formulas: before the take-off and after the landing the parabola plus J/6 times the cube of the time to them.
    """
    time = np.arange(0.0, 2.2, 1 / RATE_HZ)
    middle = 0.5 * (TAKE_OFF_S + LANDING_S)
    height = 0.75 - 0.5 * G * (time - middle) ** 2
    beside = np.maximum(TAKE_OFF_S - time, 0.0) + np.maximum(time - LANDING_S, 0.0)
    height = height + 330.0 / 6.0 * beside**3
    # Further away it stands.
    standing = 0.75 - 0.5 * G * (0.15 + 0.5 * (LANDING_S - TAKE_OFF_S)) ** 2 + 330.0 / 6.0 * 0.15**3
    height = np.where(beside > 0.15, standing, height)
    return time, height + np.random.default_rng(seed).normal(scale=noise_m, size=time.size)


@pytest.mark.parametrize("noise_m", [0.0, 0.0003])
def test_ends_of_a_fall(noise_m: float) -> None:
    """Within 10 ms of the two moments; would be 35 ms late by the height of toes that skim the floor."""
    time, height = _path(noise_m)
    off = (time > 1.1) & (time < 1.2)
    ((begins, ends),) = free_falls(height, off, RATE_HZ)
    assert begins / RATE_HZ == pytest.approx(TAKE_OFF_S, abs=0.010)
    assert ends / RATE_HZ == pytest.approx(LANDING_S, abs=0.010)


def test_feet_that_trail_do_not_stand() -> None:
    """Of four stances: two reach into the flight, one lies in it, one is long before it; what is left is outside the flight."""
    _, height = _path()
    skims = (1.12 * RATE_HZ, 1.16 * RATE_HZ)
    before, left = (0.0, 0.5 * RATE_HZ), (0.6 * RATE_HZ, 1.09 * RATE_HZ)
    right = [(0.0, 1.06 * RATE_HZ), (1.2 * RATE_HZ, 2.0 * RATE_HZ)]
    cut = timed_by_falls(([before, left, skims, (1.22 * RATE_HZ, 2.0 * RATE_HZ)], right), height, RATE_HZ)
    for stances, count in zip(cut, (3, 2), strict=True):
        assert len(stances) == count
        assert stances[-2][1] / RATE_HZ == pytest.approx(TAKE_OFF_S, abs=0.01)
        assert stances[-1][0] / RATE_HZ == pytest.approx(LANDING_S, abs=0.01)
    assert cut[0][0] == before


def test_the_first_foot_ends_the_fall() -> None:
    """A soft contact that heights tell 20 ms late: the fall times the first foot, and the second follows as before."""
    _, height = _path()
    stances = [(0.0, 1.0 * RATE_HZ), ((LANDING_S + 0.02) * RATE_HZ, 2.0 * RATE_HZ)]
    other = [(0.0, 1.0 * RATE_HZ), ((LANDING_S + 0.025) * RATE_HZ, 2.0 * RATE_HZ)]
    later = [(0.0, 1.0 * RATE_HZ), ((LANDING_S + 0.09) * RATE_HZ, 2.0 * RATE_HZ)]
    left, right = timed_by_falls((stances, other), height, RATE_HZ)
    assert left[1][0] / RATE_HZ == pytest.approx(LANDING_S, abs=0.01)
    assert (right[1][0] - left[1][0]) / RATE_HZ == pytest.approx(0.005, abs=1e-6)
    # A foot that comes much later has its own time.
    left, right = timed_by_falls((stances, later), height, RATE_HZ)
    assert right[1][0] / RATE_HZ == pytest.approx(LANDING_S + 0.09, abs=1e-6)


def test_no_fall_without_free_fall() -> None:
    """A deep fast plié (down at 0.7 g at most), a path that is too rough, and a fall in which a foot was down all the time."""
    time, height = _path()
    plie = 0.9 - 0.12 * (1 - np.cos(2 * np.pi * (time - 0.8) / 0.8)) * ((time > 0.8) & (time < 1.6))
    nowhere, everywhere = np.zeros(time.size, dtype=bool), np.ones(time.size, dtype=bool)
    assert np.gradient(np.gradient(plie, time), time).min() < -6.0
    assert free_falls(plie, everywhere, RATE_HZ) == []
    assert free_falls(height, nowhere, RATE_HZ) == []
    assert free_falls(_path(0.01)[1], everywhere, RATE_HZ) == []
    missing = height.copy()
    missing[130] = np.nan
    assert free_falls(missing, everywhere, RATE_HZ) == []
