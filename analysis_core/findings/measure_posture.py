"""Measures of trunk, pelvis, shoulders and head."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import apply
from ..body.movement import SIDES, SUFFIXES
from ..phrase.phase import Phase, PhaseKind
from ..take import Floats
from .evidence import OTHER, Evidence, made_once
from .limits import POSTURE, STEPS
from .observation import NotTold, Observation
from .reading import Reading, Window, extreme

Told = Iterator[Observation | NotTold | None]


def _held(evidence: Evidence, kinds: tuple[PhaseKind, ...]) -> Iterator[tuple[Phase, tuple[int, int]]]:
    """Phases of some kinds with the frames in which posture is judged: a turn only while it stands fully up."""
    turns = {turn.phase.id: (turn.rise, turn.sink) for turn in evidence.turns}
    for phase in evidence.judged(*kinds):
        if phase.kind == "turn":
            if phase.id in turns:
                yield phase, turns[phase.id]
        else:
            yield phase, (phase.start, phase.end)


def _folded(evidence: Evidence) -> NDArray[np.bool_]:
    """Frames (F,) in which the body is folded or tipped on purpose."""
    tipped = [np.nan_to_num(np.abs(evidence.degrees(name))) > POSTURE.folded_deg for name in ("trunk_pitch", "trunk_roll")]
    return np.asarray(tipped[0] | tipped[1])


def _straight_leg_deg(evidence: Evidence) -> Floats:
    """How high (F,) a straight leg is lifted, degrees from hanging; a retiré's bent leg counts as low, one not seen as well."""
    lifted = [
        np.where(
            evidence.degrees("knee_flexion", side) < STEPS.retire_deg,
            np.nan_to_num(evidence.degrees("leg_elevation", side)),
            0.0,
        )
        for side in SIDES
    ]
    return np.asarray(np.maximum(*lifted))


def _upright(evidence: Evidence, leg_below_deg: float = POSTURE.leg_high_deg) -> NDArray[np.bool_]:
    """Frames (F,) in which an upright trunk is asked for: no straight leg lifted as high as this, and nothing folded."""
    return np.asarray((_straight_leg_deg(evidence) < leg_below_deg) & ~_folded(evidence))


def _posture(evidence: Evidence, reading: Reading, kinds: tuple[PhaseKind, ...], asked: NDArray[np.bool_]) -> Told:
    """The extreme of a reading in every step of some kinds, of the frames (F,) in which it is asked for."""
    assert reading.made_of is not None
    curve = reading.made_of(evidence)
    for phase, frames in _held(evidence, kinds):
        yield extreme(evidence, reading, phase, Window(curve, frames, asked=asked, least_asked=POSTURE.least_asked))


_UPRIGHT: tuple[PhaseKind, ...] = ("plie", "releve", "turn", "balance", "landing")
_ON_ONE_FOOT: tuple[PhaseKind, ...] = ("turn", "balance", "releve", "leg-gesture")
_HELD: tuple[PhaseKind, ...] = ("turn", "balance", "releve")
_TRUNK, _PELVIS = ("neck", "hip.L", "hip.R"), ("hip.L", "hip.R", "lumbar")


def trunk_leans(evidence: Evidence) -> Told:
    """Trunk from the vertical, forward or back, against standing."""
    pitch = partial(Evidence.change, name="trunk_pitch")
    yield from _posture(evidence, Reading("trunk-leans", "pitch", 0, _TRUNK, pitch, lever_m=0.5), _UPRIGHT, _upright(evidence))


def side_bends(evidence: Evidence) -> Told:
    """Trunk from the vertical, to a side, against standing: on one foot, in turns and on relevé."""
    roll = partial(Evidence.change, name="trunk_roll")
    reading = Reading("side-bends", "roll", 0, _TRUNK, roll, lever_m=0.5)
    yield from _posture(evidence, reading, _ON_ONE_FOOT, _upright(evidence, POSTURE.leg_level_deg))


def chest_tip(evidence: Evidence) -> Floats:
    """Chest tipped back in space (F,), degrees: extension of the thorax in the pelvis less the pelvis' tipping forward."""
    return evidence.change("thorax_extension") - evidence.change("pelvis_tilt")


def ribs_flare(evidence: Evidence) -> Told:
    """Chest tipped back in space."""
    reading = Reading("ribs-flare", "tip", +1, ("neck", "lumbar"), chest_tip, lever_m=0.3)
    yield from _posture(evidence, reading, (*_HELD, "plie"), _upright(evidence))


