"""A measure declared, and how its number is read from a curve: where it is searched, and the steady extreme that it comes to."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial, wraps
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from ..body.movement import JOINTS, SUFFIXES
from ..phrase.phase import Phase
from ..take import Floats
from ..wording import findings as say
from ..wording import names
from .evidence import Evidence
from .limits import LEVERS, READING
from .observation import NotTold, Observation

#: What is looked for in a curve: its highest, its lowest, or what is furthest from 0.
Direction = Literal[-1, 0, 1]
HIGHEST: Direction = 1
LOWEST: Direction = -1
FURTHEST: Direction = 0

Told = Iterator[Observation | NotTold | None]
Step = TypeVar("Step")


@dataclass(frozen=True)
class Measure:
    """A measure of a fault, declared once: what it is made of, in which direction it is read, and what it rests on.

    joints: names with their side, or without one, where that of the side that is looked at is meant. curve: makes the measure
    (F,), or where it is a ``path`` one (F, 2), frame by frame from evidence, and from ``side`` where it is ``sided``; None for a
    number that cannot be made frame by frame. lever_m, extra_sd, least_sd, path: as in ``Observation``.
    """

    fault: str
    name: str
    toward: Direction
    joints: tuple[str, ...]
    curve: Callable[..., Floats] | None = None
    sided: bool = True
    lever_m: float = LEVERS.limb_m
    extra_sd: float = 0.0
    least_sd: float = 0.0
    path: bool = False

    def on(
        self,
        side: str | None = None,
        /,
        *,
        joints: tuple[str, ...] | None = None,
        extra_sd: float = 0.0,
        lever_m: float | None = None,
        against: int | None = None,
        **of: object,
    ) -> Reading:
        """The measure of one side, or of the whole body. of: what its curve asks for besides the side."""
        if self.sided and side in SUFFIXES:
            of = {"side": side, **of}
        return Reading(
            self.fault,
            self.name,
            self.toward,
            tuple(_placed(name, side) for name in joints or self.joints),
            self.curve if self.curve is None or not of else partial(self.curve, **of),
            side,
            self.lever_m if lever_m is None else lever_m,
            float(np.hypot(self.extra_sd, extra_sd)),
            self.least_sd,
            against,
            self.path,
        )


def _placed(joint: str, side: str | None) -> str:
    return joint if joint in JOINTS else joint + SUFFIXES[str(side)]


@dataclass(frozen=True)
class Reading:
    """A measure on one side, ready to be read. toward: +1 the highest is told, -1 the lowest, 0 the furthest from 0.

    joints, lever_m, made_of, against, extra_sd, least_sd, side, path: as in ``Observation``.
    """

    fault: str
    measure: str
    toward: Direction
    joints: tuple[str, ...]
    made_of: Callable[[Evidence], Floats] | None
    side: str | None
    lever_m: float
    extra_sd: float
    least_sd: float
    against: int | None
    path: bool

    def told(
        self,
        phase: Phase,
        value: float,
        frames: tuple[int, int, int],
        curve: Floats | None = None,
        *,
        extra_sd: float = 0.0,
        beyond_fault: bool = False,
        says: str | None = None,
    ) -> Observation:
        """A number that was read. frames: first and decisive frame, and the last; the rest as in ``Observation``."""
        start, peak, end = frames
        return Observation(
            self.fault, self.measure, phase, self.side, value, start, peak, end, self.joints, curve, self.lever_m,
            beyond_fault=beyond_fault, extra_sd=float(np.hypot(self.extra_sd, extra_sd)), least_sd=self.least_sd, says=says,
            made_of=self.made_of, against=self.against, path=self.path,
        )  # fmt: skip

    def unseen(self, phase: Phase, what: str) -> NotTold:
        """That something could not be seen for long enough."""
        return NotTold(self.fault, phase, say.not_seen_for_long_enough(what))


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


def over(
    steps: Callable[[Evidence], Iterable[Step]],
) -> Callable[[Callable[[Evidence, Step], Told]], Callable[[Evidence], Told]]:
    """A fault that is looked for in every one of some steps, from a function that looks at one of them."""

    def every(look: Callable[[Evidence, Step], Told]) -> Callable[[Evidence], Told]:
        @wraps(look)
        def fault(evidence: Evidence) -> Told:
            for step in steps(evidence):
                yield from look(evidence, step)

        return fault

    return every


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
        return reading.unseen(phase, _unseen(evidence, reading.joints, start, end))
    part = np.where(wanted, part, np.nan)
    steady = evidence.steady(part)
    steady = steady if np.isfinite(steady).any() else part
    size = np.abs(steady) if reading.toward == FURTHEST else reading.toward * steady
    peak = start + int(np.nanargmax(size))
    edge_sd = _window_sd(evidence, window, start, peak, end)
    return reading.told(phase, float(steady[peak - start]), (start, peak, end), part, extra_sd=edge_sd)


def _window_sd(evidence: Evidence, window: Window, start: int, peak: int, end: int) -> float:
    """What a window that opens or closes a little earlier or later changes of an extreme that lies at its edge."""
    around = evidence.samples(READING.event_s)
    edge = start if peak - start <= around else end if end - peak <= around else None
    return 0.0 if edge is None or not window.moves else at_an_event_sd(evidence, window.curve, edge)


def at_an_event_sd(evidence: Evidence, curve: Floats, frame: int) -> float:
    """1-SD error of a curve (F,) at the frame of an event, whose time is known to READING.event_s; 0 where it is not known."""
    around = evidence.samples(READING.event_s)
    beside = curve[[max(frame - around, 0), min(frame + around, evidence.frames - 1)]]
    return 0.5 * float(abs(beside[1] - beside[0])) if np.isfinite(beside).all() else 0.0


def _unseen(evidence: Evidence, joints: tuple[str, ...], start: int, end: int) -> str:
    """Those of some joints that are missing for longest in a window, at most two, in words."""
    missing = {name: np.isnan(evidence.movement.joint(name)[start : end + 1, 0]).mean() for name in joints}
    worst = [name for name in joints if missing[name] > READING.least_missing]
    longest = tuple(sorted(worst, key=lambda name: -missing[name])) or joints
    return names.body_parts(longest[:2])
