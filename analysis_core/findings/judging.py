"""From observations to findings: the band, the error, the claim gate, severity, confidence; and what cannot be told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from ..body.anatomy import SIDED_SEGMENTS, SIDES, suffixes_of
from ..body.movement import Movement
from ..phrase.phase import Phrase
from ..runs import runs
from ..take import Floats, Side, Source
from ..wording import findings as say
from .catalogue import Entry, Limits, Profile
from .evidence import Evidence
from .finding import PLUS_MINUS, Confidence, Grade, Unnumbered, Unsure
from .limits import JUDGING
from .measured import Measured, Number, Untold, gathered
from .observation import NotTold, Observation
from .uncertainty import catalogue_errors, errors_within_take, joint_columns, standard_errors
from .views import view_of

#: Numbers of these units stay as they are whatever the rate and the unit of a take.
_WITHOUT_RATE_AND_UNIT = ("deg", "ratio", "touches")

_CLASSES: tuple[Confidence, ...] = ("low", "medium", "high")


@dataclass(frozen=True)
class Judged:
    """An observation with its verdict; severity None means inside the band."""

    told: Observation
    limits: Limits
    sd: float
    excess: float
    severity: float
    grade: Grade | None
    confidence: Confidence | None


def _asked(limits: Limits) -> tuple[bool, bool]:
    """Whether the lower and the upper side of a band are limits; one on which nothing is a fault is where the scale begins."""
    return limits.fault[0] < limits.ok[0], limits.fault[1] > limits.ok[1]


def signed_excess(value: float, band: tuple[float, float], asked: tuple[bool, bool] = (True, True)) -> float:
    """How far a value lies outside a band on the sides that are asked for; negative: how far inside it."""
    return max(band[0] - value if asked[0] else -np.inf, value - band[1] if asked[1] else -np.inf)


def outside(value: float, band: tuple[float, float], asked: tuple[bool, bool] = (True, True)) -> float:
    """How far a value lies outside a band on the sides that are asked for, 0 inside."""
    return max(signed_excess(value, band, asked), 0.0)


def severity_of(value: float, limits: Limits) -> float:
    """0 at the band, half at the fault's limit, 1 as far again; the same for all faults."""
    excess = outside(value, limits.ok, _asked(limits))
    width = limits.fault[1] - limits.ok[1] if value > limits.ok[1] else limits.ok[0] - limits.fault[0]
    return float(min(1.0, JUDGING.severity_of_a_fault * excess / width)) if excess > 0 else 0.0


def _confidence(told: Observation, entry: Entry, movement: Movement) -> Confidence | None:
    """The catalogue's class for the kind of recording, a class lower where the decisive samples are filled or little trusted."""
    stated = entry.confidence[movement.kind]
    if stated == "none":
        return None
    place = _CLASSES.index(stated)
    if told.joints:
        columns = joint_columns(told.joints)
        beside = int(JUDGING.beside_frames)
        around = slice(max(told.peak - beside, 0), told.peak + beside + 1)
        if (movement.joint_source[around, columns] > Source.BODY_PART).any() or movement.trust[
            told.peak, columns
        ].min() < JUDGING.least_trust:
            place -= 1
    return _CLASSES[place] if place >= 0 else None


def _limits_for(told: Observation, limits: Limits) -> Limits:
    """The limits of an observation: wider where the step asks for it, and in its own words."""
    factor, more = told.widened
    if (factor, more, told.says) == (1.0, 0.0, None):
        return limits
    ok, fault = (
        (low * factor - more if low < 0 else low, high * factor + more if high > 0 else high)
        for low, high in (limits.ok, limits.fault)
    )
    return replace(limits, ok=ok, fault=fault, says=told.says or limits.says)


