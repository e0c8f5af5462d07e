"""Measures of trunk, pelvis, shoulders and head."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import apply
from ..body.movement import SIDES, SUFFIXES
from ..phrase.phase import Phase, PhaseKind
from ..take import Floats
from .evidence import Evidence, made_once
from .observation import NotTold, Observation

Told = Iterator[Observation | NotTold]

#: With a leg lifted beyond this the trunk and pelvis have to follow it; nothing is said of them then. Sources: Feipel 2004 for
#: the spine in high legs; the angle is a proposed default.
LEG_HIGH_DEG = 45.0
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


def _upright(evidence: Evidence) -> NDArray[np.bool_]:
    """Frames (F,) in which an upright trunk is asked for: no straight leg lifted high (a retiré's bent leg counts as low), and
    the body not folded on purpose."""
    low = np.ones(evidence.frames, dtype=bool)
    for name in ("trunk_pitch", "trunk_roll"):
        low &= ~(np.nan_to_num(np.abs(evidence.degrees(name))) > FOLDED_DEG)
    for side in SIDES:
        lifted = evidence.degrees("leg_elevation", side) > LEG_HIGH_DEG
        straight = evidence.degrees("knee_flexion", side) < 60.0
        low &= ~(np.nan_to_num(lifted) & straight)
    return low


def _posture(
    evidence: Evidence,
    fault: str,
    measure: str,
    made_of: Callable[[Evidence], Floats],
    toward: int,
    kinds: tuple[PhaseKind, ...],
    joints: tuple[str, ...],
    lever_m: float,
) -> Told:
    curve = np.where(_upright(evidence), made_of(evidence), np.nan)
    for phase, window in _held(evidence, kinds):
        if np.isfinite(curve[window[0] : window[1] + 1]).mean() < 0.3 and not _upright(evidence)[window[0] : window[1] + 1].all():
            continue
        yield evidence.extreme(
            fault, measure, phase, curve, window, toward, joints=joints, lever_m=lever_m, least_known=0.3, made_of=made_of
        )


_UPRIGHT: tuple[PhaseKind, ...] = ("plie", "releve", "turn", "balance", "landing")
_TRUNK = ("neck", "hip.L", "hip.R")


def trunk_leans(evidence: Evidence) -> Told:
    """Trunk from the vertical, forward or back, against standing."""
    yield from _posture(evidence, "trunk-leans", "pitch", partial(Evidence.change, name="trunk_pitch"), 0, _UPRIGHT, _TRUNK, 0.5)


def side_bends(evidence: Evidence) -> Told:
    """Trunk from the vertical, to a side, against standing."""
    yield from _posture(
        evidence,
        "side-bends",
        "roll",
        partial(Evidence.change, name="trunk_roll"),
        0,
        ("turn", "balance", "plie", "releve"),
        _TRUNK,
        0.5,
    )


def chest_tip(evidence: Evidence) -> Floats:
    """Chest tipped back in space (F,), degrees: extension of the thorax in the pelvis less the pelvis' tipping forward."""
    return evidence.change("thorax_extension") - evidence.change("pelvis_tilt")


def ribs_flare(evidence: Evidence) -> Told:
    """Chest tipped back in space."""
    yield from _posture(
        evidence, "ribs-flare", "tip", chest_tip, +1, ("turn", "balance", "plie", "releve"), ("neck", "lumbar"), 0.3
    )


def back_arches(evidence: Evidence) -> Told:
    """Pelvis tipped forward against standing."""
    tilt = partial(Evidence.change, name="pelvis_tilt")
    yield from _posture(evidence, "back-arches", "tilt", tilt, +1, _UPRIGHT, ("hip.L", "hip.R", "lumbar"), 0.15)


def pelvis_tucks(evidence: Evidence) -> Told:
    """Pelvis tipped backward against standing."""
    tilt = partial(Evidence.change, name="pelvis_tilt")
    yield from _posture(evidence, "pelvis-tucks", "tilt", tilt, -1, _UPRIGHT, ("hip.L", "hip.R", "lumbar"), 0.15)


@made_once
def shoulder_height_mm(evidence: Evidence, side: str) -> Floats:
    """Shoulder (F,) along the upright axis of the thorax from the base of the neck, against standing, mm."""
    thorax = evidence.movement.segment("thorax")
    height = apply(np.swapaxes(thorax, -1, -2), evidence.joint("shoulder", side) - evidence.joint("neck"))[:, 1]
    return np.asarray(1000 * (height - evidence.movement.standing.shoulder_height_m[SIDES.index(side)]))


def shoulders_lift(evidence: Evidence) -> Told:
    """Shoulder up against standing, while the arm is below shoulder height."""
    for side in SIDES:
        curve = shoulder_height_mm(evidence, side)
        arm_low = evidence.joint("elbow", side)[:, 2] < evidence.joint("shoulder", side)[:, 2] + ARM_HIGH_M
        curve = np.where(arm_low, curve, np.nan)
        for phase, window in _held(evidence, ("turn", "balance", "releve")):
            told = evidence.extreme(
                "shoulders-lift",
                "height",
                phase,
                curve,
                window,
                +1,
                joints=("shoulder" + SUFFIXES[side], "neck"),
                side=side,
                least_known=0.3,
                made_of=partial(shoulder_height_mm, side=side),
            )
            # An arm that is high throughout asks nothing of the shoulder.
            if (
                isinstance(told, Observation)
                or not np.isfinite(evidence.joint("shoulder", side)[window[0] : window[1] + 1]).all()
            ):
                yield told


def head_lifts(evidence: Evidence) -> Told:
    """Chin up or down, and head to the side, in the chest, against standing."""
    facing = np.abs(evidence.change("head_yaw")) < HEAD_TURNED_DEG
    for measure, name in (("pitch", "head_pitch"), ("roll", "head_roll")):
        curve = np.where(facing & _upright(evidence), evidence.change(name), np.nan)
        for phase, window in _held(evidence, ("turn", "balance", "releve", "plie")):
            known = np.isfinite(evidence.change(name)[window[0] : window[1] + 1]).mean() > 0.5
            told = evidence.extreme(
                "head-lifts",
                measure,
                phase,
                curve,
                window,
                0,
                joints=("head", "neck"),
                lever_m=0.15,
                least_known=0.2,
                made_of=partial(Evidence.change, name=name),
            )
            # A head that is turned for most of the time is spotting or looks where the dance looks.
            if isinstance(told, Observation) or not known:
                yield told


def hip_hikes(evidence: Evidence) -> Told:
    """One side of the pelvis up against standing: the working side on one foot, either side on two."""
    roll = np.where(_upright(evidence), evidence.change("pelvis_obliquity"), np.nan)
    joints = ("hip.L", "hip.R")
    for phase, window in _held(evidence, ("turn", "balance", "plie", "leg-gesture")):
        support = phase.properties.get("support")
        if support in SIDES and phase.kind != "plie":
            up = roll if support == "left" else -roll
            told = evidence.extreme(
                "hip-hikes",
                "one_foot",
                phase,
                up,
                window,
                +1,
                joints=joints,
                side=SIDES[1 - SIDES.index(str(support))],
                lever_m=0.2,
                least_known=0.3,
                made_of=partial(Evidence.change, name="pelvis_obliquity"),
            )
        elif support == "both":
            told = evidence.extreme(
                "hip-hikes",
                "two_feet",
                phase,
                roll,
                window,
                0,
                joints=joints,
                lever_m=0.2,
                made_of=partial(Evidence.change, name="pelvis_obliquity"),
            )
        else:
            continue
        if isinstance(told, Observation) or phase.kind != "leg-gesture":
            yield told
