"""Markers that are nowhere near the body part of their name from the first frame to the last.

One that lies on the floor, is in another unit than the others, or bears the label of a marker on another limb is far from all the
markers beside it, or its distances to them all go up and down as no joint lets them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import OTHER_SUFFIX, PARENTS
from ..take import Floats
from .rigidity import Survey, quantile
from .swaps import Swap

#: A marker is out of place when all markers of its body part and the adjoining ones but one are further from it than this, or go
#: up and down by more than that (80 % of the frames), metres. Of 29 real takes the greatest are 0.41 and 0.04. Proposed defaults.
_FAR_M, _WANDERS_M = 0.60, 0.12
#: ... or when it goes less far than this share of what they go, while they go so far, metres (96 % of the frames; of 29 real
#: takes the least is 0.5), and its distances to all of them but one change by more than the last: the heel that somebody lies
#: down over stays where it is, too. Proposed defaults.
_STAYS, _GOES_M, _HOLDS_M = 0.1, 0.15, 0.03
#: Exchanging two labels explains it when both are in place then, to this share of those limits, and their distances to the rest
#: are those of the other side to within this, metres (mean), and so many times nearer to them than by the next best exchange.
_IN_PLACE, _AS_OTHER_M, _NEARER = 0.75, 0.05, 1.5
#: More of the markers than this out of place are no matter of single ones: something else is wrong, and nothing is told.
_MOST = 0.25
#: Frames that are looked at, evenly spread.
_MOST_FRAMES = 240
#: So few markers on its body part and the adjoining ones tell nothing of one.
_FEWEST_MATES = 3


@dataclass(frozen=True)
class OutOfPlace:
    """exchanged: pairs that bear each other's label, of which one is out of place; lost: markers of which no such is known."""

    exchanged: tuple[Swap, ...]
    lost: tuple[int, ...]


