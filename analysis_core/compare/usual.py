"""Repetitions as a band: how a step usually goes in A, and where B is against that."""

from __future__ import annotations

import numpy as np

from ..phrase.phase import Phase, Phrase
from ..take import Floats
from .comparison import Usual
from .quantities import sampled
from .statistics import field_threshold, smoothness

#: Fewer repetitions are no band; with fewer in either take curves are not tested. Source: catalogue, section 9.
LEAST_BAND, LEAST_TEST = 3, 5
_NODES = 101


def repetitions_of(phase: Phase, phrase: Phrase) -> tuple[Phase, ...]:
    """A step and its repetitions in its take."""
    name = phase.properties.get("same_as") or phase.id
    return tuple(other for other in phrase.phases if (other.properties.get("same_as") or other.id) == name)


class Band:
    """The repetitions of one step in A, and of its partner in B, as curves over shares of the step."""

    def __init__(self, phase: Phase, phrase: Phrase, curves: Floats, rate_hz: float) -> None:
        self.phase = phase
        self.steps = repetitions_of(phase, phrase)
        shares = np.linspace(0.0, 1.0, _NODES)
        times = np.stack([step.start_s + shares * (step.end_s - step.start_s) for step in self.steps])
        #: (repetitions, nodes, quantities)
        self.curves = sampled(curves, rate_hz, times.ravel()).reshape(len(self.steps), _NODES, -1)

    def usual(self, column: int, a_s: float, value_b: float, other: Band | None) -> Usual | None:
        """Where B's value lies against the repetitions; None with fewer than LEAST_BAND of them."""
        length = max(self.phase.end_s - self.phase.start_s, 1e-6)
        node = int(np.clip(round((a_s - self.phase.start_s) / length * (_NODES - 1)), 0, _NODES - 1))
        values = self.curves[:, node, column]
        values = values[np.isfinite(values)]
        if values.size < LEAST_BAND:
            return None
        mean, sd = float(values.mean()), float(values.std(ddof=1))
        t, least = self._tested(column, node, other)
        return Usual(mean, sd, int(values.size), (value_b - mean) / sd if sd > 0 else float("nan"), t, least)

    def _tested(self, column: int, node: int, other: Band | None) -> tuple[float | None, float | None]:
        """t of the two means at a node, and its limit over the whole step (two samples, equal variance)."""
        if other is None or min(len(self.steps), len(other.steps)) < LEAST_TEST:
            return None, None
        groups = [band.curves[:, :, column] for band in (self, other)]
        groups = [group[np.isfinite(group).all(axis=1)] for group in groups]
        if min(len(group) for group in groups) < LEAST_TEST:
            return None, None
        means = [group.mean(axis=0) for group in groups]
        residuals = np.concatenate([group - mean for group, mean in zip(groups, means, strict=True)])
        freedom = len(residuals) - 2
        variance = (residuals**2).sum(axis=0) / freedom * (1 / len(groups[0]) + 1 / len(groups[1]))
        if not variance[node] > 0:
            return None, None
        t = float((means[1][node] - means[0][node]) / np.sqrt(variance[node]))
        return t, field_threshold(freedom, _NODES, min(smoothness(residuals), float(_NODES)), alpha=0.025)
