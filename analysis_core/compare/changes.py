"""What became of every finding: gone, better, the same, worse, new, or cannot be told."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..findings.finding import Finding
from ..findings.measured import Measured, step_of
from ..review import Review
from ..take import Floats
from ..wording import comparison as say
from .comparison import Alignment, Change, FindingChange

#: Findings answer to each other when their times, brought into one take, are no further apart. Proposed default.
_SAME_MOMENT_S = 0.3


def _to_a(alignment: Alignment, b_s: Floats) -> Floats:
    """Times of A that answer to times of B; NaN where nothing does."""
    answers = np.full(np.shape(b_s), np.nan)
    for a, b in alignment.pieces:
        inside = (b_s >= b[0] - 1e-9) & (b_s <= b[-1] + 1e-9)
        answers[inside] = np.interp(b_s[inside], b, a)
    return answers


def _excess(value: float, band: tuple[float | None, float | None]) -> float:
    """How far a number lies outside a band, in its unit."""
    low, high = band
    below = -np.inf if low is None else low - value
    above = -np.inf if high is None else value - high
    return float(max(below, above, 0.0))


def _plus_minus(one: Finding | Measured, other: Finding | Measured, *, same_markers: bool) -> float:
    """95 % of the difference of two numbers."""
    within = [number.plus_minus_within_take for number in (one, other)]
    if same_markers and None not in within:
        return float(np.linalg.norm([value for value in within if value is not None]))
    return float(np.linalg.norm([number.plus_minus or 0.0 for number in (one, other)]))


def _in_step(finding: Finding, other: Review, other_phase: str | None) -> Measured | None:
    """The same measure as the other take tells it of the answering kind of step; the worse side where both are meant."""
    phase = next((phase for phase in other.phrase.phases if phase.id == other_phase), None)
    if phase is None:
        return None
    told = [
        item
        for item in other.measured
        if (item.fault, item.measure, item.step) == (finding.fault, finding.measure, step_of(phase))
        and (item.side == finding.side or "both" in (item.side, finding.side))
    ]
    known = [item for item in told if item.worst is not None]
    return max(known, key=lambda item: _excess(item.worst or 0.0, item.band), default=told[0] if told else None)


def _sides_meet(one: Finding, other: Finding) -> bool:
    return one.side == other.side or "both" in (one.side, other.side)


def _pairs(a: Review, b: Review, alignment: Alignment) -> dict[str, Finding]:
    """For findings of A by id the finding of B with the same fault and side at the same moment, nearest first, each once."""
    candidates = []
    spans = {f.id: _to_a(alignment, np.array([f.start_s, f.peak_s, f.end_s])) for f in b.findings}
    for one in a.findings:
        for other in b.findings:
            if one.fault != other.fault or not _sides_meet(one, other):
                continue
            span = spans[other.id]
            known = span[np.isfinite(span)]
            same_step = alignment.matched.get(one.phase) == other.phase
            near = known.size and max(known.min() - one.end_s, one.start_s - known.max()) < _SAME_MOMENT_S
            if same_step or near:
                distance = abs(float(np.nan_to_num(span[1], nan=one.peak_s + 10.0)) - one.peak_s) + (0.0 if same_step else 1.0)
                candidates.append((distance, one.id, other))
    found: dict[str, Finding] = {}
    taken: set[str] = set()
    for _, name, other in sorted(candidates, key=lambda item: item[:2]):
        if name not in found and other.id not in taken:
            found[name] = other
            taken.add(other.id)
    return found


def _both(one: Finding, other: Finding, *, same_markers: bool) -> FindingChange:
    if one.measure != other.measure:
        why = say.by_another_number(one, other)
        return FindingChange(one.fault, one.side, one.phase, "cannot be told", one.id, other.id, None, one.unit, None, why)
    plus_minus = _plus_minus(one, other, same_markers=same_markers)
    change = _excess(other.value, other.band) - _excess(one.value, one.band)
    shown = abs(other.value - one.value) > plus_minus and change != 0
    word: Change = "same" if not shown else "worse" if change > 0 else "better"
    value = other.value - one.value
    return FindingChange(one.fault, one.side, one.phase, word, one.id, other.id, value, one.unit, plus_minus)


def _alone(
    finding: Finding, phase: str, other: Review, answer: Floats, other_phase: str | None, *, in_a: bool, same_markers: bool
) -> FindingChange:
    """A finding that only one take has: gone or new, where the other take could show it."""
    id_a, id_b = (finding.id, None) if in_a else (None, finding.id)
    measured = _in_step(finding, other, other_phase)
    if measured is not None and measured.worst is not None:
        plus_minus = _plus_minus(finding, measured, same_markers=same_markers)
        # An open side of a band, such as a height below 0, is none to be outside of.
        there = _excess(measured.worst, finding.band) if measured.outside else 0.0
        inside: Change = "gone" if in_a else "new"
        between: Change = "better" if in_a else "worse"
        word: Change = inside if there == 0 else between
        if abs(measured.worst - finding.value) <= plus_minus or there >= _excess(finding.value, finding.band):
            word = "same"
        value = (measured.worst - finding.value) * (1.0 if in_a else -1.0)
        return FindingChange(finding.fault, finding.side, phase, word, id_a, id_b, value, finding.unit, plus_minus)
    plus_minus = _plus_minus(finding, finding, same_markers=same_markers)
    kind = finding.phase.rpartition("-")[0]
    unsure = [item for item in other.unsure if item.fault == finding.fault and item.phase.rpartition("-")[0] == kind]
    change: Change = "cannot be told"
    why = ""
    if other_phase is None and not np.isfinite(answer).any():
        why = say.STEP_NOT_DANCED
    elif measured is not None and measured.cannot_tell is not None:
        why = measured.cannot_tell
    elif unsure:
        why = next((item.why for item in unsure if item.phase == other_phase), unsure[0].why)
    elif _excess(finding.value, finding.band) <= plus_minus:
        why = say.TOO_NEAR_THE_EDGE
    else:
        change = "gone" if in_a else "new"
    return FindingChange(finding.fault, finding.side, phase, change, id_a, id_b, None, finding.unit, plus_minus, why)


def find_changes(a: Review, b: Review, alignment: Alignment, *, same_markers: bool) -> Iterator[FindingChange]:
    """The changes of A's findings in their order, then what is new in B. Findings that were set aside take part as well."""
    pairs = _pairs(a, b, alignment)
    back = {other: name for name, other in alignment.matched.items()}
    for one in a.findings:
        if one.id in pairs:
            yield _both(one, pairs[one.id], same_markers=same_markers)
        else:
            answer = alignment.to_b(np.array([one.start_s, one.peak_s, one.end_s]))
            other_phase = alignment.matched.get(one.phase)
            yield _alone(one, one.phase, b, answer, other_phase, in_a=True, same_markers=same_markers)
    taken = {finding.id for finding in pairs.values()}
    for finding in b.findings:
        if finding.id not in taken:
            answer = _to_a(alignment, np.array([finding.start_s, finding.peak_s, finding.end_s]))
            own = back.get(finding.phase)
            yield _alone(finding, own or finding.phase, a, answer, own, in_a=False, same_markers=same_markers)
