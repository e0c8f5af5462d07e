"""Measures of trunk, pelvis, shoulders and head."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import apply
from ..body.movement import SIDES, SUFFIXES
from ..phrase.phase import Phase, PhaseKind
from ..take import Floats
from .evidence import OTHER, Evidence, made_once
from .observation import NotTold, Observation

Told = Iterator[Observation | NotTold | None]

#: With a leg lifted beyond this the trunk and pelvis have to follow it; nothing is said of them then. Sources: Feipel 2004 for
#: the spine in high legs; the angle is a proposed default.
LEG_HIGH_DEG = 45.0
#: A leg at this height moves the pelvis, and bends the trunk to the side, by necessity. Source: catalogue, hip-hikes, side-bends.
LEG_LEVEL_DEG = 90.0
#: A knee bent by more than this is no straight leg.
RETIRE_DEG = 60.0
#: Posture is judged in steps that are danced upright for this share of their time. Proposed default.
LEAST_ASKED = 0.3
#: A trunk that is further from the vertical than this is folded or tipped on purpose: that is the step, and no slouch. Proposed
#: default, no published norm.
FOLDED_DEG = 40.0
#: With the head turned further than this against the chest (a spot) its pitch and roll are not compared with standing.
HEAD_TURNED_DEG = 50.0
#: With an arm above this elevation the shoulder girdle has to rise with it.
ARM_HIGH_M = 0.0


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
    tipped = [np.nan_to_num(np.abs(evidence.degrees(name))) > FOLDED_DEG for name in ("trunk_pitch", "trunk_roll")]
    return np.asarray(tipped[0] | tipped[1])


def _straight_leg_deg(evidence: Evidence) -> Floats:
    """How high (F,) a straight leg is lifted, degrees from hanging; a retiré's bent leg counts as low, one not seen as well."""
    lifted = [
        np.where(evidence.degrees("knee_flexion", side) < RETIRE_DEG, np.nan_to_num(evidence.degrees("leg_elevation", side)), 0.0)
        for side in SIDES
    ]
    return np.asarray(np.maximum(*lifted))


def _upright(evidence: Evidence, leg_below_deg: float = LEG_HIGH_DEG) -> NDArray[np.bool_]:
    """Frames (F,) in which an upright trunk is asked for: no straight leg lifted as high as this, and nothing folded."""
    return np.asarray((_straight_leg_deg(evidence) < leg_below_deg) & ~_folded(evidence))


def _posture(
    evidence: Evidence,
    fault: str,
    measure: str,
    made_of: Callable[[Evidence], Floats],
    toward: int,
    kinds: tuple[PhaseKind, ...],
    joints: tuple[str, ...],
    lever_m: float,
    asked: NDArray[np.bool_],
) -> Told:
    for phase, window in _held(evidence, kinds):
        yield evidence.extreme(
            fault,
            measure,
            phase,
            made_of(evidence),
            window,
            toward,
            joints=joints,
            lever_m=lever_m,
            asked=asked,
            least_asked=LEAST_ASKED,
            made_of=made_of,
        )


_UPRIGHT: tuple[PhaseKind, ...] = ("plie", "releve", "turn", "balance", "landing")
_TRUNK = ("neck", "hip.L", "hip.R")


def trunk_leans(evidence: Evidence) -> Told:
    """Trunk from the vertical, forward or back, against standing."""
    pitch = partial(Evidence.change, name="trunk_pitch")
    yield from _posture(evidence, "trunk-leans", "pitch", pitch, 0, _UPRIGHT, _TRUNK, 0.5, _upright(evidence))


def side_bends(evidence: Evidence) -> Told:
    """Trunk from the vertical, to a side, against standing: on one foot, in turns and on relevé."""
    roll = partial(Evidence.change, name="trunk_roll")
    kinds: tuple[PhaseKind, ...] = ("turn", "balance", "releve", "leg-gesture")
    yield from _posture(evidence, "side-bends", "roll", roll, 0, kinds, _TRUNK, 0.5, _upright(evidence, LEG_LEVEL_DEG))


def chest_tip(evidence: Evidence) -> Floats:
    """Chest tipped back in space (F,), degrees: extension of the thorax in the pelvis less the pelvis' tipping forward."""
    return evidence.change("thorax_extension") - evidence.change("pelvis_tilt")


