"""Nonlinear least squares in which far outliers pull less, for some tens of unknowns of which something is known beforehand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..take import Floats

#: Steps that are tried at most, and the share of the cost below which what a step gains no longer matters.
_MOST_STEPS, _ENOUGH = 25, 1e-4
#: How much of the curvature's diagonal is added to it at first, and by how much more or less after a step that failed or helped.
#: Tried on eighteen real legs: less at first leads some of them far off, and back in twice as many steps.
_DAMPING, _HARDER, _EASIER = 1.0, 4.0, 0.1


@dataclass(frozen=True)
class RobustFit:
    """unknown (U,): where the cost is least; curvature (U, U): its second derivatives there, whose inverse is the covariance."""

    unknown: Floats
    curvature: Floats


def fit_robustly(slopes: Callable[[Floats], tuple[Floats, Floats]], start: Floats) -> RobustFit:
    """The unknowns (U,) near a start (U,) for which the sum of 2 (√(1 + r²) - 1) over residuals r is least.

    slopes: residuals (R,), in standard deviations, and how they change (R, U), for unknowns (U,). Levenberg-Marquardt with the
    curvature of that cost (Triggs 1999); ``scipy.optimize.least_squares(loss="soft_l1")`` finds the same (a test compares), and
    takes as long to load as reading and cleaning a take.
    """
    unknown, damping = start, _DAMPING
    cost, gradient, curvature = _cost(*slopes(start))
    for _ in range(_MOST_STEPS):
        tried = unknown - np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), gradient)
        tried_cost, tried_gradient, tried_curvature = _cost(*slopes(tried))
        if not tried_cost < cost:
            damping *= _HARDER
            continue
        gained, damping = cost - tried_cost, damping * _EASIER
        unknown, cost, gradient, curvature = tried, tried_cost, tried_gradient, tried_curvature
        if gained < _ENOUGH * cost:
            break
    return RobustFit(unknown, curvature)


def _cost(residuals: Floats, change: Floats) -> tuple[float, Floats, Floats]:
    """Half the robust sum, its gradient (U,) and its curvature (U, U) without what the residuals' own curvature adds."""
    root = np.sqrt(1.0 + residuals**2)
    # First and second derivative of 2 (√(1 + z) - 1) by z = r²: 1 / root and -1 / (2 root³); 1 / root + 2 r² times the latter
    # is 1 / root³. A matrix times its own transpose is reckoned in half of the time.
    weighed = change * (1.0 / (root * np.sqrt(root)))[:, None]
    return float(np.sum(root - 1.0)), change.T @ (residuals / root), weighed.T @ weighed
