"""Measures of trunk, pelvis, shoulders and head."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import apply
from ..body.movement import SIDES
from ..phrase.phase import LegGesture, Phase, PhaseKind
from ..take import Floats
from .evidence import OTHER, Evidence, made_once
from .limits import LEVERS, POSTURE
from .observation import NotTold, Observation
from .reading import FURTHEST, HIGHEST, LOWEST, Measure, Told, Window, extreme, over
from .windows import asked_of


@dataclass(frozen=True)
class Held:
    """A step in which posture is judged, and the frames of it."""

    phase: Phase
    frames: tuple[int, int]


def _held(evidence: Evidence, kinds: tuple[PhaseKind, ...]) -> Iterator[Held]:
    """Phases of some kinds with the frames in which posture is judged: a turn only while it stands fully up."""
    turns = {turn.phase.id: (turn.rise, turn.sink) for turn in evidence.turns}
    for phase in evidence.judged(*kinds):
        if phase.kind != "turn" or phase.id in turns:
            yield Held(phase, turns.get(phase.id, (phase.start, phase.end)))


def _folded(evidence: Evidence) -> NDArray[np.bool_]:
    """Frames (F,) in which the body is folded or tipped on purpose; a trunk that is not seen is not taken for folded."""
    tipped = [np.abs(evidence.degrees(name)) > POSTURE.folded_deg for name in ("trunk_pitch", "trunk_roll")]
    return np.asarray(tipped[0] | tipped[1])


def _lifted_deg(evidence: Evidence) -> Floats:
    """How high (F,) a leg is lifted, degrees from hanging; one not seen counts as low.

    By the line from hip to ankle: a retiré's is low, that of a leg which unfolds into a développé is not, bent as it still is.
    """
    return np.asarray(np.maximum(*(np.nan_to_num(evidence.degrees("leg_elevation", side)) for side in SIDES)))


def _upright(evidence: Evidence, leg_below_deg: float = POSTURE.leg_high_deg) -> NDArray[np.bool_]:
    """Frames (F,) in which an upright trunk is asked for: no leg lifted as high as this, and nothing folded."""
    return np.asarray((_lifted_deg(evidence) < leg_below_deg) & ~_folded(evidence))


def _plumb(evidence: Evidence, leg_below_deg: float = POSTURE.leg_high_deg) -> NDArray[np.bool_]:
    """Frames (F,) in which nothing has to tip: an upright trunk is asked for, and no leg is lifted to the back.

    That takes pelvis and trunk with it in whatever step, and what tips forward over a pelvis that opens seems to bend to a side.
    """
    asked = _upright(evidence, leg_below_deg)
    for gesture in evidence.phrase.of(LegGesture):
        if gesture.direction == "back":
            asked[gesture.start : gesture.end + 1] = False
    return asked


def _posture(evidence: Evidence, measure: Measure, asked: NDArray[np.bool_], side: str | None = None) -> Told:
    """The extreme of a measure in every step that it is asked of, of the frames (F,) in which it is asked for."""
    reading = measure.on(side)
    assert reading.made_of is not None
    curve = reading.made_of(evidence)
    for held in _held(evidence, asked_of(reading.fault, reading.measure)):
        yield extreme(evidence, reading, held.phase, Window(curve, held.frames, asked, POSTURE.least_asked))


_TRUNK, _PELVIS = ("neck", "hip.L", "hip.R"), ("hip.L", "hip.R", "lumbar")
_PITCH, _ROLL, _TILT = (partial(Evidence.change, name=name) for name in ("trunk_pitch", "trunk_roll", "pelvis_tilt"))

_LEANS = Measure("trunk-leans", "pitch", FURTHEST, _TRUNK, _PITCH, lever_m=LEVERS.trunk_m)


def trunk_leans(evidence: Evidence) -> Told:
    """Trunk from the vertical, forward or back, against standing."""
    yield from _posture(evidence, _LEANS, _plumb(evidence))


_BENDS = Measure("side-bends", "roll", FURTHEST, _TRUNK, _ROLL, lever_m=LEVERS.trunk_m)


def side_bends(evidence: Evidence) -> Told:
    """Trunk from the vertical, to a side, against standing: on one foot, in turns and on relevé."""
    yield from _posture(evidence, _BENDS, _plumb(evidence, POSTURE.leg_level_deg))


def chest_tip(evidence: Evidence) -> Floats:
    """Chest tipped back in space (F,), degrees: extension of the thorax in the pelvis less the pelvis' tipping forward."""
    return evidence.change("thorax_extension") - evidence.change("pelvis_tilt")


_FLARE = Measure("ribs-flare", "tip", HIGHEST, ("neck", "lumbar"), chest_tip, sided=False, lever_m=LEVERS.shoulders_m)


def ribs_flare(evidence: Evidence) -> Told:
    """Chest tipped back in space."""
    yield from _posture(evidence, _FLARE, _plumb(evidence))


