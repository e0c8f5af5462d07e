"""What chance alone would show: limits for many looks, for whole curves, and how alike curves are."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from ..take import Floats

#: A difference is told when chance alone would show one like it in so many comparisons of two takes.
ALPHA = 0.05


def looks(count: int, alpha: float = ALPHA) -> float:
    """How many SD the largest of ``count`` normal numbers exceeds with probability alpha, two-sided (Šidák 1967)."""
    each = 1.0 - (1.0 - alpha) ** (1.0 / max(count, 1))
    return -NormalDist().inv_cdf(each / 2.0)


def rmsd(first: Floats, second: Floats) -> float:
    """Root mean square difference of two curves (F,); unknown samples take no part, NaN when none is known."""
    apart = first - second
    apart = apart[np.isfinite(apart)]
    return float(np.sqrt(np.mean(apart**2))) if apart.size else float("nan")


def multiple_correlation(curves: Floats) -> float:
    """How alike repetitions (M, F) are, within a day; NaN where it has no real value.

    Source: Kadaba 1989, as given in the catalogue, section 9. It depends on the range of motion (Røislien 2012): never a proof.
    """
    count, frames = curves.shape
    within = ((curves - curves.mean(axis=0)) ** 2).sum() / (frames * (count - 1))
    whole = ((curves - curves.mean()) ** 2).sum() / (count * frames - 1)
    share = 1.0 - within / whole if whole > 0 else float("nan")
    return float(np.sqrt(share)) if share >= 0 else float("nan")


def field_threshold(freedom: int, nodes: int, fwhm: float, alpha: float = ALPHA) -> float:
    """What a smooth curve of t values exceeds somewhere with probability alpha, one-sided.

    freedom: degrees of it; nodes: samples of the curve; fwhm: smoothness in samples. Expected Euler characteristic of a t field
    in one dimension (Worsley 1996; formula of the catalogue, section 9).
    """
    from scipy import optimize, special  # loaded when a take is held against several

    resolutions = (nodes - 1) / fwhm

    def excess(level: float) -> float:
        characteristic = special.stdtr(freedom, -level) + resolutions * np.sqrt(4 * np.log(2)) / (2 * np.pi) * (
            1 + level**2 / freedom
        ) ** (-(freedom - 1) / 2)
        return float(1.0 - np.exp(-characteristic) - alpha)

    return float(optimize.brentq(excess, 0.0, 1000.0))


def smoothness(residuals: Floats) -> float:
    """Full width at half maximum, in samples, of residual curves (M, F) (Kiebel 1999; slopes of the normed residuals)."""
    spread = np.sqrt((residuals**2).sum(axis=0))
    normed = residuals / np.maximum(spread, 1e-12)
    slope = (np.gradient(normed, axis=1) ** 2).sum(axis=0)
    mean = float(np.mean(slope))
    return float(np.sqrt(4 * np.log(2) / mean)) if mean > 0 else float("inf")
