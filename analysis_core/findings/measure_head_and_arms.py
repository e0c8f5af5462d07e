"""Measures of head and arms in a turn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..body.geometry import apply
from ..body.movement import SIDES, SUFFIXES
from ..known import nothing_known_gives_nan
from ..phrase.phase import Turn
from ..take import Floats
from ..wording.names import part_on
from .evidence import Evidence, Pirouette, made_once
from .limits import LEVERS, READING, TURNS
from .observation import Observation
from .parts_of_measures import sense, turns
from .reading import HIGHEST, Measure, Told, Window, extreme, over


def head_against_chest(evidence: Evidence) -> Floats:
    """How far (F,) the head is turned against the chest, against standing, degrees."""
    return evidence.change("head_yaw")


_HEAD = ("head", "neck")
_APART = Measure(
    "late-spot", "apart", HIGHEST, _HEAD, head_against_chest, sided=False, lever_m=LEVERS.head_m, extra_sd=TURNS.whipped_deg
)  # fmt: skip
_AHEAD = Measure("late-spot", "lead", HIGHEST, _HEAD)


@over(turns)
def late_spot(evidence: Evidence, turn: Pirouette) -> Told:
    """How far the head stays behind and goes ahead of the chest, and its lead when the front comes round, per revolution."""
    phase, whole = turn.phase, _revolutions(turn.phase)
    if whole < 1:
        return
    around = _spotted(evidence, phase)
    seen = np.isfinite(evidence.degrees("thorax_yaw")[around] + evidence.degrees("head_heading")[around])
    if not seen.mean() > READING.least_known:
        yield _APART.on().unseen(phase, "the head")
        return
    turned = np.abs(head_against_chest(evidence))[phase.start : phase.end + 1]
    furthest = int(np.nanargmax(turned))
    yield _APART.on().told(phase, float(turned[furthest]), (phase.start, phase.start + furthest, phase.end))
    for head, trunk in _comes_round(evidence, phase, around, whole):
        yield _AHEAD.on().told(phase, (trunk - head) / evidence.rate_hz, (min(head, trunk), min(head, trunk), max(head, trunk)))


def _revolutions(phase: Turn) -> int:
    """How often a turn comes round to its front: a half turn never does, and its head has nothing to spot."""
    return int((phase.revolutions or 0.0) + 1.0 - TURNS.nearly_whole_deg / 360.0)


def _spotted(evidence: Evidence, phase: Turn) -> slice:
    """Frames of a turn and a little around it."""
    start = max(0, phase.start - evidence.samples(TURNS.spot_before_s))
    return slice(start, min(evidence.frames - 1, phase.end + evidence.samples(TURNS.spot_after_s)) + 1)


def _comes_round(evidence: Evidence, phase: Turn, around: slice, whole: int) -> Iterator[tuple[int, int]]:
    """Frames in which head and trunk come round to the front, for every revolution that both of them make."""
    trunk, head = (sense(phase) * evidence.degrees(name)[around] for name in ("thorax_yaw", "head_heading"))
    # Trunk and head look the same way before the turn: their unwrapped courses are counted from the same front.
    head = head - (360 * np.round((head[0] - trunk[0]) / 360) if np.isfinite(head[0] - trunk[0]) else 0.0)
    with nothing_known_gives_nan():
        front = trunk[0] if np.isfinite(trunk[0]) else np.nanmin(trunk)
    for revolution in range(1, whole + 1):
        home = front + 360 * revolution - TURNS.front_deg
        passed = [np.flatnonzero(np.nan_to_num(curve, nan=-np.inf) >= home) for curve in (head, trunk)]
        if all(frames.size for frames in passed):
            yield around.start + int(passed[0][0]), around.start + int(passed[1][0])


@made_once
def hand_height_mm(evidence: Evidence, side: str, end: str) -> Floats:
    """Hand or wrist (F,) above the base of the neck along the upright axis of the thorax, mm."""
    thorax = evidence.movement.segment("thorax")
    away = apply(np.swapaxes(thorax, -1, -2), evidence.joint(end, side) - evidence.joint("neck"))
    return np.asarray(1000 * away[:, 1])


@made_once
def hands_apart_mm(evidence: Evidence, end: str) -> Floats:
    """How much higher (F,) the left hand is than the right against the chest, mm."""
    return hand_height_mm(evidence, "left", end) - hand_height_mm(evidence, "right", end)


_DROP = Measure("arms-drop", "drop", HIGHEST, ("hand",), hand_height_mm, extra_sd=TURNS.girdle_mm)
_UNEQUAL = Measure("arms-drop", "difference", HIGHEST, ("hand",), hands_apart_mm, sided=False, extra_sd=TURNS.girdle_mm)


@over(turns)
def arms_drop(evidence: Evidence, turn: Pirouette) -> Told:
    """How far a hand sinks against the chest after the arms have closed, and how unequal the hands become."""
    # Fully up the arms have closed (catalogue, arms-drop).
    closed, after, frames = turn.rise, turn.rise + evidence.samples(TURNS.closed_s), (turn.rise, turn.sink)
    for side in SIDES:
        end = evidence.end_of_arm(side)
        height = hand_height_mm(evidence, side, end)
        reading = _DROP.on(side, joints=(end,), against=closed, end=end)
        if np.isfinite(height[closed : turn.sink + 1]).mean() < READING.least_known:
            yield reading.unseen(turn.phase, part_on("hand", side))
            continue
        yield extreme(evidence, reading, turn.phase, Window(evidence.before(height, closed, after) - height, frames))
    end = evidence.end_of_arm(*SIDES)
    apart = hands_apart_mm(evidence, end)
    apart = np.abs(apart - evidence.before(apart, closed, after))
    ends = tuple(end + suffix for suffix in SUFFIXES.values())
    told = extreme(evidence, _UNEQUAL.on("both", joints=ends, against=closed, end=end), turn.phase, Window(apart, frames))
    yield told if isinstance(told, Observation) else None
