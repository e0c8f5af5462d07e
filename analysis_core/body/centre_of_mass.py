"""Whole-body centre of mass from joint centres and the head's frame."""

from __future__ import annotations

import numpy as np

from ..take import Floats
from .anatomy import HEAD_CENTRE_TO_VERTEX, PAIRED_SEGMENTS, SEGMENT_MASSES, SIDE_SUFFIXES, USUAL_STATURE_M
from .geometry import apply
from .posed import Posed


def centre_of_mass(posed: Posed, womens_share: float = 0.5) -> tuple[Floats, Floats]:
    """Centre of mass (F, 3) in metres and the share of the body's mass that was known (F,).

    Missing segments are left out and the rest renormalised; NaN with half of the body or where a trunk that is seen
    elsewhere is lost. womens_share mixes the tables for women (1) and men (0): the sex
    is not asked; the difference between them is below 10 mm. Adult proportions. Source: de Leva 1996.
    """
    joints = posed.joints
    mid_hip = 0.5 * (joints["hip.L"] + joints["hip.R"])
    vertex = joints["head"] + apply(
        posed.rotations["head"], np.array([0.0, HEAD_CENTRE_TO_VERTEX * np.nan_to_num(posed.stature_m, nan=USUAL_STATURE_M), 0.0])
    )
    ends = {"head": (vertex, joints["neck"]), "trunk": (joints["neck"], mid_hip)}
    for suffix in SIDE_SUFFIXES:
        ends |= {
            "upper_arm" + suffix: (joints["shoulder" + suffix], joints["elbow" + suffix]),
            "forearm" + suffix: (joints["elbow" + suffix], joints["wrist" + suffix]),
            "hand" + suffix: (joints["wrist" + suffix], joints["hand" + suffix]),
            "thigh" + suffix: (joints["hip" + suffix], joints["knee" + suffix]),
            "shank" + suffix: (joints["knee" + suffix], joints["ankle" + suffix]),
            "foot" + suffix: (joints["heel" + suffix], joints["toe" + suffix]),
        }
    weighted = np.zeros((posed.frames, 3))
    known = np.zeros(posed.frames)
    total = 0.0
    for name, (proximal, distal) in ends.items():
        table = SEGMENT_MASSES[name.partition(".")[0]]
        mass = womens_share * table.mass[0] + (1 - womens_share) * table.mass[1]
        centre = womens_share * table.centre[0] + (1 - womens_share) * table.centre[1]
        position = proximal + centre * (distal - proximal)
        there = np.isfinite(position).all(axis=1)
        weighted[there] += mass * position[there]
        known += mass * there
        total += mass
    share = known / total
    # Below half of the body the sum says nothing about the whole. Without the trunk it lies decimetres beside it: a trunk that is
    # lost for a while would make the whole body leap; one that is never seen leaves a sum that still falls as the body does.
    trunk = np.isfinite(joints["neck"] + mid_hip).all(axis=1)
    enough = (share > 0.5) & (trunk | ~trunk.any())
    result = np.full((posed.frames, 3), np.nan)
    result[enough] = weighted[enough] / known[enough, None]
    return result, share


def mass_sums() -> tuple[float, float]:
    """Sum of all segments' shares of the mass, women and men (de Leva 1996: 0.9999 and 1.0000)."""
    sums = [0.0, 0.0]
    for name, segment in SEGMENT_MASSES.items():
        for sex in (0, 1):
            sums[sex] += segment.mass[sex] * (2 if name in PAIRED_SEGMENTS else 1)
    return sums[0], sums[1]