class _Places:
    """How well any marker fits the place of any label, by distances (N, N) and how far they go up and down."""

    def __init__(
        self, positions: Floats, surveyed: Survey, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]
    ) -> None:
        self.surveyed = surveyed
        self.some = positions[:: max(1, len(positions) // _MOST_FRAMES)]
        self.reach_m = np.linalg.norm(_range(self.some), axis=1)
        self.named = sorted(index for index in landmark_of if index in segment_of)
        self.mates = _mates(len(surveyed.usual_m), self.named, segment_of)
        index_of = {name: index for index, name in landmark_of.items()}
        self.mirror = np.arange(len(surveyed.usual_m))
        self.sided = np.zeros(len(surveyed.usual_m), dtype=np.bool_)
        for name, index in index_of.items():
            other = index_of.get(name[:-2] + OTHER_SUFFIX.get(name[-2:], ""))
            if other is not None:
                self.mirror[index], self.sided[index] = other, True

    def misfit(self, label: int, markers: NDArray[np.int64]) -> Floats:
        """By how many times the limits each of some markers (K,) is out of the place of a label; NaN where nobody can tell."""
        mates = np.flatnonzero(self.mates[label])
        rows = np.ix_(markers, mates)
        own = markers[:, None] == mates
        far = _second(np.where(own, np.nan, self.surveyed.usual_m[rows])) / _FAR_M
        known = np.isfinite(self.surveyed.spread_m[rows]) & ~own
        wanders = _second(np.where(known, self.surveyed.spread_m[rows], np.nan)) / _WANDERS_M
        go = _second(np.where(own, np.nan, self.reach_m[mates]))
        stays = np.where(go > _GOES_M, _STAYS * go / np.fmax(self.reach_m[markers], 1e-9), 0.0)
        for place in np.flatnonzero(stays > 1.0).tolist():
            if self.holds(int(markers[place]), mates):
                stays[place] = 0.0
        return np.asarray(np.fmax(np.maximum(far, stays), wanders))

    def holds(self, marker: int, mates: NDArray[np.int64]) -> bool:
        """Whether a marker keeps its distances to two of its mates."""
        others = mates[mates != marker]
        change = _range(np.linalg.norm(self.some[:, [marker]] - self.some[:, others], axis=2))
        return bool(_second(change[None])[0] < _HOLDS_M)

    def out_of_place(self) -> list[int]:
        """Markers that are out of the place of their label, the plainest first, each without those before; none of many."""
        out: list[int] = []
        while len(out) <= _MOST * len(self.named):
            misfits = {one: float(np.nan_to_num(self.misfit(one, np.array([one]))[0])) for one in self.named if one not in out}
            worst = max(misfits, key=lambda one: misfits[one], default=None)
            if worst is None or misfits[worst] <= 1.0:
                return out
            out.append(worst)
            # What is out of place is no evidence against others.
            self.mates[:, worst] = False
        return []

    def off_other_side_m(self, label: int, marker: int, without: NDArray[np.int64]) -> float:
        """How far distances of a marker are from those on the other side, mean over what is beside it, metres; NaN if untold."""
        known = np.flatnonzero(self.mates[label])
        rest = np.setdiff1d(known, [label, marker, self.mirror[label], self.mirror[marker], *without, *self.mirror[without]])
        if not self.sided[label] or self.mirror[label] == marker or not rest.size:
            return float("nan")
        usual = self.surveyed.usual_m
        return float(np.nanmean(np.abs(usual[marker, rest] - usual[self.mirror[label], self.mirror[rest]])))


def _mates(markers: int, named: list[int], segment_of: Mapping[int, str]) -> NDArray[np.bool_]:
    """Which markers (N, N) sit on the same body part or on an adjoining one."""
    mates = np.zeros((markers, markers), dtype=np.bool_)
    for one in named:
        part = segment_of[one]
        mates[one, [other for other in named if other != one and _adjoin(part, segment_of[other])]] = True
    return mates


def _range(values: Floats) -> Floats:
    """How far values (F, …) go in all frames but 4 %, (…)."""
    return np.asarray(quantile(values, 0.98) - quantile(values, 0.02))


def _adjoin(part: str, other: str) -> bool:
    return part == other or PARENTS.get(part) == other or PARENTS.get(other) == part


def _second(values: Floats) -> Floats:
    """The second smallest of each row (K, M), NaN left out; NaN where too few are known."""
    if values.shape[1] < _FEWEST_MATES:
        return np.full(values.shape[0], np.nan)
    return np.where(np.isfinite(values).sum(axis=1) < _FEWEST_MATES, np.nan, np.sort(values, axis=1)[:, 1])


def find_off_body(
    positions: Floats, surveyed: Survey, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]
) -> list[int]:
    """Markers of positions (F, N, 3) that are neither where their label says nor where it would be on the other side.

    surveyed: distances of theirs; missing samples are passed over. landmark_of, segment_of: by marker index. Markers with fewer
    than three others on their body part and the adjoining ones are passed over.
    """
    places = _Places(positions, surveyed, landmark_of, segment_of)
    fits = {one: places.misfit(int(places.mirror[one]), np.array([one]))[0] <= 1.0 for one in places.out_of_place()}
    return [one for one, there in fits.items() if not there]


def find_out_of_place(
    positions: Floats, surveyed: Survey, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]
) -> OutOfPlace:
    """Markers that are not where their label says, and what labels were exchanged where that explains it; as ``find_off_body``,
    left and right as they belong (``find_exchanged_sides``)."""
    places = _Places(positions, surveyed, landmark_of, segment_of)
    out = places.out_of_place()
    exchanged: list[Swap] = []
    put_right: set[int] = set()
    for one in out:
        other = _exchanged_with(places, one, out) if one not in put_right else None
        if other is not None:
            exchanged.append(Swap(one, other, 0, len(positions), True))
            put_right |= {one, other}
    return OutOfPlace(tuple(exchanged), tuple(sorted(set(out) - put_right)))


def _exchanged_with(places: _Places, one: int, out: list[int]) -> int | None:
    """The marker that bears the label of one that is out of place, and gave it its own; None where that is not plain."""
    others = np.array([index for index in places.named if index != one])
    fits = np.maximum(places.misfit(one, others), [places.misfit(other, np.array([one]))[0] for other in others.tolist()])
    likely = others[fits < _IN_PLACE]
    told = []
    for other in likely.tolist():
        rest = np.array([index for index in out if index not in (one, other)], dtype=np.int64)
        off = [places.off_other_side_m(label, marker, rest) for label, marker in ((one, other), (other, one))]
        if np.isfinite(off).any():
            told.append((float(np.nanmean(off)), other))
    told.sort()
    plain = told and told[0][0] < _AS_OTHER_M and (len(told) == 1 or told[1][0] > _NEARER * told[0][0])
    return told[0][1] if plain else None
