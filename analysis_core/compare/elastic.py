"""Elastic alignment of two series within a band, by dynamic programming; what answers to nothing may be left out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats

#: Weight of a step on in both series; on in one has 1. Source: Sakoe & Chiba 1978, symmetric, no limit of slope (P = 0).
SYMMETRIC = 2.0

Choices = NDArray[np.uint8]
#: Where a cell was come to from: on in both, in A, in B; out of a part of A or of B that was left out.
_BOTH, _A, _B, _OUT_OF_A, _OUT_OF_B = range(5)
#: The states of a cell: its samples answer to each other; the sample of A is left out; that of B is.
_MATCHED, _WITHOUT_A, _WITHOUT_B = range(3)


@dataclass(frozen=True)
class Elastic:
    """distance: sum of the weighted costs. path (L, 2): pairs of samples of A and B that answer to each other, rising; where it
    jumps by more than one sample, that part was left out."""

    distance: float
    path: NDArray[np.int64]


@dataclass(frozen=True)
class _Diagonal:
    """Costs of the cells of one antidiagonal in the three states, (3, W); first: number of A's samples used in the first cell."""

    first: int
    costs: Floats

    def at(self, first: int, last: int) -> Floats:
        """Costs (3, last - first + 1) of some cells; infinite beside the band."""
        result = np.full((3, last - first + 1), np.inf)
        low, high = max(first, self.first), min(last, self.first + self.costs.shape[1] - 1)
        if low <= high:
            result[:, low - first : high - first + 1] = self.costs[:, low - self.first : high - self.first + 1]
        return result


def _in_band(diagonal: int, count_a: int, count_b: int, band: float) -> tuple[int, int]:
    """First and last number of A's used samples on the antidiagonal in which ``diagonal`` samples are used in all."""
    slope = (count_b - 1) / max(count_a - 1, 1)
    # |(j - 1) - slope (i - 1)| ≤ band with i + j = diagonal.
    low = int(np.ceil((diagonal - 1 + slope - band) / (1 + slope) - 1e-9))
    high = int(np.floor((diagonal - 1 + slope + band) / (1 + slope) + 1e-9))
    return max(low, 0, diagonal - count_b), min(high, count_a, diagonal)


def align_elastic(
    a: Floats,
    b: Floats,
    band: float,
    *,
    both: float = SYMMETRIC,
    uneven: float = 0.0,
    leave_out: float = np.inf,
    leave_out_once: float = 0.0,
) -> Elastic:
    """Align two series (N, D) and (M, D), from their first to their last samples, by the Euclidean distance of rows.

    band: how many samples of B a pair may lie beside the straight line from corner to corner (Sakoe & Chiba 1978), at least a
    step of that line where the lengths differ. both: weight of a step on in both. uneven: cost of a step on in one only, besides
    its distance. leave_out: cost of every sample that is left out; leave_out_once: for each such stretch besides. Time and memory
    grow with (N + M) × band. Samples must be known.
    """
    count_a, count_b = len(a), len(b)
    if count_a != count_b:
        band = max(band, 1.0 + count_b / count_a)
    nothing = _Diagonal(0, np.empty((3, 0)))
    before, twice = nothing, nothing
    came: list[tuple[int, Choices]] = []
    for diagonal in range(count_a + count_b + 1):
        first, last = _in_band(diagonal, count_a, count_b, band)
        if diagonal == 0:
            now, choices = _Diagonal(0, np.array([[0.0], [np.inf], [np.inf]])), np.zeros((3, 1), dtype=np.uint8)
        elif last < first:
            now, choices = _Diagonal(first, np.empty((3, 0))), np.empty((3, 0), dtype=np.uint8)
        else:
            cost = _distance(a, b, diagonal, first, last)
            if diagonal == 2:
                # The first pair counts once, as any library has it.
                cost = cost * np.where(np.arange(first, last + 1) == 1, 1.0 / both, 1.0)
            older, in_a, in_b = twice.at(first - 1, last - 1), before.at(first - 1, last - 1), before.at(first, last)
            now, choices = _step(first, cost, both, uneven, leave_out, leave_out_once, older, in_a, in_b)
        came.append((first, choices))
        before, twice = now, before
    ends = before.at(count_a, count_a)[:, 0]
    return Elastic(float(ends.min()), _walk_back(came, count_a, count_b, int(ends.argmin())))


def _distance(a: Floats, b: Floats, diagonal: int, first: int, last: int) -> Floats:
    """Distance of the last used samples of every cell; infinite where one of the series has none used yet."""
    used = np.arange(first, last + 1)
    inside = (used >= 1) & (used < diagonal)
    cost = np.full(used.size, np.inf)
    rows = used[inside] - 1
    apart = a[rows] - b[diagonal - used[inside] - 1]
    cost[inside] = np.sqrt(np.einsum("ij,ij->i", apart, apart))
    return cost


def _step(
    first: int, cost: Floats, both: float, uneven: float, leave_out: float, once: float, older: Floats, in_a: Floats, in_b: Floats
) -> tuple[_Diagonal, Choices]:
    """The next antidiagonal from the two before it. older: cells with one sample less of both; in_a: of A; in_b: of B."""
    on, one = both * cost, cost + uneven
    options = np.stack([older[0] + on, in_a[0] + one, in_b[0] + one, older[1] + on, older[2] + on])
    width = np.arange(cost.size)
    matched = options.argmin(axis=0)
    if not np.isfinite(leave_out):
        infinite = np.full(cost.size, np.inf)
        costs = np.stack([options[matched, width], infinite, infinite])
        return _Diagonal(first, costs), np.stack([matched, matched, matched]).astype(np.uint8)
    # After what is left out of B, A may be left out as well: the two parts were other ones.
    starts = np.array([[once], [0.0], [0.0]])
    without_a = in_a + starts + leave_out
    without_b = np.stack([in_b[0] + once, np.full(cost.size, np.inf), in_b[2]]) + leave_out
    from_a, from_b = without_a.argmin(axis=0), without_b.argmin(axis=0)
    costs = np.stack([options[matched, width], without_a[from_a, width], without_b[from_b, width]])
    return _Diagonal(first, costs), np.stack([matched, from_a, from_b]).astype(np.uint8)


def _walk_back(came: list[tuple[int, Choices]], count_a: int, count_b: int, state: int) -> NDArray[np.int64]:
    """The pairs of the cheapest way, from the end to the start, turned round."""
    used_a, used_b = count_a, count_b
    pairs = []
    while used_a + used_b > 0:
        first, choices = came[used_a + used_b]
        choice = int(choices[state, used_a - first])
        if state == _MATCHED:
            pairs.append((used_a - 1, used_b - 1))
            used_a -= choice != _B
            used_b -= choice != _A
            state = {_OUT_OF_A: _WITHOUT_A, _OUT_OF_B: _WITHOUT_B}.get(choice, _MATCHED)
        else:
            used_a -= state == _WITHOUT_A
            used_b -= state == _WITHOUT_B
            state = choice
    return np.array(pairs[::-1], dtype=np.int64).reshape(-1, 2)