def ribs_flare(evidence: Evidence) -> Told:
    """Chest tipped back in space."""
    kinds: tuple[PhaseKind, ...] = ("turn", "balance", "plie", "releve")
    yield from _posture(evidence, "ribs-flare", "tip", chest_tip, +1, kinds, ("neck", "lumbar"), 0.3, _upright(evidence))


def back_arches(evidence: Evidence) -> Told:
    """Pelvis tipped forward against standing."""
    tilt = partial(Evidence.change, name="pelvis_tilt")
    joints = ("hip.L", "hip.R", "lumbar")
    yield from _posture(evidence, "back-arches", "tilt", tilt, +1, _UPRIGHT, joints, 0.15, _upright(evidence))


def pelvis_tucks(evidence: Evidence) -> Told:
    """Pelvis tipped backward against standing."""
    tilt = partial(Evidence.change, name="pelvis_tilt")
    joints = ("hip.L", "hip.R", "lumbar")
    yield from _posture(evidence, "pelvis-tucks", "tilt", tilt, -1, _UPRIGHT, joints, 0.15, _upright(evidence))


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
        # An arm that is high asks the shoulder to rise with it; an arm that is not seen is not taken for high.
        asked = ~(elbow >= shoulder + ARM_HIGH_M)
        for phase, window in _held(evidence, ("turn", "balance", "releve")):
            yield evidence.extreme(
                "shoulders-lift",
                "height",
                phase,
                shoulder_height_mm(evidence, side),
                window,
                +1,
                joints=("shoulder" + SUFFIXES[side], "elbow" + SUFFIXES[side], "neck"),
                side=side,
                asked=asked,
                least_asked=LEAST_ASKED,
                made_of=partial(shoulder_height_mm, side=side),
            )


def head_lifts(evidence: Evidence) -> Told:
    """Chin up or down, and head to the side, in the chest, against standing."""
    # A head that is turned is spotting or looks where the dance looks.
    facing = ~(np.abs(evidence.change("head_yaw")) >= HEAD_TURNED_DEG) & _upright(evidence)
    for measure, name in (("pitch", "head_pitch"), ("roll", "head_roll")):
        for phase, window in _held(evidence, ("turn", "balance", "releve", "plie")):
            yield evidence.extreme(
                "head-lifts",
                measure,
                phase,
                evidence.change(name),
                window,
                0,
                joints=("head", "neck"),
                lever_m=0.15,
                asked=facing,
                least_asked=LEAST_ASKED,
                made_of=partial(Evidence.change, name=name),
            )


def _hip_limit(evidence: Evidence) -> Floats:
    """By how much (F,) the limit of a hiked hip widens with a straight leg: not at all up to 45°, twice as wide at 90°."""
    return np.asarray(1.0 + np.clip((_straight_leg_deg(evidence) - LEG_HIGH_DEG) / (LEG_LEVEL_DEG - LEG_HIGH_DEG), 0.0, 1.0))


def hip_hikes(evidence: Evidence) -> Told:
    """One side of the pelvis up against standing: the working side on one foot, either side while both feet are down."""
    roll = evidence.change("pelvis_obliquity")
    made_of = partial(Evidence.change, name="pelvis_obliquity")
    low, wider = _upright(evidence, LEG_LEVEL_DEG), _hip_limit(evidence)
    for phase, window in _held(evidence, ("turn", "balance", "plie", "leg-gesture")):
        support = phase.feet
        if support in SIDES and phase.kind != "plie":
            # The frame that lies furthest over its own limit, not the highest of all.
            told = evidence.extreme(
                "hip-hikes",
                "one_foot",
                phase,
                (roll if support == "left" else -roll) / wider,
                window,
                +1,
                joints=("hip.L", "hip.R"),
                side=OTHER[str(support)],
                lever_m=0.2,
                asked=low & evidence.alone(str(support)),
                made_of=made_of,
            )
            if isinstance(told, Observation):
                factor = float(wider[told.peak])
                told = replace(
                    told,
                    value=told.value * factor,
                    curve=None if told.curve is None else told.curve * factor,
                    widened=(factor, 0.0),
                    extra_sd=told.extra_sd * factor,
                )
            yield told
        elif support == "both":
            yield evidence.extreme(
                "hip-hikes",
                "two_feet",
                phase,
                roll,
                window,
                0,
                joints=("hip.L", "hip.R"),
                lever_m=0.2,
                asked=low & evidence.on_both,
                least_asked=LEAST_ASKED,
                made_of=made_of,
            )
