"""Running windows against the filters of scipy."""

from __future__ import annotations

import numpy as np
import pytest
from in_the_round.analysis_core.smoothed import bell, least_around, mean, most
from scipy import ndimage


@pytest.mark.parametrize("shape", [(40,), (40, 3), (7, 2), (1,)])
def test_windows_are_those_of_scipy(shape: tuple[int, ...]) -> None:
    """Odd and even widths, wider than the series too, in one and more columns. Would catch a window that leans to one side."""
    values = np.random.default_rng(len(shape)).normal(size=shape)
    for width in (0.7, 3.0, 12.5):
        wanted = ndimage.gaussian_filter1d(values, width, axis=0, mode="nearest")
        assert bell(values, width) == pytest.approx(wanted, abs=1e-12)
    for size in (1, 2, 5, 8):
        assert mean(values, size) == pytest.approx(ndimage.uniform_filter1d(values, size, axis=0, mode="nearest"), abs=1e-12)
    for half in (1, 4):
        assert (most(values, half) == ndimage.maximum_filter1d(values, 2 * half + 1, axis=0, mode="nearest")).all()


def test_the_least_around_is_that_of_scipy() -> None:
    """Infinity, where nothing is offered, stays out of it."""
    values = np.random.default_rng(1).normal(size=(12, 30))
    values[values > 1.0] = np.inf
    assert (least_around(values, 2) == ndimage.minimum_filter(values, (5, 5), mode="constant", cval=np.inf)).all()
