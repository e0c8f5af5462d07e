"""What goes wrong in a capture room: gaps, swaps, spikes, markers that fell off or were stuck back elsewhere, with the truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np

from ..analysis_core.take import CleaningEvent, Floats, Take


@dataclass(frozen=True)
class Dirt:
    """One mishap. ``label`` and ``other`` as in the take.

    gap: no samples. swap: the labels are exchanged. spike: one sample off by size_m. fell-off: no samples from start_s on.
    moved: from start_s on the marker sits size_m away (after a gap up to end_s). Times from the first frame.
    """

    kind: Literal["gap", "swap", "spike", "fell-off", "moved"]
    label: str
    start_s: float
    end_s: float
    other: str | None = None
    size_m: float = 0.04


def spoil(take: Take, dirt: Sequence[Dirt], seed: int = 0) -> tuple[Take, tuple[CleaningEvent, ...]]:
    """The take with the mishaps, and their truth (repaired is False). Raises ValueError for a label the take has not."""
    positions = take.positions_m.copy()
    random = np.random.default_rng(seed)
    truth = []
    for mishap in dirt:
        marker = take.labels.index(mishap.label)
        first = int(np.clip(round(mishap.start_s * take.rate_hz), 0, take.frames - 1))
        last = int(np.clip(round(mishap.end_s * take.rate_hz), first, take.frames - 1))
        away = random.normal(size=3)
        away *= mishap.size_m / np.linalg.norm(away)
        if mishap.kind == "gap":
            positions[first : last + 1, marker] = np.nan
        elif mishap.kind == "swap":
            if mishap.other is None:
                raise ValueError("a swap needs the other marker")
            other = take.labels.index(mishap.other)
            positions[first : last + 1, [marker, other]] = positions[first : last + 1, [other, marker]]
        elif mishap.kind == "spike":
            positions[first, marker] += away
            last = first
        elif mishap.kind == "fell-off":
            positions[first:, marker] = np.nan
            last = take.frames - 1
        else:
            positions[first : last + 1, marker] = np.nan
            # The marker is stuck to the body: its shift turns with the markers around it.
            positions[last + 1 :, marker] += _carried(positions, marker, away)[last + 1 :]
        times = (first / take.rate_hz, last / take.rate_hz)
        truth.append(CleaningEvent(mishap.kind, mishap.label, mishap.other, *times, False))
    return replace(take, positions_m=positions, sha256=f"{take.sha256[:48]}{seed:016x}"), tuple(truth)


def _carried(positions: Floats, marker: int, away: Floats) -> Floats:
    """A shift (F, 3) that turns with three markers that keep their distances to this one and to each other: one body part."""
    thin = positions[:: max(1, positions.shape[0] // 300)]
    wander = np.nanstd(np.linalg.norm(thin[:, :, None] - thin[:, None], axis=3), axis=0)
    others = [i for i in np.argsort(wander[marker]) if i != marker][:7]

    def loose(trio: tuple[int, int, int]) -> float:
        return float(sum(wander[i, j] for i, j in combinations((marker, *trio), 2))) + _flat(thin, trio)

    a, b, c = min(combinations(others, 3), key=loose)
    x = positions[:, b] - positions[:, a]
    x /= np.linalg.norm(x, axis=1, keepdims=True)
    z = np.cross(x, positions[:, c] - positions[:, a])
    z /= np.linalg.norm(z, axis=1, keepdims=True)
    return np.asarray(away[0] * x + away[1] * np.cross(z, x) + away[2] * z)


def _flat(positions: Floats, three: tuple[int, ...]) -> float:
    """0 for a triangle that fixes a turn, much for three markers that lie almost on a line."""
    a, b, c = (positions[positions.shape[0] // 2, i] for i in three)
    height = float(np.linalg.norm(np.cross(b - a, c - a))) / max(float(np.linalg.norm(b - a)), 1e-9)
    return 0.0 if height > 0.02 else 1.0