def judge(told: Observation, entry: Entry, movement: Movement, sd: float) -> Judged:
    """One observation against its limits; sd: its 1-SD error (``standard_errors``)."""
    limits = _limits_for(told, entry.measures[told.measure])
    excess = outside(told.value, limits.ok, _asked(limits))
    severity = severity_of(told.value, limits)
    grade: Grade | None = None
    # Where 0 is what is wished for, a number that may as well be 0 is no deviation, however narrow its band. Where 0 is the limit
    # that was passed (a margin of stability), it is not what is wished for.
    passed = limits.ok[0] if told.value < limits.ok[0] else limits.ok[1]
    may_be_none = limits.ok[0] <= 0.0 <= limits.ok[1] and passed != 0.0 and abs(told.value) <= PLUS_MINUS * sd
    if excess > JUDGING.watch_sd * sd and not may_be_none:
        grade = "watch"
        beyond = outside(told.value, limits.fault, _asked(limits)) > 0 or told.beyond_fault
        if beyond and excess > JUDGING.fault_sd * sd:
            grade = "fault"
            severity = max(severity, JUDGING.severity_of_a_fault)
    return Judged(told, limits, sd, excess, severity, grade, _confidence(told, entry, movement))


def _times(told: Observation, limits: Limits, evidence: Evidence) -> tuple[int, int]:
    """Onset and end frame: the first lasting stretch outside the band, the last frame of the one around the peak."""
    if told.curve is None:
        return told.start, told.end
    curve: Floats = told.curve
    beyond = np.nan_to_num(curve > limits.ok[1]) if told.value > limits.ok[1] else np.nan_to_num(curve < limits.ok[0])
    stretches = runs(beyond.astype(bool))
    if not stretches:
        return told.start, told.end
    lasting = [run for run in stretches if run[1] - run[0] >= JUDGING.lasting_s * evidence.rate_hz]
    around = [run for run in stretches if run[0] <= told.peak - told.start < run[1]]
    first = (lasting or around or stretches)[0]
    last = (around or lasting or stretches)[-1]
    onset = min(told.start + first[0], told.peak)
    return onset, max(told.start + last[1] - 1, told.peak)


def _parts(entry: Entry, side: str | None) -> tuple[str, ...]:
    suffixes = suffixes_of(side)
    return tuple(part + suffix for part in entry.parts for suffix in (suffixes if part in SIDED_SEGMENTS else ("",)))


def _finding(judged: Judged, within: float | None, entry: Entry, profile: Profile, evidence: Evidence) -> Unnumbered:
    told, limits = judged.told, judged.limits
    onset, end = _times(told, limits, evidence)
    rate = evidence.rate_hz
    assert judged.grade is not None
    assert judged.confidence is not None
    band = tuple(limit if np.isfinite(limit) else None for limit in limits.ok)
    return Unnumbered(
        fault=told.fault,
        phase=told.phase.id,
        side=cast(Side | None, told.side),
        start_s=onset / rate,
        onset_s=onset / rate,
        peak_s=told.peak / rate,
        end_s=end / rate,
        value=told.value,
        unit=limits.unit,
        band=(band[0], band[1]),
        plus_minus=PLUS_MINUS * judged.sd,
        # Both are from draws: what comes and goes is part of the whole, whatever the draws say.
        plus_minus_within_take=None if within is None else PLUS_MINUS * min(within, judged.sd),
        severity=judged.severity,
        grade=judged.grade,
        confidence=judged.confidence,
        band_source=entry.band_source,
        parts=_parts(entry, told.side),
        view=view_of(limits.view or entry.view, told, evidence),
        cue=profile.cue(told.fault),
        caution=entry.caution,
        measure=told.measure,
        says=limits.says,
    )


def _too_near(judged: Judged) -> str:
    return say.too_near(judged.limits.says, judged.told.value, PLUS_MINUS * judged.sd, judged.limits.unit)


def _too_large(judged: Judged) -> str | None:
    """Why so large a number is not told: it is meant, or no body's; None when it is neither."""
    size, limits = abs(judged.told.value), judged.limits
    if size <= min(limits.meant, limits.possible):
        return None
    why = say.impossible if size > limits.possible else say.meant
    return why(limits.says, judged.told.value, PLUS_MINUS * judged.sd, limits.unit)


def _not_trusted(entry: Entry, movement: Movement) -> str:
    if entry.confidence[movement.kind] == "none":
        return say.not_shown_by(movement.kind)
    return say.FILLED_IN


@dataclass(frozen=True)
class _Split:
    """Observations by what can be said of them. inside, outside: of the band; untold: each with whether it would be said."""

    inside: list[Observation]
    outside: list[Observation]
    untold: list[tuple[Untold, float | None]]


