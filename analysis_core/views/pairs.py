"""The same moment in another take: its time, and the same measure there, whether it was a finding or not."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..body.movement import Movement
from ..compare.comparison import Comparison
from ..findings.evidence import Evidence
from ..findings.find import MEASURES
from ..findings.finding import Finding, View
from ..findings.observation import Observation
from ..review import Review


@dataclass(frozen=True)
class Answer:
    """What answers to a finding in another take. time_s: None where nothing does. shown: the finding, or the same measure inside
    the band as one; None where it was not seen. found: whether it is a finding there."""

    time_s: float | None
    shown: Finding | None
    found: bool


def answer_to(finding: Finding, comparison: Comparison, other: Review, evidence: Evidence) -> Answer:
    """The answer in B to a finding of A. evidence: of B."""
    change = next((item for item in comparison.findings if item.a == finding.id), None)
    again = next((f for f in other.findings if change is not None and f.id == change.b), None)
    if again is not None:
        return Answer(again.peak_s, again, True)
    at = float(comparison.alignment.to_b(np.array([finding.peak_s]))[0])
    phase = comparison.alignment.matched.get(finding.phase)
    told = _measured_again(finding, phase, evidence)
    if told is None:
        return Answer(at if np.isfinite(at) else None, None, False)
    peak_s = told.peak / evidence.rate_hz
    return Answer(peak_s, replace(finding, phase=told.phase.id, value=told.value, peak_s=peak_s), False)


def same_view(view: View, one: Movement, frame: int, other: Movement, other_frame: int) -> View:
    """A view of one dancer for another: from the same side of the body, by the facing of the hips and the centre of mass."""
    angles = [np.nan_to_num(movement.angle("pelvis_yaw")[at]) for movement, at in ((one, frame), (other, other_frame))]
    turn = float(angles[1] - angles[0])
    cosine, sine = np.cos(turn), np.sin(turn)
    rotation = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    centres = [movement.centre_of_mass_m[at] * [1.0, 1.0, 0.0] for movement, at in ((one, frame), (other, other_frame))]
    if not np.isfinite(centres).all():
        return view
    x, y, z = (rotation @ (np.array(view.position_m) - centres[0]) + centres[1]).tolist()
    at_x, at_y, at_z = (rotation @ (np.array(view.aim_m) - centres[0]) + centres[1]).tolist()
    return View((x, y, z), (at_x, at_y, at_z), view.name)


def _measured_again(finding: Finding, phase: str | None, evidence: Evidence) -> Observation | None:
    """The same measure in the answering step, on the same side."""
    measure = MEASURES.get(finding.fault)
    if measure is None or phase is None:
        return None
    told = [
        item
        for item in measure(evidence)
        if isinstance(item, Observation)
        and item.phase.id == phase
        and item.measure == finding.measure
        and np.isfinite(item.value)
    ]
    sided = [item for item in told if item.side == finding.side] or told
    return max(sided, key=lambda item: abs(item.value), default=None)
