"""Our filter, local parabolas, peaks, groups and hull against the library of the registry (which takes a review long to load)."""

from __future__ import annotations

import numpy as np
import pytest
from in_the_round.analysis_core.body.geometry import hull
from in_the_round.analysis_core.clean.smoothing import design_frequency, low_pass
from in_the_round.analysis_core.phrase.peaks import peaks, summits
from in_the_round.analysis_core.phrase.repetitions import alike
from in_the_round.analysis_core.phrase.signals import derivative
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.signal import butter, filtfilt, find_peaks, savgol_filter
from scipy.spatial import ConvexHull
from scipy.spatial.distance import pdist, squareform

RATE_HZ = 240.0


@pytest.mark.parametrize("frames", [120, 4801])
def test_the_filter_is_two_passes_of_the_library(frames: int) -> None:
    """Catches a wrong gain, a delay, and ends that are bent; between passes by spectrum and by recursion nothing differs."""
    path = np.random.default_rng(frames).normal(size=(frames, 3)).cumsum(axis=0)
    numerator, denominator = butter(2, design_frequency(8.0, RATE_HZ), fs=RATE_HZ)
    theirs = filtfilt(numerator, denominator, path, axis=0, padtype="odd", padlen=frames - 1)
    np.testing.assert_allclose(low_pass(path, 8.0, RATE_HZ), theirs, atol=1e-7)


@pytest.mark.parametrize("order", [0, 1, 2])
@pytest.mark.parametrize("frames", [5, 12, 300])
def test_local_parabolas_are_the_library_s(order: int, frames: int) -> None:
    """Catches a wrong derivative, scale or edge."""
    path = np.random.default_rng(frames).normal(size=(frames, 2, 3)).cumsum(axis=0)
    window = min(13, frames if frames % 2 else frames - 1)
    theirs = savgol_filter(path, window, 2, deriv=order, delta=1 / RATE_HZ, axis=0, mode="interp")
    np.testing.assert_allclose(derivative(path, RATE_HZ, order, 13 / RATE_HZ), theirs, rtol=1e-8, atol=1e-9 * RATE_HZ**order)


@pytest.mark.parametrize("seed", range(40))
def test_peaks_are_the_library_s(seed: int) -> None:
    """Catches a peak missed or invented, a base on the wrong sample, level tops, peaks too near each other."""
    random = np.random.default_rng(seed)
    values = random.normal(size=int(random.integers(3, 400))).cumsum()
    level = np.round(values)
    np.testing.assert_array_equal(summits(level), find_peaks(level)[0])
    for series, distance in ((values, int(random.integers(1, 20))), (level, 1)):
        height, prominence = float(random.normal()), float(random.uniform(0, 4))
        frames, shape = find_peaks(series, height=height, prominence=prominence, distance=distance)
        found = peaks(series, height, prominence, distance)
        np.testing.assert_array_equal(found.frame, frames)
        np.testing.assert_array_equal(found.left_base, shape["left_bases"])
        np.testing.assert_array_equal(found.right_base, shape["right_bases"])


@pytest.mark.parametrize("seed", range(10))
def test_groups_are_the_library_s(seed: int) -> None:
    """Catches groups joined too early or too late."""
    random = np.random.default_rng(seed)
    condensed = pdist(random.normal(size=(int(random.integers(2, 60)), 3)))
    limit = float(np.quantile(condensed, 0.3))
    theirs = fcluster(linkage(condensed, "average"), limit, "distance")
    ours = np.array(alike(squareform(condensed), limit))
    np.testing.assert_array_equal(ours[:, None] == ours[None, :], theirs[:, None] == theirs[None, :])
    assert list(dict.fromkeys(ours.tolist())) == list(range(1, ours.max() + 1)), "numbered in order of appearance"


@pytest.mark.parametrize("seed", range(10))
def test_the_hull_is_the_library_s(seed: int) -> None:
    """Catches a corner lost or invented, the wrong way round, and points on one line taken for an area."""
    random = np.random.default_rng(seed)
    points = random.normal(size=(int(random.integers(3, 40)), 2))
    theirs = points[ConvexHull(points).vertices]
    ours = hull(points)
    start = int(np.flatnonzero((ours == theirs[0]).all(axis=1))[0])
    np.testing.assert_array_equal(np.roll(ours, -start, axis=0), theirs)
    assert hull(points[:1] + np.arange(5.0)[:, None]).size == 0
