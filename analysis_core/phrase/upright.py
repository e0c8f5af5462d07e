"""Who is up on the feet, and who kneels, sits, lies or leans on the hands."""

from __future__ import annotations

import numpy as np

from ..body.anatomy import SIDE_SUFFIXES
from ..body.floor import STANDS_SHARE
from ..body.movement import Movement
from .signals import Mask

#: Hands that are lower over the ground than this share of the leg carry, too. Proposed default.
HANDS_SHARE = 0.12


def stands(movement: Movement) -> Mask:
    """Frames (F,) in which the body is up on its feet alone, or over them in the air: it does not kneel, sit, lie or lean on its
    hands. Lengths are told by the leg, so that a wrong unit changes nothing; what is not seen does not say that it is low."""
    leg = movement.standing.leg_length_m
    ground = np.fmin(movement.ground_m[:, 0], movement.ground_m[:, 1])
    each_hip = [movement.joint("hip" + suffix)[:, 2] for suffix in SIDE_SUFFIXES]
    hips = np.mean(each_hip, axis=0)
    hands = np.fmin.reduce([movement.joint("wrist" + suffix)[:, 2] for suffix in SIDE_SUFFIXES])
    return np.asarray(~((hips - ground < STANDS_SHARE * leg) | (hands - ground < HANDS_SHARE * leg)))
