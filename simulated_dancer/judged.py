"""A review held against the truth: which findings are true, what was missed, whether the ± holds, whether the steps are steps.

Nothing built in means that every finding is false. Of a dance with faults a finding is true when it tells a fault that was built
in, or what that truly dragged along: the formulas of the truth put the number outside its band by more than the finding's ±. Is
it outside by less, neither side can be proved: the finding is undecided. All other findings are false.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ..analysis_core.body.anatomy import SIDES
from ..analysis_core.findings.finding import Finding
from ..analysis_core.phrase.phase import Phase, PhaseKind
from ..analysis_core.review import Review
from .score import Step
from .simulate import Simulation
from .told import Number, numbers
from .truth_of_faults import Dance, TrueValue, true_values

#: A finding and a true number this far apart in time are of two things.
_NEAR_S = 0.15
#: Kinds of step whose phases are counted, and the share of a phase that must be of its kind.
COUNTED_KINDS: tuple[PhaseKind, ...] = ("turn", "releve", "balance")
_MOSTLY = 0.5
#: A balance by the catalogue (6.4).
_STILL_MM_S, _STILL_DEG_S, _HOLD_S = 60.0, 20.0, 1.0


@dataclass(frozen=True)
class Carried:
    """A fault that was built in and truly lies outside its band. clear: by the catalogue a fault, not only worth a watch."""

    fault: str
    step: str
    kind: str
    value: float
    clear: bool
    found: bool


@dataclass(frozen=True)
class Steps:
    """Phases of one kind that the program tells, those of them that are none, and true ones that it does not tell."""

    told: int
    false: tuple[str, ...]
    missed: int


@dataclass(frozen=True)
class Judged:
    """covered: (fault, measure, error, ±) of every number that both sides tell; apart: the same of two steps against each other
    by the ± within the take. too_small: faults that were built in but do not reach outside their band."""

    carried: tuple[Carried, ...]
    too_small: tuple[str, ...]
    true: tuple[str, ...]
    undecided: tuple[str, ...]
    false: tuple[str, ...]
    covered: tuple[tuple[str, str, float, float], ...]
    apart: tuple[tuple[str, str, float, float], ...]
    steps: dict[str, Steps]
    minutes: float


def _sides_agree(one: str | None, other: str | None) -> bool:
    return not {one, other} <= set(SIDES) or one == other


def _overlap(a: tuple[float, float], b: tuple[float, float]) -> float:
    return min(a[1], b[1]) - max(a[0], b[0])


def _behind(finding: Finding, values: Sequence[TrueValue]) -> list[TrueValue]:
    """The true numbers that a finding may be about."""
    span = finding.start_s - _NEAR_S, finding.end_s + _NEAR_S
    return [
        value
        for value in values
        if value.fault == finding.fault
        and _sides_agree(value.side, finding.side)
        and _overlap(span, (value.start_s, value.end_s)) >= 0.0
    ]


def _verdict(finding: Finding, values: Sequence[TrueValue], built: set[tuple[str, str]]) -> str:
    if not built:
        return "false"
    behind = _behind(finding, values)
    if any(v.outside > 0.0 and (v.fault, v.step) in built for v in behind):
        return "true"
    if any(v.outside > (finding.plus_minus if v.measure == finding.measure else 0.0) for v in behind):
        return "true"
    return "undecided" if any(v.outside > 0.0 for v in behind) else "false"


def _carried(danced: Simulation, review: Review, values: Sequence[TrueValue]) -> tuple[list[Carried], list[str]]:
    carried, too_small = [], []
    for fault in danced.built_in:
        own = [v for v in values if (v.fault, v.step) == (fault.fault, fault.phase)]
        outside = [v for v in own if v.outside > 0.0]
        if not outside:
            reached = max(own, key=lambda v: v.outside).value if own else np.nan
            too_small.append(f"{fault.fault} of {fault.value:g} in {fault.phase} reaches {reached:.3g}")
            continue
        worst = max(outside, key=lambda v: (v.is_fault, v.outside))
        found = any(v in outside for finding in review.findings for v in _behind(finding, own))
        carried.append(Carried(fault.fault, fault.phase, worst.kind, worst.value, worst.is_fault, found))
    return carried, too_small


def _of_step(phase: Phase, steps: dict[str, Step], value: TrueValue) -> bool:
    """Whether a phase of the review is the step of a true number."""
    if value.kind == "phrase":
        return True
    step = steps[value.step]
    shorter = min(phase.end_s - phase.start_s, step.end_s - step.start_s)
    return phase.kind == step.kind and _overlap((phase.start_s, phase.end_s), (step.start_s, step.end_s)) > _MOSTLY * shorter


def _paired(measured: Sequence[Number], values: Sequence[TrueValue], steps: dict[str, Step]) -> list[tuple[Number, float]]:
    """The program's numbers with their errors, where the truth has the same number."""
    by_name: dict[tuple[str, str], list[TrueValue]] = {}
    for value in values:
        by_name.setdefault((value.fault, value.measure), []).append(value)
    pairs = []
    for number in measured:
        same = [
            value
            for value in by_name.get((number.fault, number.measure), ())
            if _sides_agree(value.side, number.side) and _of_step(number.phase, steps, value)
        ]
        if same:
            value = min(same, key=lambda v: abs(v.peak_s - number.peak_s))
            pairs.append((number, number.value - value.value))
    return pairs


