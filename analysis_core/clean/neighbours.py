"""Neighbours of one side that bear each other's label from the first frame to the last: told by how a body is built.

Heel and toes, front and back, inner and outer side: which lies where is told by joints that bend one way only and by the fronts
of all other body parts, never by the markers in question.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ACROSS_BALL, BESIDE_JOINT, FOREFOOT, HEEL, HIP_BONES, OPPOSITE, SIDE_SIGNS, SIDE_SUFFIXES
from ..body.geometry import unit
from ..known import nothing_known_gives_nan
from ..take import Floats
from .swaps import Swap

_KNEE, _ANKLE, _ELBOW, _WRIST = (BESIDE_JOINT[joint] for joint in ("knee", "ankle", "elbow", "wrist"))
#: A pair lies the wrong way round when the cosine of its angle to where it belongs is below −this (median of the frames), and
#: above 0 in no more than so many of them. Of 17 real and 120 simulated takes rightly labelled the least median is 0.45 for
#: heels, fronts, knees, ankles and elbows (of 29 real takes 0.5 for ankles against heels and toes). A wrist turns by 160°: there
#: it is −0.4, of real ones 0.6. Proposed defaults.
_REVERSED, _REVERSED_WRIST, _SELDOM = 0.3, 0.5, 0.05
#: A joint tells its axis when it is bent by so much (sine) in so many of the frames that are looked at.
_BENT, _LEAST_BENT = 0.35, 12
#: The front of the body is told by so many other pairs at least.
_LEAST_FRONTS = 3
#: More pairs than this share lying wrong are no exchanged labels: another thing is wrong, and nothing is told of it here.
_MOST_REVERSED = 0.5
#: Frames that are looked at, evenly spread: what holds throughout shows in these.
_MOST_FRAMES = 120


@dataclass(frozen=True)
class _Lie:
    """How a pair lies: whether the wrong way round, and by how much the first lies where it should from the second, metres."""

    first: str
    second: str
    reversed: bool
    ahead_m: float


class _Limbs:
    """Places (K, 3) of landmarks in the frames that are looked at, and which way is ahead and outward by how joints bend."""

    def __init__(self, positions: Floats, landmark_of: Mapping[int, str]) -> None:
        frames = np.unique(np.linspace(0, len(positions) - 1, _MOST_FRAMES).astype(np.int64))
        self.places = {name: positions[frames, index] for index, name in landmark_of.items()}
        bends = {side: self._leg(side) for side in SIDE_SUFFIXES}
        self.outward = {side: bend[0] for side, bend in bends.items() if bend is not None}
        self.knee_ahead = {side: bend[1] for side, bend in bends.items() if bend is not None}
        self.fronts = self._fronts()
        every = [*self.fronts.values(), *(np.nan_to_num(ahead) for ahead in self.knee_ahead.values())]
        self.front = np.sum(every, axis=0) if len(every) > _LEAST_FRONTS else None

    def has(self, *names: str) -> bool:
        return all(name in self.places for name in names)

    def put_right(self, lies: Sequence[_Lie]) -> None:
        """Exchange the places of pairs back."""
        for lie in lies:
            self.places[lie.first], self.places[lie.second] = self.places[lie.second], self.places[lie.first]

    def _fronts(self) -> dict[tuple[str, str], Floats]:
        """Unit vectors (K, 3) from back to front by pair; 0 where one of the two is not seen."""
        pairs = [(front + side, back + side) for front, back in OPPOSITE for side in (*SIDE_SUFFIXES, "")]
        return {
            (front, back): np.nan_to_num(unit(self.places[front] - self.places[back]))
            for front, back in pairs
            if self.has(front, back)
        }

    def middle(self, names: Sequence[str], side: str) -> Floats | None:
        """Middle (K, 3) of the landmarks of a side that are there."""
        there = [self.places[name + side] for name in names if name + side in self.places]
        return np.asarray(np.mean(there, axis=0)) if there else None

    def _leg(self, side: str) -> tuple[Floats, Floats] | None:
        """Unit vectors (K, 3) outward along the knee's axis and ahead of the shank, NaN where the knee is not bent."""
        told = self._hinge(HIP_BONES, _KNEE, _ANKLE, side)
        if told is None:
            return None
        axis, along = told
        # Knees fold backwards: the axis of the bend points to the dancer's left on either leg.
        return axis * -SIDE_SIGNS[SIDE_SUFFIXES.index(side)], np.cross(along, axis)

    def elbow(self, side: str) -> tuple[Floats, Floats] | None:
        """Unit vectors (K, 3) outward along the elbow's axis, and across the forearm towards the thumb's half of its turning."""
        told = self._hinge(("acromion",), _ELBOW, _WRIST, side)
        if told is None:
            return None
        axis, along = told
        # Elbows fold forwards; the thumb goes from the outer side over the side of the upper arm to the inner side, never below.
        return axis * SIDE_SIGNS[SIDE_SUFFIXES.index(side)], np.cross(axis, along)

    def _hinge(self, near: Sequence[str], joint: Sequence[str], far: Sequence[str], side: str) -> tuple[Floats, Floats] | None:
        """Axis (K, 3) of a bent joint, near × far segment, and the direction (K, 3) of the far segment; None when never bent."""
        ends = [self.middle(names, side) for names in (near, joint, far)]
        if any(end is None for end in ends):
            return None
        above, at, below = (np.asarray(end) for end in ends)
        upper, lower = unit(at - above), unit(below - at)
        across = np.cross(upper, lower)
        size = np.linalg.norm(across, axis=1)
        bent: NDArray[np.bool_] = size > _BENT
        if bent.sum() < _LEAST_BENT:
            return None
        return np.where(bent[:, None], across / np.fmax(size, _BENT)[:, None], np.nan), lower


