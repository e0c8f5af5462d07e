"""Which step of one take answers to which of the other: in the same order, the same kind and side, a similar course."""

from __future__ import annotations

import numpy as np

from ..phrase.phase import Phase, Phrase
from ..take import Floats
from .poses import Poses, at_times

#: Poses of a step that are compared.
_SAMPLES = 16
#: What a step without a partner costs, leg lengths: two steps further apart than twice this are different ones. Proposed default.
_ALONE = 0.15
#: What a length that differs by a factor of e costs, leg lengths. Proposed default.
_LENGTH = 0.05


def _courses(phases: tuple[Phase, ...], poses: Poses) -> Floats:
    """Poses of every step at _SAMPLES shares of its time, as rows whose Euclidean distance is the root mean square distance."""
    times = np.stack([np.linspace(phase.start_s, phase.end_s, _SAMPLES) for phase in phases])
    rows = at_times(poses.flat, times.ravel()).reshape(len(phases), -1)
    return np.asarray(rows / np.sqrt(_SAMPLES))


def _costs(a: tuple[Phase, ...], b: tuple[Phase, ...], poses_a: Poses, poses_b: Poses) -> Floats:
    """Cost (N, M) of every pair; infinite for steps of different names."""
    # Loaded when takes are compared: all that shows a dancer imports this module.
    from scipy.spatial.distance import cdist

    costs = cdist(_courses(a, poses_a), _courses(b, poses_b))
    length_a, length_b = (np.array([max(p.end_s - p.start_s, 0.02) for p in phases]) for phases in (a, b))
    of_a, of_b = length_a[:, None], length_b[None, :]
    costs = costs + _LENGTH * np.abs(np.log(of_a / of_b))
    names = {name: number for number, name in enumerate(dict.fromkeys(p.name for p in (*a, *b)))}
    kind_a, kind_b = (np.array([names[p.name] for p in phases]) for phases in (a, b))
    return np.where(kind_a[:, None] == kind_b[None, :], costs, np.inf)


def match_phases(a: Phrase, b: Phrase, poses_a: Poses, poses_b: Poses) -> tuple[dict[str, str], float]:
    """Phase of A -> phase of B, both in order of time; steps without a partner are left out (Needleman & Wunsch 1970).

    Also how far apart the poses of matched steps are, as a rule, leg lengths; 0 without any.
    """
    first, second = a.phases, b.phases
    if not first or not second:
        return {}, 0.0
    costs = _costs(first, second, poses_a, poses_b)
    places: Floats = _ALONE * np.arange(len(second) + 1, dtype=np.float64)
    best: list[Floats] = [places]
    came: list[tuple[Floats, Floats]] = []
    for row in costs:
        above = best[-1]
        paired: Floats = np.concatenate([[np.inf], above[:-1] + row])
        alone = above + _ALONE
        either = np.minimum(paired, alone)
        # Steps of B without a partner: the cheapest way along the row.
        now: Floats = np.minimum.accumulate(either - places) + places
        came.append((paired, alone))
        best.append(now)
    matched = _walk_back(first, second, best, came)
    rows, columns = ({phase.id: place for place, phase in enumerate(phases)} for phases in (first, second))
    usual = [costs[rows[name], columns[other]] for name, other in matched.items()]
    return matched, float(np.median(usual)) if usual else 0.0


def _walk_back(
    first: tuple[Phase, ...], second: tuple[Phase, ...], best: list[Floats], came: list[tuple[Floats, Floats]]
) -> dict[str, str]:
    matched = {}
    i, j = len(first), len(second)
    while i > 0 and j > 0:
        paired, alone = came[i - 1]
        now = best[i][j]
        if paired[j] <= now + 1e-9:
            matched[first[i - 1].id] = second[j - 1].id
            i, j = i - 1, j - 1
        elif alone[j] <= now + 1e-9:
            i -= 1
        else:
            j -= 1
    return dict(reversed(matched.items()))
