"""Two markers that exchanged their labels: found from broken distances and from paths that cross over, and undone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ..runs import runs
from ..take import Floats
from .distances import BROKEN_M, Distances
from .tears import LEAST_TEAR_M, Tears, carried_apart

#: An exchange has to take away this share of what is broken. Proposed default (catalogue 3.4).
_EXCHANGE_EXPLAINS = 0.5
#: Distances alone, without a torn path, count when no more than this share stays broken.
_LEFT_OVER = 0.2
#: So many frames of a pair say whether it may have exchanged labels; so many pairs are looked at together, or memory would grow.
_FRAMES_OF_PAIR, _PAIRS_AT_ONCE = 60, 200
#: Shorter exchanges are spikes of two markers and are dealt with as such.
_LEAST_FRAMES = 3
#: What a stretch can cost: its whole evidence, an exchange that begins or ends where no path is torn and nothing hidden, or
#: behind a gap, a torn place without one, and being exchanged at all (most labels are right). Proposed defaults.
_EVIDENCE, _UNSEEN_CHANGE, _HIDDEN_CHANGE, _SEAM_IGNORED, _EXCHANGED, _EXCHANGED_LONG = 4.0, 3.0, 0.05, 2.0, 0.1, 0.5
#: One marker alone has to fit the other's label to this share of what is broken, in this share of its frames. Proposed defaults.
_PLAIN_FIT, _PLAIN_SHARE = 0.25, 0.9
#: Evidence (−1 … 1) that decides, and that is worth a word.
_DECIDES, _HINT = 0.5, 0.3


@dataclass(frozen=True)
class Swap:
    """Markers ``first`` and ``second`` bear each other's label in frames start … end − 1. certain: the evidence decides."""

    first: int
    second: int
    start: int
    end: int
    certain: bool


def find_swaps(positions: Floats, distances: Distances, tears: Tears) -> list[Swap]:
    """Exchanged labels in positions (F, N, 3), strongest evidence first; the later ones hold once the earlier are undone."""
    found: list[Swap] = []
    current = positions
    for first, second in _suspects(positions, distances, tears):
        pair = _swaps_of_pair(current, distances, tears, first, second)
        if pair:
            current = undo(current, pair)
            found += pair
    return found


def undo(positions: Floats, swaps: list[Swap]) -> Floats:
    """Positions with the certain swaps undone."""
    result = positions.copy(order="K")
    for swap in swaps:
        if swap.certain:
            part = slice(swap.start, swap.end)
            result[part, swap.first], result[part, swap.second] = result[part, swap.second], result[part, swap.first].copy()
    return result


def without_doubtful(positions: Floats, swaps: Sequence[Swap]) -> Floats:
    """Positions without the samples of which it cannot be told which of two markers they are: nothing may rest on them."""
    result = positions.copy(order="K")
    for swap in swaps:
        if not swap.certain:
            result[swap.start : swap.end, [swap.first, swap.second]] = np.nan
    return result


def together(swaps: Sequence[Swap], throughout: Sequence[Swap], frames: int) -> list[Swap]:
    """What was exchanged in the recording, when swaps are undone first and then others from the first frame to the last.

    A pair in both was exchanged where it was not found so: distances alone hold what is longer for right.
    """
    pairs = {frozenset((swap.first, swap.second)): swap for swap in throughout}
    inside: dict[frozenset[int], NDArray[np.bool_]] = {}
    result = []
    for swap in swaps:
        pair = frozenset((swap.first, swap.second))
        if pair in pairs and swap.certain:
            inside.setdefault(pair, np.ones(frames, dtype=np.bool_))[swap.start : swap.end] = False
        else:
            result.append(swap)
    for pair, swap in pairs.items():
        if pair in inside:
            result += [Swap(swap.first, swap.second, int(start), int(end), True) for start, end in runs(inside[pair])]
        else:
            result.append(swap)
    return result