def _apart(pairs: Sequence[tuple[Number, float]]) -> list[tuple[str, str, float, float]]:
    series: dict[tuple[str, str, str | None, str], list[tuple[float, float]]] = {}
    for number, error in pairs:
        if np.isfinite(number.plus_minus_within):
            key = number.fault, number.measure, number.side, number.phase.kind
            series.setdefault(key, []).append((error, number.plus_minus_within))
    return [
        (fault, measure, second - first, float(np.hypot(first_pm, second_pm)))
        for (fault, measure, *_), told in series.items()
        for (first, first_pm), (second, second_pm) in pairwise(told)
    ]


def _still(dance: Dance) -> list[tuple[float, float]]:
    """Stretches that are a balance by the catalogue."""
    speed = np.linalg.norm(np.gradient(dance.mass, dance.time_s, axis=0), axis=1)
    still = (speed < _STILL_MM_S) & (np.abs(dance.turning) < _STILL_DEG_S)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], still.astype(np.int8), [0]]))).reshape(-1, 2)
    spans = [(float(dance.time_s[a]), float(dance.time_s[b - 1])) for a, b in edges]
    return [span for span in spans if span[1] - span[0] >= _HOLD_S]


def _within(spans: Sequence[tuple[float, float]], start_s: float, end_s: float) -> float:
    """How long a stretch lies within some others, which may overlap each other."""
    covered, reached = 0.0, start_s
    for begins_s, ends_s in sorted(spans):
        covered += max(0.0, _overlap((max(begins_s, reached), ends_s), (start_s, end_s)))
        reached = max(reached, ends_s)
    return covered


def _steps(dance: Dance, review: Review, begins_s: float) -> dict[str, Steps]:
    counted: dict[str, Steps] = {}
    ends_s = begins_s + review.take.duration_s
    for kind in COUNTED_KINDS:
        planned = [(step.start_s, step.end_s) for step in dance.of_kind(kind)]
        # A balance that was danced is one, with a hop or a sway in it that breaks the stillness of the catalogue, too.
        allowed = [*planned, *_still(dance)] if kind == "balance" else planned
        told = review.phrase.of_kind(kind)
        spans = [(begins_s + phase.start_s, begins_s + phase.end_s) for phase in told]
        seen = [true for true in planned if begins_s <= true[0] and true[1] <= ends_s]
        false = tuple(
            f"{phase.id} {a:.2f}–{b:.2f} s"
            for phase, (a, b) in zip(told, spans, strict=True)
            if _within(allowed, a, b) < _MOSTLY * (b - a)
        )
        missed = sum(not any(_overlap(true, span) > 0.0 for span in spans) for true in seen if true[1] - true[0] >= _HOLD_S)
        counted[kind] = Steps(len(told), false, missed)
    return counted


def _in_the_dance(finding: Finding, begins_s: float) -> Finding:
    """A finding with the times of the dance in place of those of the take."""
    times = {name: begins_s + getattr(finding, name) for name in ("start_s", "onset_s", "peak_s", "end_s")}
    return replace(finding, **times)


def judge(danced: Simulation, review: Review, *, sizes: bool = True, begins_s: float = 0.0) -> Judged:
    """Hold a review against the truth. sizes: also every number that it measures, found or not, with its ± (dear).

    begins_s: when in the dance the take begins; of a part of a dance only findings and steps are judged, not sizes.
    """
    dance, values = Dance(danced), true_values(danced)
    built = {(fault.fault, fault.phase) for fault in danced.built_in}
    verdicts: dict[str, list[str]] = {"true": [], "undecided": [], "false": []}
    for f in (_in_the_dance(finding, begins_s) for finding in review.findings):
        where = f"{f.fault} {f.measure} in {f.phase} {f.side or ''} at {f.peak_s:.2f} s"
        said = f"{where}: {f.value:.3g} ± {f.plus_minus:.2g} ({f.grade})"
        near = [v for v in _behind(f, values) if v.measure == f.measure]
        worst = max(near, key=lambda v: v.outside, default=None)
        truth = "no such number" if worst is None else f"{worst.value:.3g} in {worst.step}"
        verdicts[_verdict(f, values, built)].append(f"{said}; true: {truth}")
    carried, too_small = _carried(danced, review, values)
    measured = numbers(review, danced.tempo_bpm if danced.to_music else None) if sizes else ()
    pairs = _paired(measured, values, {step.id: step for step in danced.steps})
    covered = tuple((n.fault, n.measure, error, n.plus_minus) for n, error in pairs)
    return Judged(
        tuple(carried), tuple(too_small), tuple(verdicts["true"]), tuple(verdicts["undecided"]), tuple(verdicts["false"]),
        covered, tuple(_apart(pairs)), _steps(dance, review, begins_s), review.take.duration_s / 60.0,
    )  # fmt: skip