_ARCHES = Measure("back-arches", "tilt", HIGHEST, _PELVIS, _TILT, lever_m=LEVERS.pelvis_m)


def back_arches(evidence: Evidence) -> Told:
    """Pelvis tipped forward against standing."""
    yield from _posture(evidence, _ARCHES, _plumb(evidence))


_TUCKS = replace(_ARCHES, fault="pelvis-tucks", toward=LOWEST)


def pelvis_tucks(evidence: Evidence) -> Told:
    """Pelvis tipped backward against standing."""
    yield from _posture(evidence, _TUCKS, _plumb(evidence))


@made_once
def shoulder_height_mm(evidence: Evidence, side: str) -> Floats:
    """Shoulder (F,) along the upright axis of the thorax from the base of the neck, against standing, mm."""
    thorax = evidence.movement.segment("thorax")
    height = apply(np.swapaxes(thorax, -1, -2), evidence.joint("shoulder", side) - evidence.joint("neck"))[:, 1]
    return np.asarray(1000 * (height - evidence.movement.standing.shoulder_height_m[SIDES.index(side)]))


_LIFTS = Measure("shoulders-lift", "height", HIGHEST, ("shoulder", "elbow", "neck"), shoulder_height_mm)


def shoulders_lift(evidence: Evidence) -> Told:
    """Shoulder up against standing, while the arm is below shoulder height."""
    for side in SIDES:
        elbow, shoulder = evidence.joint("elbow", side)[:, 2], evidence.joint("shoulder", side)[:, 2]
        # An arm that is high asks the shoulder to rise with it; an arm that is not seen is not taken for high.
        yield from _posture(evidence, _LIFTS, ~(elbow >= shoulder + POSTURE.arm_high_m), side)


_CHIN = Measure(
    "head-lifts", "pitch", FURTHEST, ("head", "neck"), partial(Evidence.change, name="head_pitch"), lever_m=LEVERS.head_m
)
_EAR = replace(_CHIN, name="roll", curve=partial(Evidence.change, name="head_roll"))


def head_lifts(evidence: Evidence) -> Told:
    """Chin up or down, and head to the side, in the chest, against standing."""
    # A head that is turned is spotting or looks where the dance looks.
    facing = ~(np.abs(evidence.change("head_yaw")) >= POSTURE.head_turned_deg)
    # Over a trunk that a leg to the back takes forward the head stays up, which is back in the chest.
    for measure, asked in ((_CHIN, _plumb(evidence)), (_EAR, _upright(evidence))):
        yield from _posture(evidence, measure, facing & asked)


def _hip_limit(evidence: Evidence) -> Floats:
    """By how much (F,) the limit of a hiked hip widens with a straight leg: not at all up to 45°, twice as wide at 90°."""
    lifted = (_lifted_deg(evidence) - POSTURE.leg_high_deg) / (POSTURE.leg_level_deg - POSTURE.leg_high_deg)
    return np.asarray(1.0 + np.clip(lifted, 0.0, 1.0))


_LEVEL = Measure(
    "hip-hikes", "two_feet", FURTHEST, ("hip.L", "hip.R"), partial(Evidence.change, name="pelvis_obliquity"), sided=False,
    lever_m=LEVERS.hips_m,
)  # fmt: skip
_HIKE = replace(_LEVEL, name="one_foot", toward=HIGHEST)


def _working_hip(evidence: Evidence, held: Held, support: str) -> Observation | NotTold | None:
    """The working side on one foot: the frame that lies furthest over its own limit, not the highest of all."""
    roll, wider = evidence.change("pelvis_obliquity"), _hip_limit(evidence)
    share = (roll if support == "left" else -roll) / wider
    asked = _upright(evidence, POSTURE.leg_level_deg) & evidence.alone(support)
    told = extreme(evidence, _HIKE.on(OTHER[support]), held.phase, Window(share, held.frames, asked))
    if not isinstance(told, Observation):
        return told
    factor = float(wider[told.peak])
    curve = None if told.curve is None else told.curve * factor
    return replace(told, value=told.value * factor, curve=curve, widened=(factor, 0.0), extra_sd=told.extra_sd * factor)


_HIPS = {measure: asked_of("hip-hikes", measure) for measure in ("one_foot", "two_feet")}


@over(partial(_held, kinds=tuple(dict.fromkeys((*_HIPS["one_foot"], *_HIPS["two_feet"])))))
def hip_hikes(evidence: Evidence, held: Held) -> Told:
    """One side of the pelvis up against standing: the working side on one foot, either side while both feet are down."""
    if held.phase.feet == "both" and held.phase.kind in _HIPS["two_feet"]:
        asked = _upright(evidence, POSTURE.leg_level_deg) & evidence.on_both
        window = Window(evidence.change("pelvis_obliquity"), held.frames, asked, POSTURE.least_asked)
        yield extreme(evidence, _LEVEL.on(), held.phase, window)
    elif held.phase.feet in SIDES and held.phase.kind in _HIPS["one_foot"]:
        yield _working_hip(evidence, held, held.phase.feet)