def find_exchanged_neighbours(positions: Floats, landmark_of: Mapping[int, str]) -> list[Swap]:
    """Pairs of markers of positions (F, N, 3) whose labels are exchanged from the first frame to the last, on one side or both.

    landmark_of: by marker index, left and right as they belong (``find_exchanged_sides``). Missing samples are passed over; none
    where it cannot be told. Source: the construction of a body; the amounts are proposed defaults.
    """
    index_of = {name: index for index, name in landmark_of.items()}
    with nothing_known_gives_nan():
        limbs = _Limbs(positions, landmark_of)
        judged = [*_fronts(limbs), *_feet(limbs), *_hinges(limbs)]
        limbs.put_right(_reversed(judged))
        # A foot with one toe marker tells heels by it, so that one comes first.
        for tell in (_behind_toes, _before_heels, _by_feet):
            told = list(tell(limbs))
            limbs.put_right(_reversed(told))
            judged += told
    found = _reversed(judged)
    if len(found) > _MOST_REVERSED * len(judged):
        return []
    return [Swap(index_of[one.first], index_of[one.second], 0, len(positions), True) for one in found]


def _lies(limbs: _Limbs, first: str, second: str, there: Floats) -> _Lie:
    """How two landmarks lie along directions (K, 3), where the first should lie from the second."""
    apart = limbs.places[first] - limbs.places[second]
    ahead = np.einsum("ki,ki->k", apart, there)
    cosine = ahead / np.linalg.norm(apart, axis=1)
    known = np.isfinite(cosine)
    if known.sum() < _LEAST_BENT or (cosine[known] > 0).mean() > _SELDOM:
        return _Lie(first, second, reversed=False, ahead_m=0.0)
    least = _REVERSED_WRIST if first.partition(".")[0] in _WRIST else _REVERSED
    return _Lie(first, second, bool(np.median(cosine[known]) < -least), float(np.median(ahead[known])))


def _fronts(limbs: _Limbs) -> Iterator[_Lie]:
    """Pairs that lie one behind the other, held against the front that all others have together."""
    if limbs.front is None:
        return
    for pair, way in limbs.fronts.items():
        yield _lies(limbs, *pair, unit(limbs.front - way))


