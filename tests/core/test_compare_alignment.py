"""Elastic alignment and the statistics of comparison, against published values and a library of the registry."""

from __future__ import annotations

import dtw
import numpy as np
import pytest
from in_the_round.analysis_core.compare.elastic import align_elastic
from in_the_round.analysis_core.compare.statistics import field_threshold, looks, multiple_correlation, rmsd, smoothness
from in_the_round.analysis_core.compare.usual import Band
from in_the_round.analysis_core.phrase.properties import phase_from
from scipy import stats

ONE, TWO = np.array([1.0, 2.0, 3.0, 4.0])[:, None], np.array([2.0, 3.0, 4.0, 5.0])[:, None]


def test_the_worked_example_of_the_catalogue() -> None:
    """Row 26 of the catalogue's check values, from the documentation of an open library. Would catch a wrong step or band."""
    expected = [[1, 3, 6, np.inf], [1, 2, 4, 7], [2, 1, 2, 4], [np.inf, 2, 1, 2]]
    for i in range(4):
        for j in range(4):
            if abs(i - j) <= 2:
                assert align_elastic(ONE[: i + 1], TWO[: j + 1], 2, both=1.0).distance == pytest.approx(expected[i][j])
    whole = align_elastic(ONE, TWO, 2, both=1.0)
    assert whole.path.tolist() == [[0, 0], [1, 0], [2, 1], [3, 2], [3, 3]]


def test_a_band_of_nothing_is_the_diagonal() -> None:
    """Row 27."""
    assert align_elastic(ONE, TWO, 0, both=1.0).distance == pytest.approx(4.0)


@pytest.mark.parametrize(("pattern", "both"), [("symmetric1", 1.0), ("symmetric2", 2.0)])
def test_the_same_as_the_library(pattern: str, both: float) -> None:
    """Against dtw-python (Giorgino 2009), many dimensions, with a band: distance and path."""
    random = np.random.default_rng(3)
    a = np.cumsum(random.normal(size=(160, 4)), axis=0)
    places = np.clip(np.arange(160) + 7 * np.sin(np.arange(160) / 25), 0, 159).astype(int)
    b = a[places] + 0.1 * random.normal(size=a.shape)
    theirs = dtw.dtw(a, b, step_pattern=pattern, window_type="sakoechiba", window_args={"window_size": 20})
    ours = align_elastic(a, b, 20, both=both)
    assert ours.distance == pytest.approx(theirs.distance)
    assert np.array_equal(ours.path, np.stack([theirs.index1, theirs.index2], axis=1))


def test_what_answers_to_nothing_is_left_out() -> None:
    """Thirty samples of another kind are put into B: they are left out whole, and nothing else is."""
    random = np.random.default_rng(5)
    a = np.cumsum(random.normal(size=(120, 3)), axis=0)
    b = np.concatenate([a[:70], 200 + random.normal(size=(30, 3)), a[70:]])
    path = align_elastic(a, b, 60, leave_out=1.0, leave_out_once=3.0).path
    assert path[:70].tolist() == [[i, i] for i in range(70)]
    assert path[70:].tolist() == [[i, i + 30] for i in range(70, 120)]


@pytest.mark.parametrize(
    ("freedom", "fwhm", "one_sided", "two_sided"),
    [
        (8, 10, 4.114592, 4.739916),
        (8, 15, 3.785605, 4.389791),
        (9, 20, 3.418600, 3.952697),
        (19, 25, 2.817448, 3.178400),
    ],
)
def test_thresholds_of_whole_curves(freedom: int, fwhm: float, one_sided: float, two_sided: float) -> None:
    """Row 28: the open random field theory library, 101 nodes."""
    assert field_threshold(freedom, 101, fwhm, 0.05) == pytest.approx(one_sided, abs=2e-6)
    assert field_threshold(freedom, 101, fwhm, 0.025) == pytest.approx(two_sided, abs=2e-6)


def test_likeness_of_curves() -> None:
    """Row 29: a sine and the same a tenth higher."""
    sine = np.sin(np.linspace(0, np.pi, 101))
    assert multiple_correlation(np.stack([sine, sine + 0.1])) == pytest.approx(0.97489, abs=5e-6)
    assert rmsd(sine, sine + 0.1) == pytest.approx(0.1)


def test_smoothness_is_found_again() -> None:
    """Noise smoothed by a kernel of known width (Kiebel 1999); would catch a wrong factor between slopes and width."""
    from scipy.ndimage import gaussian_filter1d

    width = 12.0
    noise = gaussian_filter1d(np.random.default_rng(1).normal(size=(60, 400)), width / np.sqrt(8 * np.log(2)), axis=1)
    assert smoothness(noise) == pytest.approx(width, rel=0.1)


def test_many_looks_ask_for_more() -> None:
    """1.96 for one look; for many by simulation: the largest of 200 normal numbers exceeds it once in twenty."""
    assert looks(1) == pytest.approx(1.959964, abs=1e-6)
    largest = np.abs(np.random.default_rng(2).normal(size=(20_000, 200))).max(axis=1)
    assert (largest > looks(200)).mean() == pytest.approx(0.05, abs=0.006)


def test_repetitions_make_a_band_and_a_test() -> None:
    """Six times a step in A and six times, half a unit higher, in B: mean, SD and t at a place as scipy has them."""
    random = np.random.default_rng(0)
    steps = tuple(
        phase_from(
            "step", id=f"step-{i}", side=None, start=100 * i, end=100 * i + 99, start_s=float(i), end_s=i + 0.99, properties={}
        )
        for i in range(6)
    )
    course = np.sin(np.linspace(0.0, 3.0, 100))
    a, b = (np.concatenate([course + up + 0.05 * random.normal() for _ in steps])[:, None] for up in (0.0, 0.5))
    band, other = (Band(steps, curves, 100.0) for curves in (a, b))
    told = band.usual(0, steps[2], 2.495, float(b[250, 0]), other)
    assert told is not None
    there = [(curves[49::100, 0] + curves[50::100, 0]) / 2 for curves in (a, b)]
    assert told.repetitions == 6
    assert told.mean == pytest.approx(there[0].mean(), abs=0.005)
    assert told.sd == pytest.approx(there[0].std(ddof=1), rel=0.01)
    assert told.t == pytest.approx(stats.ttest_ind(there[1], there[0]).statistic, rel=0.01)
    assert told.t_least is not None
    assert told.t > told.t_least > stats.t.ppf(0.975, 10)
    assert Band(steps[:2], a[:200], 100.0).usual(0, steps[0], 0.5, 1.0, other) is None