def back_arches(evidence: Evidence) -> Told:
    """Pelvis tipped forward against standing."""
    tilt = partial(Evidence.change, name="pelvis_tilt")
    yield from _posture(evidence, Reading("back-arches", "tilt", +1, _PELVIS, tilt, lever_m=0.15), _UPRIGHT, _upright(evidence))


def pelvis_tucks(evidence: Evidence) -> Told:
    """Pelvis tipped backward against standing."""
    tilt = partial(Evidence.change, name="pelvis_tilt")
    yield from _posture(evidence, Reading("pelvis-tucks", "tilt", -1, _PELVIS, tilt, lever_m=0.15), _UPRIGHT, _upright(evidence))


@made_once
def shoulder_height_mm(evidence: Evidence, side: str) -> Floats:
    """Shoulder (F,) along the upright axis of the thorax from the base of the neck, against standing, mm."""
    thorax = evidence.movement.segment("thorax")
    height = apply(np.swapaxes(thorax, -1, -2), evidence.joint("shoulder", side) - evidence.joint("neck"))[:, 1]
    return np.asarray(1000 * (height - evidence.movement.standing.shoulder_height_m[SIDES.index(side)]))


def shoulders_lift(evidence: Evidence) -> Told:
    """Shoulder up against standing, while the arm is below shoulder height."""
    for side in SIDES:
        elbow, shoulder = evidence.joint("elbow", side)[:, 2], evidence.joint("shoulder", side)[:, 2]
        joints = ("shoulder" + SUFFIXES[side], "elbow" + SUFFIXES[side], "neck")
        reading = Reading("shoulders-lift", "height", +1, joints, partial(shoulder_height_mm, side=side), side)
        # An arm that is high asks the shoulder to rise with it; an arm that is not seen is not taken for high.
        yield from _posture(evidence, reading, _HELD, ~(elbow >= shoulder + POSTURE.arm_high_m))


def head_lifts(evidence: Evidence) -> Told:
    """Chin up or down, and head to the side, in the chest, against standing."""
    # A head that is turned is spotting or looks where the dance looks.
    facing = ~(np.abs(evidence.change("head_yaw")) >= POSTURE.head_turned_deg) & _upright(evidence)
    for measure, name in (("pitch", "head_pitch"), ("roll", "head_roll")):
        angle = partial(Evidence.change, name=name)
        reading = Reading("head-lifts", measure, 0, ("head", "neck"), angle, lever_m=0.15)
        yield from _posture(evidence, reading, (*_HELD, "plie"), facing)


def _hip_limit(evidence: Evidence) -> Floats:
    """By how much (F,) the limit of a hiked hip widens with a straight leg: not at all up to 45°, twice as wide at 90°."""
    return np.asarray(
        1.0
        + np.clip((_straight_leg_deg(evidence) - POSTURE.leg_high_deg) / (POSTURE.leg_level_deg - POSTURE.leg_high_deg), 0.0, 1.0)
    )


def _hip_roll(measure: str, toward: int, side: str | None) -> Reading:
    roll = partial(Evidence.change, name="pelvis_obliquity")
    return Reading("hip-hikes", measure, toward, ("hip.L", "hip.R"), roll, side, lever_m=0.2)


def _working_hip(evidence: Evidence, phase: Phase, support: str, window: tuple[int, int]) -> Observation | NotTold | None:
    """The working side on one foot: the frame that lies furthest over its own limit, not the highest of all."""
    roll, wider = evidence.change("pelvis_obliquity"), _hip_limit(evidence)
    share = (roll if support == "left" else -roll) / wider
    asked = _upright(evidence, POSTURE.leg_level_deg) & evidence.alone(support)
    told = extreme(evidence, _hip_roll("one_foot", +1, OTHER[support]), phase, Window(share, window, asked))
    if not isinstance(told, Observation):
        return told
    factor = float(wider[told.peak])
    curve = None if told.curve is None else told.curve * factor
    return replace(told, value=told.value * factor, curve=curve, widened=(factor, 0.0), extra_sd=told.extra_sd * factor)


def hip_hikes(evidence: Evidence) -> Told:
    """One side of the pelvis up against standing: the working side on one foot, either side while both feet are down."""
    roll, asked = evidence.change("pelvis_obliquity"), _upright(evidence, POSTURE.leg_level_deg) & evidence.on_both
    for phase, window in _held(evidence, ("turn", "balance", "plie", "leg-gesture")):
        if phase.feet == "both":
            yield extreme(evidence, _hip_roll("two_feet", 0, None), phase, Window(roll, window, asked, POSTURE.least_asked))
        elif phase.feet is not None and phase.kind != "plie":
            yield _working_hip(evidence, phase, phase.feet, window)
