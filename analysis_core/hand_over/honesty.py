"""Which seconds of a take are measured, filled or unusable for the animator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import LEG_JOINTS, SIDE_SUFFIXES
from ..body.movement import JOINTS, Movement
from ..runs import runs
from ..take import Source

#: Without these joints there is no dancer to hand over; the rest is held where it was last seen, and told.
_NEEDED = tuple(
    JOINTS.index(name)
    for name in ("pelvis", "neck", *(joint + side for side in SIDE_SUFFIXES for joint in (*LEG_JOINTS, "shoulder")))
)


@dataclass(frozen=True)
class Seconds:
    """Stretches in seconds from the first frame, each (start, end), the longest that can be used (frames), and the joints that no
    frame of the take measures: they are held by the rest of the body throughout, and do not make its seconds filled ones."""

    measured: tuple[tuple[float, float], ...]
    filled: tuple[tuple[float, float], ...]
    unusable: tuple[tuple[float, float], ...]
    longest_usable: tuple[int, int]
    never_measured: tuple[str, ...]


def _stretches(mask: NDArray[np.bool_], rate_hz: float) -> tuple[tuple[float, float], ...]:
    return tuple((round(start / rate_hz, 3), round(stop / rate_hz, 3)) for start, stop in runs(mask))


def seconds_of(movement: Movement) -> Seconds:
    """Where every joint that the take knows is measured, where one or more rest on filled samples, and where there is no body."""
    missing = ~np.isfinite(movement.joint_centres_m[:, _NEEDED]).all(axis=(1, 2))
    source = movement.joint_source
    ever = (source == Source.MEASURED).any(axis=0)
    filled = (source[:, ever] > Source.MEASURED).any(axis=1) & ~missing
    usable = runs(~missing)
    longest = max(usable, key=lambda run: run[1] - run[0]) if usable else (0, 0)
    rate = movement.rate_hz
    never = tuple(name for name, measured in zip(JOINTS, ever, strict=True) if not measured)
    return Seconds(_stretches(~missing & ~filled, rate), _stretches(filled, rate), _stretches(missing, rate), longest, never)
