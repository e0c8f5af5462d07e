"""Whether holding the feet jerks them: accelerations where contacts change and of straight knees, before and after."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import SIDE_SUFFIXES, SIDES
from ..body.movement import SEGMENTS
from ..phrase.phase import Contact
from ..phrase.signals import derivative
from ..take import Floats
from .legs import legs_of
from .limits import limits
from .skeleton import Skeleton

_ANKLES = tuple(SEGMENTS.index("foot" + suffix) for suffix in SIDE_SUFFIXES)


@dataclass(frozen=True)
class Smoothness:
    """95 % and greatest: ankle_m_s2 (2,) within a tenth of a second of where a contact begins or ends; knee_rad_s2 (2,) of knees
    that are nearly straight, likewise there."""

    ankle_m_s2: tuple[float, float]
    knee_rad_s2: tuple[float, float]


def _near_changes(contacts: tuple[Contact, ...], side: str, rate_hz: float, frames: int) -> NDArray[np.bool_]:
    """Frames (F,) near the ends of a foot's contacts; the ends of the take are none."""
    near = np.zeros(frames, dtype=bool)
    for contact in contacts:
        if contact.foot != side:
            continue
        for time in (contact.start_s, contact.end_s):
            if 0.0 < time < (frames - 1) / rate_hz:
                half = limits()["smoothness"]["near_change_s"]
                near[max(0, round((time - half) * rate_hz)) : round((time + half) * rate_hz) + 1] = True
    return near


def _high(values: list[Floats]) -> tuple[float, float]:
    every = np.concatenate(values)
    every = every[np.isfinite(every)]
    return (float(np.quantile(every, 0.95)), float(every.max())) if every.size else (0.0, 0.0)


def smoothness(skeleton: Skeleton, contacts: tuple[Contact, ...], straight: NDArray[np.bool_] | None = None) -> Smoothness:
    """Accelerations of a skeleton where its contacts change. straight (F, 2): knees that count, those of the skeleton if None."""
    heads, limit, rate = skeleton.heads_m, limits()["smoothness"], skeleton.rate_hz
    window = max(limit["window_s"], 4.0 / rate)
    knees = legs_of(skeleton).bend
    straight = straight_knees(skeleton) if straight is None else straight
    ankles, bends = [], []
    for side, name in enumerate(SIDES):
        near = _near_changes(contacts, name, rate, skeleton.frames)
        ankles.append(np.linalg.norm(derivative(heads[:, _ANKLES[side]], rate, 2, window), axis=1)[near])
        bend, is_straight = knees[:, side], straight[:, side]
        bends.append(np.abs(derivative(bend, rate, 2, window))[near & is_straight])
    return Smoothness(_high(ankles), _high(bends))


def straight_knees(skeleton: Skeleton) -> NDArray[np.bool_]:
    """Whether (F, 2) a knee is so near to straight that a millimetre of reach is degrees of bend."""
    knees = legs_of(skeleton).bend
    return np.asarray(knees < np.radians(limits()["smoothness"]["straight_deg"]))
