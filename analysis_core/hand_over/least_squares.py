"""Banded least squares over time: small displacements that meet their demands and change smoothly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded

from ..take import Floats


class Smooth:
    """Unknowns (F, U) on a regular grid of time that are pulled to zero, smooth, and asked for by rows.

    pull (U,): weight of x². Beside it stand the squares of its first and second difference, weighted so that a demand fades
    within about ``fade`` frames before and behind it without swinging (critically damped: 1, 2·fade², fade⁴). Everything is one
    symmetric banded system, solved by Cholesky, so that contacts blend into each other without any rule for it.
    """

    def __init__(self, frames: int, pull: Floats, fade: float) -> None:
        self.frames, self.unknowns = frames, len(pull)
        self._band = 3 * self.unknowns - 1
        self._normal = np.zeros((self._band + 1, frames, self.unknowns))
        self._right = np.zeros((frames, self.unknowns))
        self._normal[0] += pull
        self._add_differences((1.0, -1.0), 2.0 * fade**2 * pull)
        self._add_differences((1.0, -2.0, 1.0), fade**4 * pull)

    def _add_differences(self, stencil: tuple[float, ...], weights: Floats) -> None:
        """Normal equations of a difference over neighbouring frames, squared."""
        width = len(stencil)
        for first in range(width):
            for second in range(first, width):
                row = (second - first) * self.unknowns
                self._normal[row, first : self.frames - width + 1 + first] += stencil[first] * stencil[second] * weights

    def ask(self, frames: NDArray[np.int64], rows: Floats, values: Floats, weights: Floats) -> None:
        """Ask for rows (N, U) · x[frames (N,)] = values (N,), weighted (N,); a frame may be asked as often as it likes."""
        own = np.ascontiguousarray(rows.T)
        for column, weighted in enumerate(weights * own):
            self._right[:, column] += np.bincount(frames, weighted * values, self.frames)
            for other in range(column, self.unknowns):
                self._normal[other - column, :, column] += np.bincount(frames, weighted * own[other], self.frames)

    def solve(self) -> Floats:
        """The unknowns (F, U)."""
        size = self.frames * self.unknowns
        band = self._normal.reshape(self._band + 1, size)
        # The lower half: the upper one is tens of times slower where the library of linear algebra may use several threads.
        solved: Floats = solveh_banded(band, self._right.ravel(), lower=True, check_finite=False)
        return solved.reshape(self.frames, self.unknowns)
