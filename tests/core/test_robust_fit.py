"""The robust fit of some tens of unknowns, against scipy's and against numbers that are known."""

from __future__ import annotations

import numpy as np
import pytest
from in_the_round.analysis_core.body.robust_fit import fit_robustly
from scipy.optimize import least_squares

_TIMES_S = np.linspace(0.0, 3.0, 40)


def _swinging(unknown: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A swing that dies away (height, decay, pulse, phase), every fifth sample far off, and what was expected of the four."""
    height, decay, pulse, phase = unknown
    noise = 0.02 * np.random.default_rng(5).normal(size=_TIMES_S.size)
    noise[::5] += 1.5
    measured = 1.2 * np.exp(-0.7 * _TIMES_S) * np.cos(5.0 * _TIMES_S + 0.3) + noise
    envelope = np.exp(-decay * _TIMES_S)
    cosine, sine = np.cos(pulse * _TIMES_S + phase), np.sin(pulse * _TIMES_S + phase)
    swing = height * envelope * cosine
    by_unknown = np.stack(
        [envelope * cosine, -_TIMES_S * swing, -_TIMES_S * height * envelope * sine, -height * envelope * sine], axis=1
    )
    residuals = np.concatenate([(swing - measured) / 0.02, (unknown - [1.0, 1.0, 5.0, 0.0]) / 0.5])
    return residuals, np.concatenate([by_unknown / 0.02, np.eye(4) / 0.5])


@pytest.mark.parametrize("start", [(1.0, 1.0, 5.0, 0.0), (0.3, 0.1, 5.5, 0.9)])
def test_it_is_the_fit_that_scipy_finds(start: tuple[float, ...]) -> None:
    """Would catch a wrong derivative of the robust cost, a step that makes it worse, and stopping too early.

    Source: scipy.optimize.least_squares with loss="soft_l1", to its end.
    """
    found = fit_robustly(_swinging, np.array(start))
    theirs = least_squares(
        lambda unknown: _swinging(unknown)[0], start, jac=lambda unknown: _swinging(unknown)[1], loss="soft_l1",
        xtol=1e-12, ftol=1e-12, gtol=1e-12,
    )  # fmt: skip
    spread = np.sqrt(np.diag(np.linalg.inv(theirs.jac.T @ theirs.jac)))
    assert np.abs(found.unknown - theirs.x).max() < 0.1 * spread.min()
    assert np.allclose(found.curvature, theirs.jac.T @ theirs.jac, rtol=0.02, atol=0.02 * np.abs(theirs.jac.T @ theirs.jac).max())


def test_samples_far_off_hardly_pull() -> None:
    """Would catch a fit that squares what is far off: height, decay, pulse and phase are those of the formula."""
    found = fit_robustly(_swinging, np.array([1.0, 1.0, 5.0, 0.0])).unknown
    assert found == pytest.approx([1.2, 0.7, 5.0, 0.3], abs=0.05)
    squared = least_squares(lambda unknown: _swinging(unknown)[0], [1.0, 1.0, 5.0, 0.0]).x
    assert np.abs(squared - [1.2, 0.7, 5.0, 0.3]).max() > 0.1
