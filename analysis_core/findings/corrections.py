"""Findings gathered into corrections: what to say first, how often it happened, what came first how often."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..phrase.phase import Phase, Phrase
from ..take import Side
from .finding import Finding
from .limits import FIRST

#: So many things are said first; what is said of steps that come again is said of steps that come so often.
SAY_FIRST, COMES_AGAIN = int(FIRST.say_first), int(FIRST.least_repetitions)
#: Faults under load, where the body can be hurt: landings and knees (catalogue 10.4 to 10.7).
UNDER_LOAD = frozenset({"heavy-landing", "stiff-landing", "knee-inside-toes", "foot-forces-turnout", "knee-hyperextends"})


@dataclass(frozen=True)
class Correction:
    """One fault over a phrase. findings: ids, the worst first; times of chances: in how many of the steps that could show it."""

    fault: str
    side: Side | None
    findings: tuple[str, ...]
    times: int
    chances: int
    first: bool


@dataclass(frozen=True)
class LinkCount:
    """How often one fault came first and may have led to another, over repetitions of the same step."""

    cause: str
    effect: str
    step: str
    times: int
    repetitions: int


def _effects(findings: tuple[Finding, ...]) -> dict[str, set[str]]:
    """All that each finding may have led to, at first or second hand."""
    direct = {finding.id: set(finding.may_have_led_to) for finding in findings}
    result: dict[str, set[str]] = {}
    for name in direct:
        reached: set[str] = set()
        pending = set(direct[name])
        while pending:
            reached |= pending
            pending = {after for item in pending for after in direct.get(item, ())} - reached
        result[name] = reached - {name}
    return result


def _same_steps(phase: Phase | None, phrase: Phrase) -> tuple[Phase, ...]:
    """A step and its repetitions; none where the step is not in the phrase."""
    return () if phase is None else phrase.same_steps(phase)


def how_often(group: Sequence[Finding], phrase: Phrase) -> tuple[int, int]:
    """In how many steps a fault was found, and in how many of the same steps it could have been: 4 of 5 times.

    A step that was not asked for it, or that cannot tell, is no chance. Reviews from before that was kept count every same step.
    """
    phases = {phase.id: phase for phase in phrase.phases}
    found = {finding.phase for finding in group}
    asked = {name for finding in group for name in finding.asked_in}
    steps = asked or {phase.id for name in found for phase in _same_steps(phases.get(name), phrase)}
    return len(found), max(len(steps), len(found))


def corrections(findings: tuple[Finding, ...], phrase: Phrase) -> tuple[Correction, ...]:
    """The findings that are not set aside, gathered by fault; what to say first in front, each list of findings worst first.

    Said first is what loads the body wrongly, what is worst, what may have led to most, and what comes again and again; roots
    before what they may have led to.
    """
    effects = _effects(findings)
    by_id = {finding.id: finding for finding in findings if finding.decision != "set aside"}
    gathered: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.decision != "set aside":
            gathered.setdefault(finding.fault, []).append(finding)

    def weight(group: list[Finding]) -> float:
        worst = max(finding.severity - (FIRST.for_doubt if finding.confidence == "low" else 0.0) for finding in group)
        most = max(len(effects[finding.id]) for finding in group)
        again = len({finding.phase for finding in group}) - 1
        known = worst + FIRST.for_effect * min(most, FIRST.most_effects) + FIRST.for_again * again
        known += FIRST.for_fault if _has_fault(group) else 0.0
        caused = FIRST.for_caused if all(finding.came_after for finding in group) else 0.0
        # What may have led to a fault under load comes with it: the root is said first, also for the sake of safety.
        with_effects = [*group, *(by_id[name] for finding in group for name in effects[finding.id] if name in by_id)]
        return known - caused + (FIRST.for_load if any(_under_load(finding) for finding in with_effects) else 0.0)

    ordered = sorted(gathered.values(), key=lambda group: (-weight(group), min(finding.onset_s for finding in group)))
    result = []
    for place, group in enumerate(ordered):
        sides = {finding.side for finding in group}
        times, chances = how_often(group, phrase)
        result.append(
            Correction(
                fault=group[0].fault,
                side=sides.pop() if len(sides) == 1 else "both",
                findings=tuple(finding.id for finding in sorted(group, key=lambda f: (-f.severity, f.onset_s))),
                times=times,
                chances=chances,
                first=place < SAY_FIRST,
            )
        )
    return tuple(result)


def under_roots(
    gathered: Sequence[Correction], findings: Sequence[Finding]
) -> tuple[tuple[Correction, tuple[Correction, ...]], ...]:
    """Corrections in their order, each root with those that it may have led to, at first or second hand, beneath it."""
    by_id = {finding.id: finding for finding in findings}
    listed = {correction.fault: correction for correction in gathered}

    def root_of(correction: Correction) -> str:
        fault, met = correction.fault, set[str]()
        while fault not in met:
            met.add(fault)
            causes = [by_id[name].fault for name in by_id[listed[fault].findings[0]].came_after if name in by_id]
            fault = next((cause for cause in causes if cause in listed and cause not in met), fault)
        return fault

    roots = {correction.fault: root_of(correction) for correction in gathered}
    return tuple(
        (root, tuple(one for one in gathered if roots[one.fault] == root.fault and one is not root))
        for root in gathered
        if roots[root.fault] == root.fault
    )


@dataclass(frozen=True)
class Listed:
    """A correction in its place in the list. findings: its own, the worst first; depth: 1 beneath what may have led to it."""

    correction: Correction
    findings: tuple[Finding, ...]
    depth: int


def listed(findings: tuple[Finding, ...], phrase: Phrase) -> tuple[Listed, ...]:
    """All corrections as they are read: what to say first in front, and beneath each root what it may have led to."""
    by_id = {finding.id: finding for finding in findings}
    return tuple(
        Listed(correction, tuple(by_id[name] for name in correction.findings), depth)
        for root, effects in under_roots(corrections(findings, phrase), findings)
        for correction, depth in ((root, 0), *((effect, 1) for effect in effects))
    )


def _under_load(finding: Finding) -> bool:
    return finding.grade == "fault" and finding.fault in UNDER_LOAD


def _has_fault(group: list[Finding]) -> bool:
    return any(finding.grade == "fault" for finding in group)


def link_counts(findings: tuple[Finding, ...], phrase: Phrase, least: int = COMES_AGAIN) -> tuple[LinkCount, ...]:
    """For steps that are repeated at least ``least`` times: how often each cause came before each effect."""
    phases = {phase.id: phase for phase in phrase.phases}
    by_id = {finding.id: finding for finding in findings}
    seen: dict[tuple[str, str, str], set[str]] = {}
    repetitions: dict[str, int] = {}
    for finding in findings:
        steps = _same_steps(phases.get(finding.phase), phrase)
        if len(steps) < least:
            continue
        repetitions[steps[0].id] = len(steps)
        for cause in finding.came_after:
            if cause in by_id:
                seen.setdefault((by_id[cause].fault, finding.fault, steps[0].id), set()).add(finding.phase)
    counts = [LinkCount(cause, effect, step, len(where), repetitions[step]) for (cause, effect, step), where in seen.items()]
    return tuple(sorted(counts, key=lambda count: (-count.times, count.cause, count.effect)))
