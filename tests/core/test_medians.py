"""The one median of what is known, against numpy's own."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from in_the_round.analysis_core.medians import median_of_known


@pytest.mark.parametrize("axis", [0, 1, 2, -1])
@pytest.mark.parametrize("missing", [0.0, 0.3, 0.9])
def test_it_is_the_median_of_what_is_known(axis: int, missing: float) -> None:
    """Against ``numpy.nanmedian``. Catches a middle that is one place off where samples are missing, and a wrong axis."""
    random = np.random.default_rng(3)
    values = random.normal(size=(5, 8, 7))
    values[random.random(values.shape) < missing] = np.nan
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        expected = np.nanmedian(values, axis=axis)
    assert np.array_equal(median_of_known(values, axis), expected, equal_nan=True)


def test_too_few_are_no_median_and_nothing_is_said_of_it() -> None:
    """Warnings are errors in tests. Catches NaN told with a warning, and one companion that is taken for evidence."""
    few = np.array([[np.nan, np.nan, np.nan], [1.0, np.nan, np.nan], [1.0, 4.0, np.nan]])
    assert np.array_equal(median_of_known(few, 1), [np.nan, 1.0, 2.5], equal_nan=True)
    assert np.array_equal(median_of_known(few, 1, least=2), [np.nan, np.nan, 2.5], equal_nan=True)
    assert np.isnan(median_of_known(np.empty(0)))
    assert np.isnan(median_of_known(np.empty((4, 0)), 1)).all()
    assert np.array_equal(median_of_known(np.ones((3, 1)), 1, least=2), np.full(3, np.nan), equal_nan=True)
    assert median_of_known(np.empty((0, 3)), 1).shape == (0,)
