"""How far an elbow's marker sits above or below the joint, told by how the arm bends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..take import Floats
from .anatomy import BESIDE_JOINT, SHOULDER_BELOW_ACROMION, SIDE_SUFFIXES
from .geometry import unit

#: An arm that bends less than this (from the 5th to the 95th percentile) tells nothing. Proposed default.
_LEAST_BEND_RAD = np.radians(60.0)
#: Parts of the take that are left out in turn to tell the error.
_PARTS = 8


@dataclass(frozen=True)
class ElbowSeen:
    """above_m: how far a marker is above the joint, towards the shoulder (negative: towards the wrist); sd_m: its 1-SD error."""

    above_m: float
    sd_m: float


def elbows_seen(places: Mapping[str, Floats], stature_m: float) -> dict[str, ElbowSeen]:
    """Where the outer markers of the elbows sit, by side; a side whose arm does not bend enough, or lacks a marker, is missing.

    places: landmarks (F, 3) by name, NaN missing. Two rigid links from shoulder to wrist: of a point ``a`` above their joint, on
    the upper link (length u), the squared distance to the wrist rises with that from shoulder to wrist, by the slope a / u; of a
    point on the lower link likewise from the other end. Source: law of cosines.
    """
    spines = [place for name, place in places.items() if "iliac_spine" in name]
    tops = [places[f"acromion{side}"] for side in SIDE_SUFFIXES if f"acromion{side}" in places]
    if not spines or len(tops) < 2:
        return {}
    down = unit(np.mean(spines, axis=0) - np.mean(tops, axis=0))
    found = {}
    for side in SIDE_SUFFIXES:
        wrists = [places[name + side] for name in BESIDE_JOINT["wrist"] if name + side in places]
        elbow = places.get(BESIDE_JOINT["elbow"][0] + side)
        if not wrists or elbow is None:
            continue
        shoulder = places["acromion" + side] + SHOULDER_BELOW_ACROMION * stature_m * down
        seen = _elbow(shoulder, elbow, np.mean(wrists, axis=0))
        if seen is not None:
            found[side] = seen
    return found


def _elbow(shoulder: Floats, elbow: Floats, wrist: Floats) -> ElbowSeen | None:
    """Where the marker of one elbow (F, 3) sits between shoulder and wrist; None when the arm does not tell."""
    squares = np.stack([((a - b) ** 2).sum(axis=1) for a, b in ((shoulder, elbow), (elbow, wrist), (shoulder, wrist))])
    squares = squares[:, np.isfinite(squares).all(axis=0)]
    if squares.shape[1] < 2 * _PARTS:
        return None
    upper, lower, whole = squares
    bent = np.arccos(np.clip((whole - upper - lower) / (2 * np.sqrt(upper * lower)), -1.0, 1.0))
    if np.subtract(*np.percentile(bent, [95, 5])) < _LEAST_BEND_RAD:
        return None
    parts = np.array_split(np.arange(squares.shape[1]), _PARTS)
    without = np.array([_above(np.delete(squares, part, axis=1)) for part in parts])
    # Jackknife: parts of a dance differ in how the shoulder moves against the trunk.
    sd = float(np.sqrt((_PARTS - 1) / _PARTS * np.sum((without - without.mean()) ** 2)))
    return ElbowSeen(_above(squares), sd)


def _above(squares: Floats) -> float:
    """Metres above the joint from squared distances (3, F): shoulder to elbow, elbow to wrist, shoulder to wrist."""
    upper, lower, whole = squares
    apart = whole - whole.mean()
    by_wrist, by_shoulder = (float(apart @ (square - square.mean()) / (apart @ apart)) for square in (lower, upper))
    above = by_wrist / (1 - by_wrist) * np.sqrt(np.median(upper))
    below = by_shoulder / (1 - by_shoulder) * np.sqrt(np.median(lower))
    return float(above - below)
