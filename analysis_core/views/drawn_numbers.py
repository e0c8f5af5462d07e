"""How an angle and a length are drawn, whatever they are of."""

from __future__ import annotations

import numpy as np

from ..take import Floats
from .drawing import Bracket, Line, Shape, Sweep
from .moment import normed, sweep_between, turned
from .seen import Seen, Shapes

#: Lengths of drawn directions and of arcs, metres: as long as the limb they belong to. Proposed defaults.
_LONG_M, _ARC_M = 0.62, 0.40


#: A band that is open on one side is drawn so far, degrees.
_OPEN_DEG = 15.0


def angle(
    seen: Seen,
    centre: Floats,
    measured: Floats,
    axis: Floats,
    *,
    per_degree: float = 1.0,
    long_m: float = _LONG_M,
    arc_m: float = _ARC_M,
    reference: Floats | None = None,
) -> Shapes:
    """Two directions and the angle between them: the reference turned by the number about the axis is what was measured.

    per_degree: +1 or -1, the sign with which the number turns about the axis. reference: where the body itself shows it; else it
    is told by the number.
    """
    value = np.radians(seen.value) * per_degree
    if reference is None:
        reference = turned(measured, axis, -value)
    shapes: list[Shape] = [
        Line(centre, centre + long_m * reference, "reference"),
        Line(centre, centre + long_m * measured, "measured"),
        Sweep(centre, reference, axis, sweep_between(reference, measured, axis), arc_m, "measured"),
    ]
    low, high = _drawn_band(seen.finding.band)
    first = turned(reference, axis, np.radians(low) * per_degree)
    shapes.append(Sweep(centre, first, axis, np.radians(high - low) * per_degree, 0.92 * arc_m, "band"))
    middle = normed(reference - axis * (axis @ reference) + measured - axis * (axis @ measured))
    return shapes, "angle", centre + 1.12 * arc_m * middle


def _drawn_band(band: tuple[float | None, float | None]) -> tuple[float, float]:
    low, high = band
    if low is None and high is None:
        return 0.0, 0.0
    if low is None:
        assert high is not None
        return min(0.0, high - _OPEN_DEG), high
    return low, high if high is not None else low + _OPEN_DEG


def length(seen: Seen, base: Floats, tip: Floats, along: Floats) -> Shapes:
    """A bracket of the number's length, and the band as a step beside it along the same direction."""
    shapes: list[Shape] = [Bracket(base, tip, "measured")]
    low, high = seen.finding.band
    ends = (max(low or 0.0, -1e3), high if high is not None else (low or 0.0))
    if ends[1] > ends[0]:
        shapes.append(Bracket(base + along * ends[0] / 1000, base + along * ends[1] / 1000, "band"))
    return shapes, "length", 0.5 * (base + tip)