def _feet(limbs: _Limbs) -> Iterator[_Lie]:
    """Heels and toes, held against where the knee bends to; where it does not, against the front of the body."""
    for side in SIDE_SUFFIXES:
        ahead = limbs.knee_ahead.get(side, None if limbs.front is None else unit(limbs.front))
        for toe in FOREFOOT:
            if ahead is not None and limbs.has(toe + side, HEEL + side):
                yield _lies(limbs, toe + side, HEEL + side, ahead)


def _hinges(limbs: _Limbs) -> Iterator[_Lie]:
    """Pairs inside and outside of a knee or an elbow, and at the wrist, held against how knees and elbows bend."""
    for side in SIDE_SUFFIXES:
        directions = [(_KNEE, limbs.outward[side])] if side in limbs.outward else []
        elbow = limbs.elbow(side)
        if elbow is not None:
            directions += [(_ELBOW, elbow[0]), (_WRIST, elbow[1])]
        for (first, second), outward in directions:
            if limbs.has(first + side, second + side):
                yield _lies(limbs, first + side, second + side, outward)


def _behind_toes(limbs: _Limbs) -> Iterator[_Lie]:
    """Ankles behind and above toes, by where knee and heel are from the middle of the two: that is the same exchanged."""
    for side in SIDE_SUFFIXES:
        heel, knee = limbs.middle((HEEL,), side), limbs.middle(_KNEE, side)
        if heel is None or knee is None:
            continue
        for ankle, toe in product(_ANKLE, FOREFOOT):
            if limbs.has(ankle + side, toe + side):
                middle = 0.5 * (limbs.places[ankle + side] + limbs.places[toe + side])
                yield _lies(limbs, ankle + side, toe + side, unit(unit(knee - middle) + unit(heel - middle)))


def _before_heels(limbs: _Limbs) -> Iterator[_Lie]:
    """Ankles before and above heels, by where knee and toes are from the middle of the two."""
    for side in SIDE_SUFFIXES:
        toes, knee = limbs.middle(FOREFOOT, side), limbs.middle(_KNEE, side)
        if toes is None or knee is None:
            continue
        for ankle in _ANKLE:
            if limbs.has(ankle + side, HEEL + side):
                middle = 0.5 * (limbs.places[ankle + side] + limbs.places[HEEL + side])
                along, knee_way = unit(toes - middle), unit(knee - middle)
                above = unit(knee_way - np.einsum("ki,ki->k", knee_way, along)[:, None] * along)
                yield _lies(limbs, ankle + side, HEEL + side, unit(above + along))


def _by_feet(limbs: _Limbs) -> Iterator[_Lie]:
    """Pairs inside and outside of ankle and ball, and of a knee that does not bend, held against where the foot points."""
    for side in SIDE_SUFFIXES:
        ends = [limbs.middle(names, side) for names in ((HEEL,), FOREFOOT, _ANKLE, _KNEE)]
        if limbs.front is None or any(end is None for end in ends):
            continue
        heel, toes, ankle, knee = (np.asarray(end) for end in ends)
        outward = unit(np.cross(toes - heel, knee - ankle)) * SIDE_SIGNS[SIDE_SUFFIXES.index(side)]
        for first, second in (_ANKLE, *ACROSS_BALL, *(() if side in limbs.outward else (_KNEE,))):
            if limbs.has(first + side, second + side):
                yield _lies(limbs, first + side, second + side, outward)


def _reversed(judged: Sequence[_Lie]) -> list[_Lie]:
    """Pairs that lie the wrong way round, the plainest first: a marker has exchanged its label with one other only."""
    found: list[_Lie] = []
    for one in sorted(judged, key=lambda lie: lie.ahead_m):
        if one.reversed and not {one.first, one.second} & {n for lie in found for n in (lie.first, lie.second)}:
            found.append(one)
    return found
