"""Samples that are off the marker's path for a moment: spikes and short ghosts, taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..take import Floats
from .gaps import SHORT_GAP_S
from .rigidity import quantile
from .tears import Tears

#: The tear that opens an excursion is this share of the largest one beside it, or more: the lesser ones are its echoes.
_OPENS = 0.7
#: Samples taken out on each side as well: a marker half hidden is seen in the wrong place. Source: catalogue 3.4.
_BESIDE = 1


@dataclass(frozen=True)
class Excursion:
    """Samples start … end − 1 of a marker that are off its path."""

    marker: int
    start: int
    end: int


@dataclass(frozen=True)
class Step:
    """A path that is torn between ``frame`` and the next one and does not come back."""

    marker: int
    frame: int


def find_excursions(
    positions: Floats, tears: Tears, companions: list[list[int]], rate_hz: float
) -> tuple[list[Excursion], list[Step]]:
    """Excursions of up to 0.1 s in positions (F, N, 3), and the tears that are none.

    companions: by marker, the markers beside it; where they go along with the marker it is the body that jerks.
    """
    longest = max(1, round(SHORT_GAP_S * rate_hz))
    torn = tears.torn()
    excursions: list[Excursion] = []
    steps: list[Step] = []
    for marker in np.flatnonzero(torn.any(axis=0)).tolist():
        path, size = positions[:, marker], np.nan_to_num(tears.size_m[:, marker])
        done = -1
        for place in np.flatnonzero(torn[:, marker]).tolist():
            if place <= done:
                continue
            beside = size[place : place + 4]
            opening = place + int(np.flatnonzero(beside >= _OPENS * beside.max())[0])
            closed = _closed(path, opening + 1, longest, float(tears.limit_m[marker]))
            if closed is None:
                steps.append(Step(marker, opening))
                done = opening + 2
                continue
            end = opening + 1 + closed.shape[0]
            done = end + 1
            if not _is_of_the_body(positions, marker, companions[marker], slice(opening, end + 1), closed):
                excursions.append(Excursion(marker, opening + 1, end))
    return excursions, steps


def _is_of_the_body(positions: Floats, marker: int, companions: list[int], around: slice, closed: Floats) -> bool:
    """Whether the distances to the companions run on through an excursion, and would not along the ``closed`` path (n, 3).

    around: from the sample before the excursion to the one behind it. False when no companion is there to tell.
    """
    beside = positions[around][:, companions]
    own = positions[around, marker][:, None]
    apart = np.linalg.norm(beside - own, axis=2)
    share = np.linspace(0.0, 1.0, apart.shape[0])[1:-1, None]
    expected = apart[0] + share * (apart[-1] - apart[0])
    with_closed = np.linalg.norm(beside[1:-1] - closed[:, None], axis=2)
    measured, smooth = (quantile(np.abs(d - expected).T, 0.5).mean() for d in (apart[1:-1], with_closed))
    return bool(measured < smooth)


def _closed(path: Floats, start: int, longest: int, limit_m: float) -> Floats | None:
    """Samples (n, 3) that the path (F, 3) would have had through an excursion that begins at ``start``, or None without one.

    It has come back where the path behind it is what the path before it leads to; the samples between must lie off it.
    """
    behind = path[start - 2 : start]
    if start < 2 or not np.isfinite(behind).all():
        return None
    speed = behind[1] - behind[0]
    for end in range(start + 1, min(start + longest, path.shape[0] - 2) + 1):
        ahead = path[end : end + 2]
        if not np.isfinite(ahead).all():
            continue
        half = 0.5 * (end - start + 1)
        back = ahead[1] - ahead[0]
        apart = float(np.linalg.norm(behind[1] + half * speed - (ahead[0] - half * back)))
        if apart <= limit_m * (0.5 + 0.25 * half):
            share = (np.arange(start, end) - (start - 1))[:, None] / (2 * half)
            straight = behind[1] + share * (ahead[0] - behind[1]) + share * (1 - share) * half * (speed - back)
            off = np.linalg.norm(path[start:end] - straight, axis=1)
            return straight if np.nanmax(off, initial=0.0) > 0.6 * limit_m else None
    return None


def take_out(positions: Floats, excursions: list[Excursion]) -> Floats:
    """Positions without the excursions and the sample on each side of them."""
    result = positions.copy(order="K")
    for excursion in excursions:
        result[max(0, excursion.start - _BESIDE) : excursion.end + _BESIDE, excursion.marker] = np.nan
    return result