def _split(observations: Iterable[Observation | NotTold], profile: Profile, movement: Movement) -> _Split:
    """Sort observations; what cannot be told carries the severity that it may have, None where it would be no finding."""
    found = _Split([], [], [])
    for told in observations:
        if isinstance(told, NotTold):
            found.untold.append((Untold(told.fault, "", None, told.phase, told.why), 0.0))
            continue
        limits = _limits_for(told, profile.entries[told.fault].measures[told.measure])
        is_outside = outside(told.value, limits.ok, _asked(limits)) > 0
        if not np.isfinite(told.value):
            found.untold.append((_untold(told, say.NOT_SEEN), 0.0))
        elif movement.doubted and limits.unit not in _WITHOUT_RATE_AND_UNIT:
            found.untold.append(
                (_untold(told, say.RATE_OR_UNIT_DOUBTED), severity_of(told.value, limits) if is_outside else None)
            )
        elif limits.from_standing and (unsure := movement.standing.why_no_changes) is not None:
            found.untold.append((_untold(told, unsure), severity_of(told.value, limits) if is_outside else None))
        else:
            (found.outside if is_outside else found.inside).append(told)
    return found


def _untold(told: Observation, why: str) -> Untold:
    return Untold(told.fault, told.measure, told.side, told.phase, why)


def _refusal(judged: Judged, entry: Entry, movement: Movement) -> str | None:
    """Why a number outside its band is no finding; None when it is one."""
    if judged.confidence is None:
        return _not_trusted(entry, movement)
    if judged.grade is None:
        return _too_near(judged)
    return _too_large(judged)


@dataclass(frozen=True)
class Verdicts:
    """What is said of a take: findings, not yet numbered; what cannot be told; all numbers, inside their bands or not.

    told: faults with the ids of the steps in which a number of them was told.
    """

    findings: list[Unnumbered]
    unsure: list[Unsure]
    measured: tuple[Measured, ...]
    told: frozenset[tuple[str, str]]


def judge_all(observations: Iterable[Observation | NotTold], profile: Profile, evidence: Evidence) -> Verdicts:
    """Findings, one per fault, phase and side with its worst measure; what cannot be told; and every number."""
    movement, entries = evidence.movement, profile.entries
    split = _split(observations, profile, movement)
    limits_of = [entries[told.fault].measures[told.measure] for told in split.outside]
    judged = [
        judge(told, entries[told.fault], movement, sd)
        for told, sd in zip(split.outside, standard_errors(split.outside, limits_of, evidence), strict=True)
    ]
    unsure = [(severity, _unsure(item)) for item, severity in split.untold if severity is not None]
    best: dict[tuple[str, str, str | None], Judged] = {}
    for one in judged:
        told = one.told
        why = _refusal(one, entries[told.fault], movement)
        key = (told.fault, told.phase.id, told.side)
        if why is not None:
            unsure.append((one.severity, _unsure(_untold(told, why))))
        elif key not in best or _rank(one) > _rank(best[key]):
            best[key] = one
    within = errors_within_take([one.told for one in best.values()], [one.limits for one in best.values()], evidence)
    findings = [
        _finding(one, sd_within, entries[one.told.fault], profile, evidence)
        for one, sd_within in zip(best.values(), within, strict=True)
    ]
    said = {(finding.fault, finding.phase) for finding in findings}
    known_within = {id(one.told): sd_within for one, sd_within in zip(best.values(), within, strict=True)}
    numbers, untold = _numbers(split, judged, known_within, profile, movement)
    return Verdicts(
        findings,
        _gathered([item for item in unsure if (item[1].fault, item[1].phase) not in said]),
        gathered(numbers, untold, entries),
        frozenset((number.told.fault, number.told.phase.id) for number in numbers),
    )


def _unsure(item: Untold) -> Unsure:
    return Unsure(item.fault, item.phase.id, say.cannot_be_told(item.why))


