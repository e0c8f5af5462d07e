"""A movement and its phrase, prepared for measuring: curves in degrees and millimetres, windows of the steps."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import cached_property, wraps
from typing import Concatenate, ParamSpec

import numpy as np
from numpy.typing import NDArray

from ..body.movement import FOOT_POINTS, FROM_STANDING, SIDES, SUFFIXES, Movement
from ..phrase.counts import Counts
from ..phrase.phase import Phase, PhaseKind, Phrase
from ..take import Floats
from .observation import NotTold, Observation

OTHER = {"left": "right", "right": "left"}
#: A number at a moment is the mean over this time, so that one sample decides nothing.
STEADY_S = 0.05
#: A heel that is this high is up on relevé; below it the turn or balance is danced on the flat foot.
RISEN_MM = 25.0
#: A heel below this is down: about the slack of skin and shoe. Source: catalogue, heel-lifts-early.
FLAT_MM = 10.0
#: A heel this much higher than the other in a plié on two feet belongs to a foot that slides out or closes. Proposed default.
STEPPING_MM = 60.0


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First frame and last frame + 1 of every stretch in which a mask (F,) holds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


@dataclass(frozen=True)
class Turn:
    """Frames of one turn on one foot. rise: standing foot fully up, or alone on the flat; sink: before it comes down."""

    phase: Phase
    support: str
    working: str
    alone: int
    rise: int
    sink: int
    close: int


class Evidence:
    """What the measures look at. Curves have one number per frame, NaN where it is not known."""

    def __init__(self, movement: Movement, phrase: Phrase, counts: Counts | None = None) -> None:
        self.movement, self.phrase, self.counts = movement, phrase, counts
        self.rate_hz, self.frames = movement.rate_hz, movement.frames
        self._kept: dict[Hashable, Floats] = {}
        self._steady = max(1, 2 * round(STEADY_S * self.rate_hz / 2) + 1)

    def frame(self, time_s: float) -> int:
        """Frame nearest to a time, inside the take."""
        return int(np.clip(round(time_s * self.rate_hz), 0, self.frames - 1))

    def samples(self, seconds: float) -> int:
        """Number of frames in a time, at least one."""
        return max(1, round(seconds * self.rate_hz))

    def at(self, phase: Phase, name: str) -> int | None:
        """Frame of a moment that a phase may have."""
        time_s = phase.properties.get(name)
        return self.frame(time_s) if isinstance(time_s, float) else None

    def once(self, key: Hashable, make: Callable[[], Floats]) -> Floats:
        """A curve that several measures ask for, made once; it is read only."""
        if key not in self._kept:
            curve = make()
            curve.setflags(write=False)
            self._kept[key] = curve
        return self._kept[key]

    def degrees(self, name: str, side: str | None = None) -> Floats:
        """An angle of the movement, degrees."""
        key = name + (SUFFIXES[side] if side else "")
        return self.once(("degrees", key), lambda: np.asarray(np.degrees(self.movement.angle(key))))

    def change(self, name: str, side: str | None = None) -> Floats:
        """An angle minus its value in standing (0 where that is not known), degrees."""
        key = name + (SUFFIXES[side] if side else "")
        standing = self.movement.standing.angles_rad.get(key, 0.0)
        if key in FROM_STANDING or not np.isfinite(standing):
            standing = 0.0
        return self.once(("change", key), lambda: np.asarray(np.degrees(self.movement.angle(key) - standing)))

    def heel_mm(self, side: str) -> Floats:
        """Heel above its own height with the foot flat, mm."""
        return self.once(("heel", side), lambda: 1000 * self.movement.heel_height_m(side))

    def foot_point(self, side: str, name: str) -> Floats:
        """A point of FOOT_POINTS (F, 3), metres."""
        return self.movement.foot_points_m[:, SIDES.index(side), FOOT_POINTS.index(name)]

    def ball(self, side: str) -> Floats:
        """Middle of the ball of a foot (F, 3), metres."""
        inner, outer = self.foot_point(side, "ball_medial"), self.foot_point(side, "ball_lateral")
        return self.once(("ball", side), lambda: 0.5 * (inner + outer))

    def joint(self, name: str, side: str | None = None) -> Floats:
        """A joint centre (F, 3), metres."""
        return self.movement.joint(name + (SUFFIXES[side] if side else ""))

    def foot_heading_deg(self, side: str) -> Floats:
        """Direction of the line heel to ball on the floor, laboratory, unwrapped, degrees; NaN where it is not known."""

        def heading() -> Floats:
            line = self.ball(side) - self.foot_point(side, "heel")
            azimuth = np.arctan2(line[:, 1], line[:, 0])
            known = np.isfinite(azimuth)
            azimuth[known] = np.unwrap(azimuth[known])
            return np.asarray(np.degrees(azimuth))

        return self.once(("heading", side), heading)

    def steady(self, curve: Floats) -> Floats:
        """Moving mean (F,) over STEADY_S; NaN beside samples that are not known, the ends repeated."""
        half = self._steady // 2
        if half == 0 or curve.size == 0:
            return curve
        padded = np.concatenate([np.full(half, curve[0]), curve, np.full(half, curve[-1])])
        return np.convolve(padded, np.full(self._steady, 1 / self._steady), mode="valid")

    def steady_part(self, curve: Floats, start: int, end: int) -> Floats:
        """The same for the frames from start to end only (end - start + 1,)."""
        first = max(start - self._steady // 2, 0)
        return self.steady(curve[first : end + 1 + self._steady // 2])[start - first : end + 1 - first]

    def before(self, curve: Floats, start: int, end: int) -> float:
        """Median of a curve between two frames; NaN when nothing is known there."""
        part = curve[max(start, 0) : max(end, start + 1)]
        part = part[np.isfinite(part)]
        return float(np.median(part)) if part.size else float("nan")

    @cached_property
    def turns(self) -> tuple[Turn, ...]:
        """Turns on one foot; steps that turn from foot to foot are left out."""
        found = []
        for phase in self.phrase.of_kind("turn"):
            support, alone = phase.properties.get("support"), self.at(phase, "single_support_s")
            if support not in SIDES or alone is None or not isinstance(support, str):
                continue
            supports = str(phase.properties.get("supports") or support)
            if "-" in supports:
                continue
            close = self.at(phase, "close_s")
            close = min(phase.end if close is None else close, self.frames - 1)
            if close - alone < self.samples(0.2):
                continue
            found.append(Turn(phase, support, OTHER[support], alone, *self._risen(support, alone, close), close))
        return tuple(found)

    @cached_property
    def jumps(self) -> tuple[Phase, ...]:
        """Jumps, without the hops of a turn's standing foot: those are the turn's."""
        spans = [(turn.alone, turn.close) for turn in self.turns]
        return tuple(j for j in self.phrase.of_kind("jump") if not any(a <= j.start and j.end <= b for a, b in spans))

    @cached_property
    def landings(self) -> tuple[Phase, ...]:
        """The landings of ``jumps``."""
        known = {jump.id for jump in self.jumps}
        return tuple(landing for landing in self.phrase.of_kind("landing") if landing.properties.get("jump") in known)

    def judged(self, *kinds: PhaseKind) -> tuple[Phase, ...]:
        """Phases of some kinds in the order of time; of jumps and landings those that are no hops."""
        real = {phase.id for phase in (*self.jumps, *self.landings)}
        return tuple(p for p in self.phrase.phases if p.kind in kinds and (p.kind not in ("jump", "landing") or p.id in real))

    def _risen(self, support: str, alone: int, close: int) -> tuple[int, int]:
        """From the standing foot fully up to the start of its way down; a tenth off each end on the flat foot."""
        heel = self.heel_mm(support)[alone : close + 1]
        plateau = np.nanquantile(heel, 0.9) if np.isfinite(heel).any() else 0.0
        if plateau > RISEN_MM:
            up = np.flatnonzero(np.nan_to_num(heel) > 0.85 * plateau)
            return alone + int(up[0]), alone + int(up[-1])
        rest = (close - alone) // 10
        return alone + rest, close - rest

    def supports(self, phase: Phase) -> tuple[str, ...]:
        """The feet that a phase stands on."""
        support = phase.properties.get("support") or phase.side
        return SIDES if support == "both" else (str(support),) if support in SIDES else ()

    def stands(self, phase: Phase) -> bool:
        """Whether a plié is danced on the feet it stands on: otherwise it is part of a step or a closing.

        They are flat at its beginning and end, and neither heel rises so much higher than the other that its foot is working.
        """
        sides = self.supports(phase)

        def on(side: str) -> bool:
            return any(
                contact.foot == side
                and contact.part == "foot"
                and contact.start_s <= phase.start_s + 0.02
                and contact.end_s >= phase.end_s - 0.02
                for contact in self.phrase.contacts
            )

        def flat(side: str) -> bool:
            ends = self.heel_mm(side)[[phase.start, phase.end]]
            return bool((ends < FLAT_MM).all())

        if len(sides) == 2:
            apart = np.abs(self.heel_mm("left") - self.heel_mm("right"))[phase.start : phase.end + 1]
            if np.nanmax(np.append(apart, 0.0)) > STEPPING_MM:
                return False
        return bool(sides) and all(on(side) and flat(side) for side in sides)

    def extreme(
        self,
        fault: str,
        measure: str,
        phase: Phase,
        curve: Floats,
        window: tuple[int, int],
        toward: int,
        *,
        joints: tuple[str, ...],
        side: str | None = None,
        lever_m: float = 0.4,
        extra_sd: float = 0.0,
        least_known: float = 0.5,
        made_of: Callable[[Evidence], Floats] | None = None,
        against: int | None = None,
    ) -> Observation | NotTold:
        """The steady extreme of a curve in a window of frames: toward +1 the highest, -1 the lowest, 0 the furthest from 0.

        curve: of all frames (F,), or of the frames of the window. Not told when less than ``least_known`` of the window is known.
        """
        start, end = max(window[0], 0), min(window[1], self.frames - 1)
        part = curve[start : end + 1] if curve.size == self.frames else curve[start - window[0] : end + 1 - window[0]]
        known = np.isfinite(part)
        if not part.size or known.mean() < least_known or not known.any():
            return NotTold(fault, phase, f"{_in_words(joints)} could not be seen for long enough")
        steady = self.steady(part)
        steady = steady if np.isfinite(steady).any() else part
        peak = int(np.nanargmax(steady if toward > 0 else -steady if toward < 0 else np.abs(steady)))
        return Observation(
            fault,
            measure,
            phase,
            side,
            float(steady[peak]),
            start,
            start + peak,
            end,
            joints,
            part,
            lever_m,
            extra_sd=extra_sd,
            made_of=made_of,
            against=against,
        )


_Asked = ParamSpec("_Asked")


def made_once(curve: Callable[Concatenate[Evidence, _Asked], Floats]) -> Callable[Concatenate[Evidence, _Asked], Floats]:
    """A function that makes a curve from evidence, whose answers the evidence keeps: many phases ask for the same curve."""

    @wraps(curve)
    def kept(evidence: Evidence, /, *args: _Asked.args, **named: _Asked.kwargs) -> Floats:
        return evidence.once((curve, args, tuple(sorted(named.items()))), lambda: curve(evidence, *args, **named))

    return kept


def _in_words(joints: tuple[str, ...]) -> str:
    """Joints for a sentence: "left heel and right knee"."""
    words = []
    for joint in joints[:2]:
        name, _, side = joint.partition(".")
        words.append(f"{'left ' if side == 'L' else 'right ' if side == 'R' else ''}{name.replace('_', ' ')}")
    return "the " + " and ".join(words) if words else "the body"
