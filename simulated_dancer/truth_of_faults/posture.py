"""Posture (catalogue 5.2): trunk, ribs, pelvis, shoulders, head and hips in every step that is danced upright."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...analysis_core.body.anatomy import SIDES
from ...analysis_core.body.movement import Movement
from ..rotations import Floats
from ..score import Step
from .dance import Dance, TrueValue, support_of
from .turns import alone, upright

UPRIGHT_STEPS = ("turn", "balance", "plie", "releve", "leg-gesture", "landing", "jump", "step")
#: Hands above this are no longer "at or below shoulder height", where the girdle rises by anatomy (millimetres).
AT_SHOULDER_MM = 0.0


def _window(dance: Dance, step: Step) -> NDArray[np.intp]:
    return alone(dance, step) if step.kind in ("turn", "balance") else dance.frames(step.start_s, step.end_s)


def posture(dance: Dance) -> Iterator[TrueValue | None]:
    """Lean, side bend, ribs, pelvis, head, shoulders."""
    for step in dance.steps:
        if step.kind not in UPRIGHT_STEPS:
            continue
        window = _window(dance, step)
        for fault, measure, name, how in (
            ("trunk-leans", "pitch", "trunk_pitch", "away"),
            ("side-bends", "roll", "trunk_roll", "away"),
            ("back-arches", "tilt", "pelvis_tilt", "most"),
            ("pelvis-tucks", "tilt", "pelvis_tilt", "least"),
            ("head-lifts", "pitch", "head_pitch", "away"),
            ("head-lifts", "roll", "head_roll", "away"),
        ):
            yield dance.value(fault, measure, step, None, dance.angle(name) - dance.standing(name), window, how)
        yield dance.value("ribs-flare", "tip", step, None, _tipped_back(dance), window)
        yield from _shoulders(dance, step, window)
        yield from _hips(dance, step)


def _tipped_back(dance: Dance) -> Floats:
    """Chest tipped back against the vertical (F,), degrees, less standing (catalogue, ribs-flare, the second way)."""

    def back(movement: Movement) -> Floats:
        up = movement.segment("thorax")[:, :, 1]
        ahead = movement.segment("pelvis")[:, :2, 0]
        ahead = ahead / np.linalg.norm(ahead, axis=1, keepdims=True)
        return np.asarray(np.degrees(np.arctan2(-np.sum(up[:, :2] * ahead, axis=1), up[:, 2])))

    simulation = dance.simulation
    return back(simulation.movement) - float(np.median(back(simulation.static_movement)))


def _shoulders(dance: Dance, step: Step, window: NDArray[np.intp]) -> Iterator[TrueValue | None]:
    upward = dance.simulation.movement.segment("thorax")[:, :, 1]
    for i, side in enumerate(SIDES):
        height = np.sum((dance.joint("shoulder", side) - dance.joint("neck")) * upward, axis=1)
        height = height - 1000.0 * float(dance.simulation.movement.standing.shoulder_height_m[i])
        hand = np.sum((dance.joint("hand", side) - dance.joint("shoulder", side)) * upward, axis=1)
        low = window[hand[window] <= AT_SHOULDER_MM]
        if low.size:
            yield dance.value("shoulders-lift", "height", step, side, height, low)


def _hips(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    """Working side up, over its limit for a leg that is lifted; right side up on two feet, only with both feet down."""
    level = dance.angle("pelvis_obliquity")
    if step.kind in ("turn", "balance", "leg-gesture"):
        _, works = support_of(step)
        window = upright(dance, step) if step.kind != "leg-gesture" else dance.frames(step.start_s, step.end_s)
        up = level if works == "right" else -level
        wider = np.ones(up.size)
        if step.kind == "leg-gesture":
            # The limits of a straight leg rise evenly from 45° to twice as much at 90°; from there nothing is asked for.
            lifted = dance.angle("leg_elevation", works)
            wider = 1.0 + np.clip((lifted - 45.0) / 45.0, 0.0, 1.0)
            window = window[lifted[window] < 90.0]
        told = dance.value("hip-hikes", "one_foot", step, works, up / wider, window) if window.size else None
        if told is not None:
            peak = int(np.argmin(np.abs(dance.time_s - told.peak_s)))
            yield replace(told, value=float(up[peak]), limits=(told.ok[0], float(told.ok[1] * wider[peak])))
    elif step.kind in ("plie", "releve"):
        window = dance.frames(step.start_s, step.end_s)
        both = window[dance.down("left")[window] & dance.down("right")[window]]
        if both.size:
            yield dance.value("hip-hikes", "two_feet", step, None, level, both, "away")
