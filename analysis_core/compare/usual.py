"""Repetitions as a band: how a step usually goes in A, and where B is against that."""

from __future__ import annotations

import numpy as np

from ..phrase.phase import Phase
from ..take import Floats
from .comparison import Usual
from .quantities import sampled
from .statistics import field_threshold, smoothness

#: Fewer repetitions are no band; with fewer in either take curves are not tested. Source: catalogue, section 9.
LEAST_BAND, LEAST_TEST = 3, 5
_NODES = 101


class Band:
    """The repetitions of one step in a take as curves over shares of the step; the same for all of them, so made once."""

    def __init__(self, steps: tuple[Phase, ...], curves: Floats, rate_hz: float) -> None:
        self.steps = steps
        shares = np.linspace(0.0, 1.0, _NODES)
        times = np.stack([step.start_s + shares * (step.end_s - step.start_s) for step in self.steps])
        #: (repetitions, nodes, quantities)
        self.curves = sampled(curves, rate_hz, times.ravel()).reshape(len(self.steps), _NODES, -1)
        self._tests: dict[int, tuple[Floats, float] | None] = {}

    def usual(self, column: int, phase: Phase, a_s: float, value_b: float, other: Band) -> Usual | None:
        """Where B's value lies against the repetitions, at a time of one of them; None with fewer than LEAST_BAND.

        other: the repetitions of the answering step in B, the same one at every call.
        """
        length = max(phase.end_s - phase.start_s, 1e-6)
        node = int(np.clip(round((a_s - phase.start_s) / length * (_NODES - 1)), 0, _NODES - 1))
        values = self.curves[:, node, column]
        values = values[np.isfinite(values)]
        if values.size < LEAST_BAND:
            return None
        mean, sd = float(values.mean()), float(values.std(ddof=1))
        if column not in self._tests:
            self._tests[column] = self._tested(column, other)
        test = self._tests[column]
        t = float(test[0][node]) if test is not None and np.isfinite(test[0][node]) else None
        z = (value_b - mean) / sd if sd > 0 else float("nan")
        return Usual(mean, sd, int(values.size), z, t, None if test is None or t is None else test[1])

    def _tested(self, column: int, other: Band) -> tuple[Floats, float] | None:
        """t of the two means over the step (nodes,), and its limit over the whole of it (two samples, equal variance)."""
        groups = [band.curves[:, :, column] for band in (self, other)]
        groups = [group[np.isfinite(group).all(axis=1)] for group in groups]
        if min(len(group) for group in groups) < LEAST_TEST:
            return None
        means = [group.mean(axis=0) for group in groups]
        residuals = np.concatenate([group - mean for group, mean in zip(groups, means, strict=True)])
        freedom = len(residuals) - 2
        variance = (residuals**2).sum(axis=0) / freedom * (1 / len(groups[0]) + 1 / len(groups[1]))
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.where(variance > 1e-12, (means[1] - means[0]) / np.sqrt(variance), np.nan)
        return t, field_threshold(freedom, _NODES, min(smoothness(residuals), float(_NODES)), alpha=0.025)
