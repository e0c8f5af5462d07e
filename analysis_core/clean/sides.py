"""Left and right exchanged in the labels of a whole body part from the first frame to the last: told by how a body is built."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_SEGMENTS, FRONT_AND_BACK, LEG_SEGMENTS, PARENTS
from ..known import nothing_known_gives_nan
from ..take import Floats
from .swaps import Swap

#: Parts whose sides lie to the left and right of the trunk whatever the dancer does, with how far apart they must lie the wrong
#: way round (median, metres) to be called exchanged. Thighs cross for moments only. Proposed defaults.
_BESIDE_TRUNK = {"pelvis": 0.03, "clavicle": 0.05, "head": 0.03, "thigh": 0.06}
#: Parts that are told by the part that they hang on: markers stay nearer to their own side's.
_HANGS_ON = {part: PARENTS[part + ".L"].removesuffix(".L") for part in (*LEG_SEGMENTS[1:], *ARM_SEGMENTS)}
#: The other side's markers must be nearer by this share (of 15 real takes rightly labelled own by other is at most 0.89) and
#: wander no more than this, metres, unless they are nearer by far. Proposed defaults.
_NEARER, _FAR_NEARER, _AS_STEADY_M = 0.95, 0.8, 0.01
#: Lying the wrong way round counts when it is so in this share of the frames. Proposed default.
_MOSTLY = 0.8
#: Parts that must agree on where the front is: one alone may have its own labels exchanged.
_LEAST_FRONTS = 2
#: Frames that are looked at, evenly spread: what holds throughout shows in these.
_MOST_FRAMES = 300


class _Places:
    """Landmarks (F, 3) by name in the frames that are looked at; NaN where one was not seen."""

    def __init__(self, positions: Floats, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> None:
        some = positions[:: max(1, len(positions) // _MOST_FRAMES)]
        self.index_of = {name: index for index, name in landmark_of.items()}
        self._places = {name: some[:, index] for name, index in self.index_of.items()}
        self._seen = {name for name, place in self._places.items() if np.isfinite(place).any()}
        self._part_of = {landmark_of[index]: part.partition(".")[0] for index, part in segment_of.items() if index in landmark_of}
        self.exchanged: set[str] = set()

    def middle(self, names: Iterable[str]) -> Floats | None:
        """Mean (F, 3) of the landmarks that are ever seen, whatever their side; a frame without one of them is NaN."""
        there = [place for name, place in self._places.items() if name.partition(".")[0] in names and name in self._seen]
        return np.mean(there, axis=0) if there else None

    def pairs(self, part: str) -> list[tuple[str, str]]:
        """Landmarks of a part that are there on both sides, left first."""
        lefts = [name for name, of in self._part_of.items() if of == part and name.endswith(".L")]
        return [(left, left[:-1] + "R") for left in lefts if left[:-1] + "R" in self._places]

    def side(self, part: str, suffix: int) -> Floats | None:
        """Middle (F, 3) of the paired landmarks of a part on its left (0) or right (1), what was found exchanged put right."""
        names = [pair[suffix ^ (part in self.exchanged)] for pair in self.pairs(part) if set(pair) <= self._seen]
        return np.mean([self._places[name] for name in names], axis=0) if names else None

    def parts(self, part: str) -> set[str]:
        return {name.partition(".")[0] for name, of in self._part_of.items() if of == part}


def find_exchanged_sides(positions: Floats, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> list[Swap]:
    """Pairs of markers (F, N, 3) whose labels are exchanged from the first frame to the last; none where it cannot be told.

    landmark_of, segment_of: by marker index. Missing samples are passed over. The front of the body is where pelvis, trunk, head
    and feet together have theirs; pelvis, shoulders, head and thighs have their left to the left of it, and a limb's parts lie
    nearer to their own side. Source: the construction of a body; the amounts are proposed defaults.
    """
    places = _Places(positions, landmark_of, segment_of)
    with nothing_known_gives_nan():
        leftward = _leftward(places)
        if leftward is None:
            return []
        for part, least in _BESIDE_TRUNK.items():
            if _lies_the_wrong_way_round(places, part, leftward, least):
                places.exchanged.add(part)
        for part, on in _HANGS_ON.items():
            if _hangs_on_the_other_side(places, part, on):
                places.exchanged.add(part)
    pairs = [pair for part in sorted(places.exchanged) for pair in places.pairs(part)]
    return [Swap(places.index_of[left], places.index_of[right], 0, len(positions), True) for left, right in pairs]


def _leftward(places: _Places) -> Floats | None:
    """Unit vectors (F, 3) to the left of a body whose front is known; None when too few parts tell it."""
    low, high = places.middle(places.parts("pelvis")), places.middle(places.parts("thorax") | places.parts("head"))
    if low is None or high is None:
        return None
    along = high - low
    fronts = []
    for front, back in FRONT_AND_BACK.values():
        ahead, behind = places.middle(front), places.middle(back)
        if ahead is not None and behind is not None:
            forward = ahead - behind
            fronts.append(forward / np.linalg.norm(forward, axis=1, keepdims=True))
    if len(fronts) < _LEAST_FRONTS:
        return None
    left = np.cross(along, np.nanmean(fronts, axis=0))
    return np.asarray(left / np.linalg.norm(left, axis=1, keepdims=True))


def _lies_the_wrong_way_round(places: _Places, part: str, leftward: Floats, least_m: float) -> bool:
    left, right = places.side(part, 0), places.side(part, 1)
    if left is None or right is None:
        return False
    apart = ((left - right) * leftward).sum(axis=1)
    seen: NDArray[np.bool_] = np.isfinite(apart)
    if not seen.any():
        return False
    return bool(np.median(apart[seen]) < -least_m and (apart[seen] < 0).mean() > _MOSTLY)


def _hangs_on_the_other_side(places: _Places, part: str, on: str) -> bool:
    """Whether a part keeps nearer, and as steady a distance or a steadier one, to the other side of what it hangs on."""
    left, right, above_left, above_right = [places.side(name, suffix) for name in (part, on) for suffix in (0, 1)]
    if left is None or right is None or above_left is None or above_right is None:
        return False
    own = [np.linalg.norm(left - above_left, axis=1), np.linalg.norm(right - above_right, axis=1)]
    other = [np.linalg.norm(left - above_right, axis=1), np.linalg.norm(right - above_left, axis=1)]
    by = np.nanmedian(other) / np.nanmedian(own)
    return bool(by < _FAR_NEARER or (by < _NEARER and _wander(other) < _wander(own) + _AS_STEADY_M))


def _wander(distances: list[Floats]) -> float:
    """How far distances (F,) go up and down, rare samples left out: mean over the two sides."""
    low, high = np.nanpercentile(distances, [10, 90], axis=1)
    return float(np.nanmean(high - low))
