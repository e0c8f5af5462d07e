"""Measures of how feet are shaped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARCH
from ..body.movement import SIDES, RecordedMovement
from ..phrase.phase import Jump, Phase, Plie, Turn
from ..runs import runs
from ..take import Floats
from ..wording import findings as say
from .evidence import OTHER, Evidence
from .limits import LEGS, LEVERS, STEPS
from .observation import NotTold
from .parts_of_measures import fully_up
from .reading import HIGHEST, LOWEST, Measure, Told, Window, extreme, over


def _in_the_air(evidence: Evidence, side: str) -> NDArray[np.bool_]:
    """Frames (F,) in which a foot has left the floor for some time, and is not about to come back to it."""
    return np.asarray(_shrunk(~evidence.on(side), evidence.samples(LEGS.in_the_air_s), evidence.samples(LEGS.back_s)))


def _at_its_height(evidence: Evidence, foot: ShapedFoot) -> NDArray[np.bool_]:
    """Frames (F,) in which a working foot is in the air and its leg near its height: on its way there and back it passes the
    floor and the other leg, and is shaped for that."""
    up, lifted = _in_the_air(evidence, foot.side), evidence.degrees("leg_elevation", foot.side)
    part = slice(foot.frames[0], foot.frames[1] + 1)
    highest = float(np.nanmax(np.append(np.where(up, lifted, np.nan)[part], 0.0)))
    return np.asarray(up & ~(lifted < LEGS.at_its_height * highest))


def _shrunk(mask: NDArray[np.bool_], first: int, last: int) -> NDArray[np.bool_]:
    """A mask (F,) without so many frames at the beginning and the end of every stretch; the ends of the take are no ends."""
    kept = np.zeros(mask.size, dtype=bool)
    for start, stop in runs(mask):
        kept[start + (first if start else 0) : stop - (last if stop < mask.size else 0)] = True
    return kept


def foot_deviation(evidence: Evidence, side: str) -> Floats:
    """Angle (F,) of a foot against the line of the leg, against standing, degrees; negative: sickled."""
    return evidence.change("foot_deviation", side)


@dataclass(frozen=True)
class ShapedFoot:
    """A foot that is looked at in a step. name: of the measure, "working" or "supporting"."""

    phase: Phase
    side: str
    name: str
    frames: tuple[int, int]


def _shaped_feet(evidence: Evidence) -> Iterator[ShapedFoot]:
    """Both feet of jumps, and of balances and turns on one foot, where they last for long enough."""
    turns = fully_up(evidence)
    for phase in evidence.judged("jump", "balance", "turn"):
        frames = turns.get(phase.id, (phase.start, phase.end))
        on_one = phase.feet in SIDES and (not isinstance(phase, Turn) or phase.id in turns)
        if frames[1] - frames[0] < evidence.samples(LEGS.shaped_s):
            continue
        if isinstance(phase, Jump):
            yield from (ShapedFoot(phase, side, "working", frames) for side in SIDES)
        elif on_one:
            yield ShapedFoot(phase, OTHER[str(phase.feet)], "working", frames)
            yield ShapedFoot(phase, str(phase.feet), "supporting", frames)


_SICKLES = {
    name: Measure(
        "foot-sickles", name, LOWEST, ("ankle", "toe"), foot_deviation, lever_m=LEVERS.forefoot_m, least_sd=LEGS.foot_deg
    )
    for name in ("working", "supporting")
}


@over(_shaped_feet)
def foot_sickles(evidence: Evidence, foot: ShapedFoot) -> Told:
    """Foot against the line of the leg: working foot in the air in balances and turns, standing one on relevé, both in flight."""
    asked = None
    if foot.name == "supporting":
        asked = (evidence.heel_mm(foot.side) > STEPS.risen_mm) & evidence.forefoot_down(foot.side)
    elif foot.phase.kind != "jump":
        asked = _at_its_height(evidence, foot)
    window = Window(foot_deviation(evidence, foot.side), foot.frames, asked)
    yield extreme(evidence, _SICKLES[foot.name].on(foot.side), foot.phase, window)


def arch_drop_mm(evidence: Evidence, side: str) -> Floats:
    """How far (F,) the inner arch has sunk since standing against heel and inner ball, mm; source: catalogue, foot-wings."""
    return 1000 * evidence.movement.arch_drop_m(side)


_DROP = Measure("foot-wings", "drop", HIGHEST, ("heel", "toe"), arch_drop_mm, least_sd=LEGS.arch_mm)


def _untold_arch(evidence: Evidence) -> str:
    """Why nothing is told of an inner arch."""
    recording = evidence.movement.recording if isinstance(evidence.movement, RecordedMovement) else None
    marked = recording is not None and any(name.startswith(ARCH) for name in recording.recognition.index_of)
    return say.ARCH_WITHOUT_STANDING if marked else say.NO_ARCH_MARKERS


def foot_wings(evidence: Evidence) -> Told:
    """How far the inner arch of a flat foot sinks in pliés and landings."""
    marked = [side for side in SIDES if np.isfinite(evidence.movement.arch_drop_m(side)).any()]
    if not marked:
        for plie in evidence.phrase.of(Plie)[:1]:
            yield NotTold("foot-wings", plie, _untold_arch(evidence))
    for phase in evidence.judged("plie", "landing"):
        for side in (side for side in evidence.supports(phase) or SIDES if side in marked):
            flat = evidence.on(side) & evidence.forefoot_down(side) & (evidence.heel_mm(side) < STEPS.flat_mm)
            window = Window(arch_drop_mm(evidence, side), (phase.start, phase.end), flat)
            yield extreme(evidence, _DROP.on(side), phase, window)
