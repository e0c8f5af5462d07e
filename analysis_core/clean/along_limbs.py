"""Two labels of one limb, such as knee and ankle, exchanged from the first frame to the last: told by the other side's limb.

Distances on one leg are those on the other but for how the two are danced. Where two labels of a leg are exchanged they are not,
and are again once the two are exchanged back. Which leg it is, is told by the order along it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np

from ..body.anatomy import ALONG_ARM, ALONG_LEG, FOREFOOT, HEEL, OTHER_SUFFIX, SIDE_SUFFIXES
from .rigidity import Survey
from .swaps import Swap

_LEG_AND_FOOT = (*ALONG_LEG, (HEEL, *FOREFOOT))
#: Exchanging two labels back must bring the distances so many times nearer to the other side's, which were so far from them
#: before (mean over the companions, metres, both labels together). Of 17 real takes the greatest ratio of two labels at
#: different heights is 0.7. Proposed defaults.
_NEARER, _APART_M = 2.5, 0.08
#: Of a pair the outer one lies further from where the limb hangs by so much on the side that is right, metres. Proposed default.
_FURTHER_M = 0.03
_LEAST_COMPANIONS = 3


def find_exchanged_along_limbs(surveyed: Survey, landmark_of: Mapping[int, str], frames: int) -> list[Swap]:
    """Pairs of markers of one limb, at different heights of it, whose labels are exchanged in all frames; one of a limb at most.

    surveyed: usual distances; landmark_of: by marker index. None where both sides are alike, or it cannot be told which is wrong.
    """
    index_of = {name: index for index, name in landmark_of.items()}
    found = []
    for limb in (_LEG_AND_FOOT, ALONG_ARM):
        plain = [
            (told, inner, outer)
            for (inner_names, outer_names) in combinations(limb[1:], 2)
            for inner in inner_names
            for outer in outer_names
            if (told := _nearer_to_other_side(surveyed, index_of, inner, outer, [n for names in limb for n in names])) is not None
        ]
        told, inner, outer = max(plain, default=((0.0, 0.0), "", ""))
        if told[0] > _NEARER and told[1] > _APART_M:
            orders = {side: _further_m(surveyed, index_of, limb[0], inner, outer, side) for side in SIDE_SUFFIXES}
            for side, further in orders.items():
                if further < -_FURTHER_M and orders[OTHER_SUFFIX[side]] > _FURTHER_M:
                    found.append(Swap(index_of[inner + side], index_of[outer + side], 0, frames, True))
    return found


def _nearer_to_other_side(
    surveyed: Survey, index_of: Mapping[str, int], first: str, second: str, companions: Sequence[str]
) -> tuple[float, float] | None:
    """How many times nearer the distances of two landmarks to companions come to the other side's when their labels are exchanged
    on one side, and how far they were from them, metres; None when too few are there on both sides. Names without their sides."""
    sides = []
    for side in SIDE_SUFFIXES:
        pair = [index_of.get(name + side) for name in (first, second)]
        beside = [index_of.get(name + side, -1) for name in companions if name not in (first, second)]
        if None in pair:
            return None
        own = surveyed.usual_m[np.ix_(np.array(pair, dtype=np.int64), np.array(beside, dtype=np.int64))]
        sides.append(np.where(np.array(beside) < 0, np.nan, own))
    left, right = sides
    as_is, exchanged = np.abs(left - right).sum(axis=0), np.abs(left - right[::-1]).sum(axis=0)
    known = np.isfinite(as_is) & np.isfinite(exchanged)
    if known.sum() < _LEAST_COMPANIONS:
        return None
    before, after = float(as_is[known].mean()), float(exchanged[known].mean())
    return before / max(after, 1e-9), before


def _further_m(surveyed: Survey, index_of: Mapping[str, int], root: Sequence[str], inner: str, outer: str, side: str) -> float:
    """By how much the outer landmark lies further from the root of the limb than the inner one, metres; NaN without a root."""
    roots = [index_of[name + side] for name in root if name + side in index_of]
    if not roots:
        return float("nan")
    return float((surveyed.usual_m[index_of[outer + side], roots] - surveyed.usual_m[index_of[inner + side], roots]).mean())