def _numbers(
    split: _Split, judged: list[Judged], within: dict[int, float | None], profile: Profile, movement: Movement
) -> tuple[list[Number], list[Untold]]:
    """All numbers, and what cannot be told.

    Outside their band their errors are those they were judged by; inside it the catalogue's serve, since measuring every number
    on other recordings would take several times as long as all the rest.
    """
    numbers: list[Number] = []
    untold = [item for item, _ in split.untold]
    known: list[tuple[Judged, float | None]] = []
    for one in judged:
        told = one.told
        known.append((one, within[id(told)] if id(told) in within else catalogue_errors(told, one.limits, movement)[1]))
    for told in split.inside:
        entry = profile.entries[told.fault]
        sd, sd_in_take = catalogue_errors(told, entry.measures[told.measure], movement)
        known.append((judge(told, entry, movement, sd), sd_in_take))
    for one, sd_within in known:
        told, limits = one.told, one.limits
        if one.confidence is None:
            untold.append(_untold(told, _not_trusted(profile.entries[told.fault], movement)))
            continue
        if (why := _too_large(one)) is not None:
            untold.append(_untold(told, why))
            continue
        excess = signed_excess(told.value, limits.ok, _asked(limits))
        numbers.append(Number(told, one.sd, None if sd_within is None else min(sd_within, one.sd), excess))
    return numbers, untold


def _gathered(unsure: list[tuple[float, Unsure]]) -> list[Unsure]:
    """One line for every fault: the phase in which it is the most likely, and in how many others it cannot be told either."""
    result = []
    for fault in dict.fromkeys(item.fault for _, item in unsure):
        own = [(severity, item) for severity, item in unsure if item.fault == fault]
        worst = max(own, key=lambda pair: pair[0])[1]
        others = len({item.phase for _, item in own} - {worst.phase})
        result.append(replace(worst, why=worst.why + say.also_elsewhere(others)))
    return result


def _rank(judged: Judged) -> tuple[bool, float]:
    return judged.grade == "fault", judged.severity


def both_sides(findings: list[Unnumbered]) -> list[Unnumbered]:
    """The same fault in the same phase at the same time on both sides, told once with the worse side's numbers."""
    result: list[Unnumbered] = []
    for finding in sorted(findings, key=lambda f: (-f.severity, f.onset_s)):
        twin = next(
            (
                i
                for i, other in enumerate(result)
                if other.fault == finding.fault
                and other.phase == finding.phase
                and {other.side, finding.side} == set(SIDES)
                and other.start_s <= finding.end_s
                and finding.start_s <= other.end_s
            ),
            None,
        )
        if twin is None:
            result.append(finding)
        else:
            worse = result[twin]
            result[twin] = replace(
                worse,
                side="both",
                start_s=min(worse.start_s, finding.start_s),
                onset_s=min(worse.onset_s, finding.onset_s),
                end_s=max(worse.end_s, finding.end_s),
                parts=tuple(dict.fromkeys((*worse.parts, *finding.parts))),
            )
    return result


#: Of overlapping phases the first of these tells a fault; what is in a turn is not told again of its relevé.
_PRECEDENCE = ("turn", "jump", "landing", "balance", "leg-gesture", "plie", "releve", "step", "static")
#: Faults that say the same movement in other words: where the first is found, the second is not told as well.
_SAID_BY = (("ribs-flare", "trunk-leans"), ("stiff-landing", "shallow-plie"), ("rushed-take-off", "shallow-plie"))


def told_once(findings: list[Unnumbered], phrase: Phrase) -> list[Unnumbered]:
    """Without the findings that overlapping phases tell twice, and without one movement said in two ways."""
    kind = {phase.id: phase.kind for phase in phrase.phases}

    def place(finding: Unnumbered) -> tuple[int, float]:
        return _PRECEDENCE.index(kind[finding.phase]), -finding.severity

    kept: list[Unnumbered] = []
    for finding in sorted(findings, key=place):
        again = any(
            other.fault == finding.fault
            and (other.side == finding.side or "both" in (other.side, finding.side))
            and other.start_s <= finding.end_s
            and finding.start_s <= other.end_s
            for other in kept
        )
        if not again:
            kept.append(finding)
    return [finding for finding in kept if not _said_by_another(finding, kept)]


def _said_by_another(finding: Unnumbered, kept: list[Unnumbered]) -> bool:
    """Whether another finding at the same time says the same movement."""
    return any(
        finding.fault == second
        and other.fault == first
        and other.start_s <= finding.end_s
        and finding.start_s <= other.end_s
        and _backward(finding)
        for first, second in _SAID_BY
        for other in kept
    )


def _backward(finding: Unnumbered) -> bool:
    """A trunk that leans forward is never the same as ribs that flare."""
    return finding.fault != "trunk-leans" or finding.value < 0
