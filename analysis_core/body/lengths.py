"""The lengths of this dancer's body, learnt from a whole movement and held against a human body.

No moment of standing is needed: every length is a median over the take. What no body has is drawn back to the nearest that a
body has; left and right are made alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..medians import median_of_known
from ..take import Floats
from .anatomy import HAND_SHARE, HEAD_M, HEAD_PER_M, LENGTHS, STATURE_M, THIGH_OF_LEG, USUAL_STATURE_M
from .movement import FOOT_POINTS, SUFFIXES, Movement

#: What says how tall the dancer is: share of stature, and how much it counts. Legs are seen best; hats and shoes count least.
_TALL = {"leg": 3.0, "trunk": 1.0, "arm": 1.0, "foot": 0.5, "hips_to_head": 1.0}
_HIPS_TO_HEAD_SHARE = 0.404
#: Points of the foot above its sole, part of the foot's length; and the least share of a usual ankle's height that is believed.
_POINTS_ABOVE_SOLE, _LEAST_ANKLE = 0.065, 0.6


@dataclass(frozen=True)
class Lengths:
    """Metres. hips and shoulders: from left to right. trunk: from the middle of the hips to the base of the neck. ankle_height:
    ankle joint above the sole. head: chin to crown."""

    stature: float
    thigh: float
    shank: float
    ankle_height: float
    hips: float
    trunk: float
    shoulders: float
    upper_arm: float
    forearm: float
    hand: float
    foot: float
    head: float


def _apart(movement: Movement, first: str, second: str) -> float:
    """Median distance of two joints."""
    return float(median_of_known(np.linalg.norm(movement.joint(first) - movement.joint(second), axis=1)))


def _both(movement: Movement, first: str, second: str) -> Floats:
    """Median distances (2,) of two joints, left and right."""
    return np.array([_apart(movement, first + suffix, second + suffix) for suffix in SUFFIXES.values()])


def _ankle_heights(movement: Movement) -> Floats:
    """Ankle joints (2,) above the soles, told in the foot itself: no floor is needed. NaN where a foot is not known."""
    heights = np.full(2, np.nan)
    for side, suffix in enumerate(SUFFIXES.values()):
        points = movement.foot_points_m[:, side].mean(axis=1)
        up = movement.segment(f"foot{suffix}")[:, :, 1]
        heights[side] = median_of_known(np.einsum("fi,fi->f", movement.joint(f"ankle{suffix}") - points, up))
    return heights + _POINTS_ABOVE_SOLE * LENGTHS["foot"].mean * USUAL_STATURE_M


def soles_believed(movement: Movement) -> NDArray[np.bool_]:
    """Whether the points of the left and right foot (2,) lie below its ankle, as a foot's do."""
    believed: NDArray[np.bool_] = _ankle_heights(movement) > _LEAST_ANKLE * LENGTHS["ankle_height"].mean * USUAL_STATURE_M
    return believed


def _stature(candidates: dict[str, float]) -> float:
    """The weighted median of what each length says."""
    known = sorted((value, _TALL[name]) for name, value in candidates.items() if np.isfinite(value))
    if not known:
        return USUAL_STATURE_M
    values, weights = (np.array(column) for column in zip(*known, strict=True))
    middles = np.cumsum(weights) - weights / 2.0
    return float(np.clip(np.interp(weights.sum() / 2.0, middles, values), *STATURE_M))


def _human(name: str, stature: float, *found: float) -> float:
    """A length of this dancer, found once or on both sides: their mean, the more human side counting more, drawn back to what a
    body has."""
    share, spread = LENGTHS[name].mean, LENGTHS[name].spread
    values = np.array(found) / stature
    values = values[np.isfinite(values)]
    if not values.size:
        return share * stature
    weights = 1.0 / (spread**2 + (values - share) ** 2)
    return float(np.clip(np.average(values, weights=weights), share - spread, share + spread) * stature)


def lengths_of(movement: Movement) -> Lengths:
    """Learn the lengths of a dancer; what a movement does not show is of usual proportion."""
    thigh, shank = _both(movement, "hip", "knee"), _both(movement, "knee", "ankle")
    ankle = _ankle_heights(movement)
    usual_ankle = LENGTHS["ankle_height"].mean / LENGTHS["leg"].mean * (thigh + shank)
    ankle = np.where(ankle > _LEAST_ANKLE * usual_ankle, ankle, usual_ankle)
    # An ankle joint that is put too high makes a short shank and a high foot: together they are still the leg.
    legs = thigh + shank + ankle
    upper_arm, forearm = _both(movement, "shoulder", "elbow"), _both(movement, "elbow", "wrist")
    foot = median_of_known(
        np.linalg.norm(np.diff(movement.foot_points_m[:, :, [0, FOOT_POINTS.index("toe")]], axis=2)[:, :, 0], axis=-1)
    )
    trunk = _apart(movement, "pelvis", "neck")
    stature = _stature(
        {
            "leg": float(median_of_known(legs)) / LENGTHS["leg"].mean,
            "trunk": trunk / LENGTHS["trunk"].mean,
            "arm": float(median_of_known(upper_arm + forearm)) / (LENGTHS["upper_arm"].mean + LENGTHS["forearm"].mean),
            "foot": float(median_of_known(foot)) / LENGTHS["foot"].mean,
            "hips_to_head": _apart(movement, "pelvis", "head") / _HIPS_TO_HEAD_SHARE,
        }
    )
    ankle_height = _human("ankle_height", stature, *ankle)
    leg = _human("leg", stature, *legs) - ankle_height
    shares = thigh / (legs - ankle_height)
    found = float(median_of_known(shares)) if np.isfinite(shares).any() else THIGH_OF_LEG.mean
    share = float(np.clip(found, THIGH_OF_LEG.mean - THIGH_OF_LEG.spread, THIGH_OF_LEG.mean + THIGH_OF_LEG.spread))
    return Lengths(
        stature=stature,
        thigh=share * leg,
        shank=(1.0 - share) * leg,
        ankle_height=ankle_height,
        hips=_human("hips", stature, _apart(movement, "hip.L", "hip.R")),
        trunk=_human("trunk", stature, trunk),
        shoulders=_human("shoulders", stature, _apart(movement, "shoulder.L", "shoulder.R")),
        upper_arm=_human("upper_arm", stature, *upper_arm),
        forearm=_human("forearm", stature, *forearm),
        hand=HAND_SHARE * stature,
        foot=_human("foot", stature, *foot),
        head=HEAD_M + HEAD_PER_M * (stature - USUAL_STATURE_M),
    )
