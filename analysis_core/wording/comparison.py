"""Sentences about what is different between two takes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from . import names, numbers

if TYPE_CHECKING:
    from ..compare.comparison import Comparison, Difference, FindingChange, Timing
    from ..findings.finding import Finding

SAME_MARKERS = "the markers stayed on between the takes"
OTHER_MARKERS = "the markers may have been stuck on anew, so that every ± is wider"

NO_DIFFERENCE = "no difference of shape that this measurement can show"
NO_POSE_ALIKE = "no pose of the other take is like it"
STEP_NOT_DANCED = "cannot be told: the other take has no such step"
TOO_NEAR_THE_EDGE = "cannot be told: too near the edge of the band for this measurement"


def only_here(steps: Sequence[str]) -> str:
    """Steps that one take alone has."""
    return f"only in this take: {', '.join(steps)}"


def by_another_number(one: Finding, other: Finding) -> str:
    """The same fault seen by two measures."""
    return f"cannot be told: by another number, {one.says or one.measure}, then {other.says or other.measure}"


def placement(comparison: Comparison) -> str:
    """Whether the two takes have their markers in the same places."""
    return SAME_MARKERS if comparison.same_markers else OTHER_MARKERS


def difference(found: Difference) -> str:
    """One difference of shape."""
    where = f", {names.step(found.phase)}" if found.phase else ""
    return f"{names.quantity(found.quantity)}{where}: {numbers.changed(found.value, found.plus_minus, found.unit)}"


def timing(found: Timing) -> str:
    """One difference of time, since the landmark before."""
    longer = "longer" if found.since_before_s > 0 else "shorter"
    return f"up to {found.landmark}: {numbers.measured(abs(found.since_before_s), found.plus_minus_s, 's')} {longer}"


def change(found: FindingChange) -> str:
    """What became of a correction."""
    words = f"{names.on_side(names.fault_title(found.fault), found.side)}, {names.step(found.phase)}: {found.change}"
    if found.value is not None and found.plus_minus is not None:
        words += f" ({numbers.changed(found.value, found.plus_minus, found.unit)})"
    return f"{words} ({found.why.removeprefix('cannot be told: ')})" if found.why else words
