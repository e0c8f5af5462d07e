"""How bad it is on which body part at which moment: numbers between calm (0) and the worst (1)."""

from __future__ import annotations

import numpy as np

from ..body.anatomy import ARM_SEGMENTS, LEG_SEGMENTS
from ..body.movement import SEGMENTS
from ..findings.finding import Finding
from ..take import Floats

#: Lowest level of a grade and what full severity adds: watch lies around the middle, faults above it.
_LEVEL_OF_GRADE = {"watch": (0.35, 0.2), "fault": (0.75, 0.25)}
#: A finding comes and goes over this time. Proposed default, no published norm.
_FADE_S = 0.15
#: Named by findings for more than one segment.
_ALSO = {"trunk": ("lumbar", "thorax"), "leg": LEG_SEGMENTS[:2], "arm": ARM_SEGMENTS[:2]}


def segments_named(parts: tuple[str, ...]) -> list[int]:
    """Indices in SEGMENTS of the body parts that a finding names."""
    names = []
    for part in parts:
        base, dot, side = part.partition(".")
        names += [f"{name}{dot}{side}" if name not in SEGMENTS else name for name in _ALSO.get(base, (base,))]
    return [SEGMENTS.index(name) for name in names if name in SEGMENTS]


def level_of(finding: Finding) -> float:
    """Where a finding lies between calm (0) and the worst (1)."""
    low, more = _LEVEL_OF_GRADE[finding.grade]
    return float(low + more * np.clip(finding.severity, 0.0, 1.0))


def levels_of(findings: tuple[Finding, ...], time_s: Floats) -> Floats:
    """Levels (F, S) of SEGMENTS at times (F,), continuous in time; what a teacher set aside is calm."""
    levels = np.zeros((len(time_s), len(SEGMENTS)))
    for finding in findings:
        if finding.decision == "set aside":
            continue
        edges = (finding.start_s - _FADE_S, finding.start_s, finding.end_s, finding.end_s + _FADE_S)
        course = level_of(finding) * np.interp(time_s, edges, (0.0, 1.0, 1.0, 0.0))
        for index in segments_named(finding.parts):
            levels[:, index] = np.maximum(levels[:, index], course)
    return levels
