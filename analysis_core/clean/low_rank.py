"""Where a marker lies, told from how the other markers lie: a ridge regression on their principal patterns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats

#: Principal patterns kept; more follow the dance no better (measured by knocking out samples of simulated takes).
_RANK = 12
#: Ridge, as a share of the variance of one pattern: what keeps a phrase that never repeats from being learned by heart.
_RIDGE = 0.01
#: A regression on fewer frames than this per pattern says nothing.
_FRAMES_PER_PATTERN = 5
#: Leverage that this share of the learned frames stays below is usual.
_USUAL_SHARE = 0.9
#: Patterns that move less than this (variance, m²) are noise.
_LEAST_VARIANCE = 1e-7


@dataclass(frozen=True)
class Pattern:
    """A regression of a marker's place on the principal patterns of other markers.

    mean (P,), directions (P, R): from predictors to patterns of unit variance. rows (K, R + 1), places (K, 3), trained (K,):
    what was learned from, NaN in the rest. Source of the idea: Federolf 2013; Gløersen and Federolf 2016 (inter-marker
    patterns), here in a frame that moves with the nearest markers.
    """

    mean: Floats
    directions: Floats
    rows: Floats
    places: Floats
    trained: NDArray[np.bool_]
    gram: Floats
    moment: Floats

    def predict(self, predictors: Floats) -> Floats:
        """Places (K, 3) for predictors (K, P); NaN where one is missing."""
        return np.asarray(_rows(predictors, self.mean, self.directions) @ self._solve(self.gram, self.moment))

    def novelty(self, predictors: Floats) -> float:
        """How far predictors (K, P) lie outside what was learned: 1 inside; else by how much the leverage is larger there.

        Leverage is the share of a prediction's error that comes from the weights (any text on linear regression).
        """
        rows = _rows(predictors, self.mean, self.directions)
        known = self.rows[self.trained]
        seen = rows[np.isfinite(rows).all(axis=1)]
        usual, here = (np.einsum("ki,ki->k", r, self._solve(self.gram, r.T).T) for r in (known, seen))
        if not here.size:
            return 1.0
        return max(1.0, float(np.sqrt(here.max() / np.quantile(usual, _USUAL_SHARE))))

    def predict_unseen(self, window: slice) -> Floats:
        """Places in a window of the learned frames, by a regression that has not seen the window."""
        rows, seen = self.rows[window], self.trained[window]
        gram = self.gram - rows[seen].T @ rows[seen]
        moment = self.moment - rows[seen].T @ self.places[window][seen]
        return np.asarray(rows @ self._solve(gram, moment))

    @staticmethod
    def _solve(gram: Floats, moment: Floats) -> Floats:
        ridge = _RIDGE * gram[0, 0] * np.eye(gram.shape[0])
        ridge[0, 0] = 0.0
        return np.asarray(np.linalg.solve(gram + ridge, moment))


def _rows(predictors: Floats, mean: Floats, directions: Floats) -> Floats:
    return np.concatenate([np.ones((predictors.shape[0], 1)), (predictors - mean) @ directions], axis=1)


def learn(places: Floats, predictors: Floats) -> Pattern | None:
    """Learn places (K, 3) from predictors (K, P), both with NaN where missing; None when there is too little to learn from."""
    trained = np.isfinite(predictors).all(axis=1) & np.isfinite(places).all(axis=1)
    if trained.sum() < _FRAMES_PER_PATTERN * _RANK:
        return None
    mean = predictors[trained].mean(axis=0)
    centred = predictors[trained] - mean
    variance, directions = np.linalg.eigh(centred.T @ centred / trained.sum())
    kept = np.flatnonzero(variance > _LEAST_VARIANCE)[-_RANK:]
    directions = directions[:, kept] / np.sqrt(variance[kept])
    rows = _rows(predictors, mean, directions)
    known = rows[trained]
    return Pattern(mean, directions, rows, places, trained, known.T @ known, known.T @ places[trained])
