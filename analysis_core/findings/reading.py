"""How a number is read from a curve: what it is, where it is searched, and the steady extreme that it comes to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..phrase.phase import Phase
from ..take import Floats
from .evidence import Evidence
from .limits import READING
from .observation import NotTold, Observation


@dataclass(frozen=True)
class Reading:
    """A measure of a fault, declared. toward: +1 the highest is told, -1 the lowest, 0 the furthest from 0.

    joints, lever_m, made_of, against, extra_sd, least_sd, side: as in ``Observation``.
    """

    fault: str
    measure: str
    toward: int
    joints: tuple[str, ...]
    made_of: Callable[[Evidence], Floats] | None = None
    side: str | None = None
    lever_m: float = 0.4
    extra_sd: float = 0.0
    least_sd: float = 0.0
    against: int | None = None


@dataclass(frozen=True)
class Window:
    """The frames in which a number is searched. curve (F,): of all frames of the take.

    asked (F,): frames that the measure may look at; nothing is told where less than ``least_asked`` of the window, or no frame of
    it, is asked for. moves: the window is opened and closed by events, so that what the curve does just outside it counts in the
    error of an extreme at its edge.
    """

    curve: Floats
    frames: tuple[int, int]
    asked: NDArray[np.bool_] | None = None
    least_asked: float = 0.0
    moves: bool = True


def placed(part: Floats, first: int, frames: int) -> Floats:
    """A curve (F,) that is known only in a part of the take, which begins at the frame ``first``; NaN elsewhere."""
    curve = np.full(frames, np.nan)
    curve[first : first + part.size] = part
    return curve


def extreme(evidence: Evidence, reading: Reading, phase: Phase, window: Window) -> Observation | NotTold | None:
    """The steady extreme of a curve in a window of frames; None where nothing is asked for.

    Not told when less than half of what is asked for is known.
    """
    start, end = max(window.frames[0], 0), min(window.frames[1], evidence.frames - 1)
    part = window.curve[start : end + 1]
    wanted = np.ones(part.size, dtype=bool) if window.asked is None else window.asked[start : end + 1]
    if not part.size or not wanted.any() or wanted.mean() < window.least_asked:
        return None
    if (np.isfinite(part) & wanted).sum() < READING.least_known * wanted.sum():
        unseen = _unseen(evidence, reading.joints, start, end)
        return NotTold(reading.fault, phase, f"{unseen} could not be seen for long enough")
    part = np.where(wanted, part, np.nan)
    steady = evidence.steady(part)
    steady = steady if np.isfinite(steady).any() else part
    peak = int(np.nanargmax(np.abs(steady) if reading.toward == 0 else reading.toward * steady))
    return Observation(
        reading.fault,
        reading.measure,
        phase,
        reading.side,
        float(steady[peak]),
        start,
        start + peak,
        end,
        reading.joints,
        part,
        reading.lever_m,
        extra_sd=float(np.hypot(reading.extra_sd, _window_sd(evidence, window, start, start + peak, end))),
        least_sd=reading.least_sd,
        made_of=reading.made_of,
        against=reading.against,
    )


def _window_sd(evidence: Evidence, window: Window, start: int, peak: int, end: int) -> float:
    """What a window that opens or closes a little earlier or later changes of an extreme that lies at its edge."""
    around = evidence.samples(READING.event_s)
    edge = start if peak - start <= around else end if end - peak <= around else None
    if edge is None or not window.moves:
        return 0.0
    beside = window.curve[[max(edge - around, 0), min(edge + around, evidence.frames - 1)]]
    return 0.5 * float(abs(beside[1] - beside[0])) if np.isfinite(beside).all() else 0.0


def _unseen(evidence: Evidence, joints: tuple[str, ...], start: int, end: int) -> str:
    """Those of some joints that are missing for longest in a window, in words."""
    missing = {name: np.isnan(evidence.movement.joint(name)[start : end + 1, 0]).mean() for name in joints}
    worst = [name for name in joints if missing[name] > READING.least_missing]
    return _in_words(tuple(sorted(worst, key=lambda name: -missing[name])) or joints)


def _in_words(joints: tuple[str, ...]) -> str:
    """Joints for a sentence: "left heel and right knee"."""
    words = []
    for joint in joints[:2]:
        name, _, side = joint.partition(".")
        words.append(f"{'left ' if side == 'L' else 'right ' if side == 'R' else ''}{name.replace('_', ' ')}")
    return "the " + " and ".join(words) if words else "the body"