def _suspects(positions: Floats, distances: Distances, tears: Tears) -> list[tuple[int, int]]:
    """Pairs of markers that may have exchanged labels: torn over into each other, or broken together and whole when exchanged."""
    suspicion: dict[tuple[int, int], float] = {}
    torn = tears.torn()
    for frame in np.flatnonzero(torn.sum(axis=1) >= 2):
        for first, second in combinations(np.flatnonzero(torn[frame]).tolist(), 2):
            if _crosses_over(positions, int(frame), first, second):
                suspicion[first, second] = suspicion.get((first, second), 0.0) + float(
                    tears.size_m[frame, first] + tears.size_m[frame, second]
                )
    for pair, evidence in _broken_together(positions, distances):
        suspicion.setdefault(pair, evidence)
    return sorted(suspicion, key=lambda pair: -suspicion[pair])


def _broken_together(positions: Floats, distances: Distances) -> Iterator[tuple[tuple[int, int], float]]:
    """Pairs whose distances are broken in the same frames and whole when exchanged, and by how much."""
    # By markers, so that what is looked at for each pair lies together.
    flagged = np.ascontiguousarray(distances.is_broken.T)
    thin = positions[:: distances.step]
    doubtful = flagged | ~np.isfinite(thin[:, :, 0].T)
    odd, partners = (np.flatnonzero(where.sum(axis=1) >= _LEAST_FRAMES) for where in (flagged, doubtful))
    shared = (flagged[odd].astype(np.float32) @ doubtful[partners].T.astype(np.float32)) >= _LEAST_FRAMES
    together = [(int(odd[i]), int(partners[j])) for i, j in zip(*np.nonzero(shared), strict=True) if odd[i] != partners[j]]
    for start in range(0, len(together), _PAIRS_AT_ONCE):
        some = together[start : start + _PAIRS_AT_ONCE]
        frames = [np.flatnonzero(flagged[one] & doubtful[other]) for one, other in some]
        frames = [those[:: max(1, those.size // _FRAMES_OF_PAIR)] for those in frames]
        pairs = np.sort(np.array(some), axis=1)
        which = np.repeat(np.arange(len(some)), [those.size for those in frames])
        given, exchanged = distances.of_pairs(thin, pairs, which, np.concatenate(frames))
        shown = (exchanged < _EXCHANGE_EXPLAINS * given) & (given - exchanged > BROKEN_M)
        for number in np.flatnonzero(np.bincount(which[shown], minlength=len(some)) >= _LEAST_FRAMES):
            broken, left_m = (values[shown & (which == number)] for values in (given, exchanged))
            # A true exchange leaves next to nothing; one that only comes closer must wait until the true one is undone.
            evidence = np.median((broken - left_m) * (1 - left_m / broken) ** 4)
            yield (int(pairs[number, 0]), int(pairs[number, 1])), float(evidence)


def _crosses_over(positions: Floats, frame: int, first: int, second: int) -> bool:
    """Whether each path goes on smoothly as the other's between a frame and the next."""
    window = positions[frame - 1 : frame + 3][:, [first, second]]
    kept = carried_apart(*window).sum()
    over = carried_apart(window[0], window[1], window[2, ::-1], window[3, ::-1]).sum()
    return bool(over < _EXCHANGE_EXPLAINS * kept)


def _swaps_of_pair(positions: Floats, distances: Distances, tears: Tears, first: int, second: int) -> list[Swap]:
    """The stretches in which two markers are exchanged: the cheapest account of distances and torn places."""
    given, exchanged = distances.of_pair(positions, first, second)
    there = np.isfinite(positions[:, [first, second], 0])
    frames = positions.shape[0]
    # A tear of the pair shows against the pair's own roughness; the limit of all movement counts for suspicion only.
    size_first, size_second = tears.size_m[:, first], tears.size_m[:, second]
    rough = np.nan_to_num(np.minimum(size_first, size_second)) > LEAST_TEAR_M
    seams = np.array([k for k in np.flatnonzero(rough) if _crosses_over(positions, int(k), first, second)], dtype=np.int64)
    if seams.size:
        # A seam tears three neighbouring places; the middle one is it.
        size = size_first + size_second
        groups = np.split(seams, np.flatnonzero(np.diff(seams) > 1) + 1)
        seams = np.array([group[np.argmax(size[group])] for group in groups])
    hidden = np.flatnonzero((there[1:] != there[:-1]).any(axis=1))
    limit = max(distances.limit_m[first] + distances.limit_m[second], BROKEN_M)
    better = (np.nan_to_num(exchanged) < _EXCHANGE_EXPLAINS * np.nan_to_num(given)) & (np.nan_to_num(given) > min(limit, 0.1))
    better &= np.isfinite(exchanged)
    edges = np.array([edge - 1 for run in runs(better) if run[1] - run[0] >= _LEAST_FRAMES for edge in run], dtype=np.int64)
    sure = np.union1d(seams, hidden)
    edges = edges[[not sure.size or int(np.abs(sure - edge).min()) > _LEAST_FRAMES for edge in edges]]
    edges = edges[(edges >= 0) & (edges < frames - 1)]
    cuts = np.unique(np.concatenate([sure, edges])).astype(np.int64)
    starts, ends = np.concatenate([[0], cuts + 1]), np.concatenate([cuts + 1, [frames]])
    state, evidence = _cheapest(given, exchanged, starts, ends, set(seams.tolist()), set(hidden.tolist()))
    for i, (start, end) in enumerate(zip(starts, ends, strict=True)):
        if state[i] and not there[start:end].all(axis=1).any():
            # One marker alone, the other hidden all the while, has to fit the other's label all but exactly.
            state[i] = int(_is_plain(given[start:end], exchanged[start:end]))
    result = []
    for start, end in runs(state.astype(bool)):
        inside = there[starts[start] : ends[end - 1]].any(axis=1)
        if inside.sum() < _LEAST_FRAMES:
            continue
        begin, stop = int(starts[start]), int(ends[end - 1])
        known = np.flatnonzero(inside)
        torn_over = sum(edge in seams for edge in (begin - 1, stop - 1))
        told = float(evidence[start:end].max())
        if told < _HINT and not torn_over:
            continue
        certain = told > _DECIDES or torn_over == 2
        result.append(Swap(first, second, begin + int(known[0]), begin + int(known[-1]) + 1, certain))
    return result


def _is_plain(given: Floats, exchanged: Floats) -> bool:
    """Whether one marker alone, the other hidden, tells that it bears the other's label, almost throughout."""
    known = np.isfinite(given) & np.isfinite(exchanged)
    if known.sum() < _LEAST_FRAMES:
        return False
    left = min(_PLAIN_FIT * float(np.median(given[known])), BROKEN_M)
    return float(((given[known] > 2 * BROKEN_M) & (exchanged[known] < left)).mean()) > _PLAIN_SHARE


def _cheapest(
    given: Floats, exchanged: Floats, starts: NDArray[np.int64], ends: NDArray[np.int64], seams: set[int], hidden: set[int]
) -> tuple[NDArray[np.int64], Floats]:
    """For each stretch whether it is exchanged (0 or 1), and the evidence for it (−1 … 1)."""
    count = starts.size
    evidence = np.zeros(count)
    cost = np.zeros((count, 2))
    for i, (start, end) in enumerate(zip(starts, ends, strict=True)):
        known = np.isfinite(given[start:end]) & np.isfinite(exchanged[start:end])
        if known.sum() >= _LEAST_FRAMES:
            as_is, other = float(np.median(given[start:end][known])), float(np.median(exchanged[start:end][known]))
            size = min(1.0, abs(as_is - other) / BROKEN_M)
            # A true exchange leaves little; where much is left it is the body that bends.
            if as_is < other or other <= max(2 * BROKEN_M, _LEFT_OVER * as_is):
                evidence[i] = size * (as_is - other) / max(as_is + other, 1e-9)
        cost[i] = _EVIDENCE * evidence[i] * np.array([0.5, -0.5])
        cost[i, 1] += _EXCHANGED + _EXCHANGED_LONG * (end - start) / max(int(ends[-1]), 1)
    best, came_from = cost[0].copy(), np.zeros((count, 2), dtype=np.int64)
    for i in range(1, count):
        cut = int(starts[i]) - 1
        if cut in seams:
            keep, change = _SEAM_IGNORED, 0.0
        else:
            keep, change = 0.0, (_HIDDEN_CHANGE if cut in hidden else _UNSEEN_CHANGE)
        step = best[:, None] + np.array([[keep, change], [change, keep]])
        came_from[i] = step.argmin(axis=0)
        best = step.min(axis=0) + cost[i]
    state = np.zeros(count, dtype=np.int64)
    state[-1] = int(best.argmin())
    for i in range(count - 1, 0, -1):
        state[i - 1] = came_from[i, state[i]]
    return state, evidence
