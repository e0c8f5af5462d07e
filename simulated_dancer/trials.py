"""Trials of the whole analysis: a dancer with known faults is recorded, reviewed, and the review held against the truth."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from ..analysis_core.analyse import analyse_take
from ..analysis_core.body.movement import Movement
from ..analysis_core.body.solve import own_ranges
from ..analysis_core.findings.catalogue import load_profile
from ..analysis_core.findings.evidence import Evidence
from ..analysis_core.findings.find import observe
from ..analysis_core.findings.finding import Finding
from ..analysis_core.findings.judging import PLUS_MINUS, outside
from ..analysis_core.findings.observation import Observation
from ..analysis_core.findings.uncertainty import errors_within_take, standard_errors
from ..analysis_core.phrase import understand_phrase
from ..analysis_core.phrase.phase import Phase, Phrase
from ..analysis_core.review import Review
from ..analysis_core.settings import Settings
from ..analysis_core.take import Take
from .body import Body
from .dirt import Dirt, spoil
from .faults import BuiltInFault, Fault
from .markers import Noise
from .phrases import demo_phrase
from .rotations import apply
from .simulate import Simulation, simulate
from .steps import PhraseStep

#: A clear size of every fault that can be built in, in its own unit, and the phases of the demo phrase that carry it.
CLEAR: dict[str, tuple[float, tuple[str, ...]]] = {
    "heel-lifts-early": (32.0, ("turn-1",)),
    "foot-slips-parallel": (16.0, ("turn-1",)),
    "turnout-lost-supporting": (30.0, ("turn-1",)),
    "turnout-lost-working": (30.0, ("turn-1", "balance-1")),
    "axis-tilts": (8.0, ("turn-1",)),
    "turn-travels": (150.0, ("turn-1",)),
    "turn-hops": (32.0, ("turn-1",)),
    "late-spot": (0.0, ("turn-1",)),
    "arms-drop": (150.0, ("turn-1",)),
    "low-retire": (0.62, ("turn-1", "balance-1")),
    "low-releve": (0.6, ("turn-1", "balance-1")),
    "shoulders-lead": (65.0, ("turn-1",)),
    "trunk-leans": (16.0, ("turn-1", "balance-1", "plie-1", "releve-1")),
    "side-bends": (13.0, ("turn-1", "balance-1", "releve-1")),
    "ribs-flare": (16.0, ("turn-1", "balance-1", "plie-1")),
    "back-arches": (16.0, ("turn-1", "balance-1", "plie-1")),
    "pelvis-tucks": (16.0, ("turn-1", "balance-1", "plie-1")),
    "shoulders-lift": (55.0, ("turn-1", "balance-1")),
    "head-lifts": (22.0, ("turn-1", "balance-1", "plie-1")),
    "hip-hikes": (15.0, ("turn-1", "balance-1")),
    "knee-inside-toes": (22.0, ("plie-1", "landing-3")),
    "knee-bends-supporting": (24.0, ("turn-1", "balance-1")),
    "uneven-plie": (50.0, ("plie-1",)),
    "heels-lift-in-plie": (26.0, ("plie-1",)),
    "stiff-landing": (0.45, ("landing-3",)),
    "heels-miss-floor": (32.0, ("landing-3",)),
    "feet-not-pointed": (0.5, ("jump-2",)),
    "turnout-lost-in-air": (32.0, ("jump-2",)),
    "foot-sickles": (26.0, ("turn-1", "balance-1")),
    "turnout-lost-finish": (30.0, ("turn-1",)),
    "turn-angle-off": (42.0, ("turn-1",)),
    "knee-hyperextends": (14.0, ("balance-1",)),
    "balance-hops": (50.0, ("balance-1",)),
    "balance-heel-sinks": (34.0, ("balance-1",)),
    "foot-forces-turnout": (26.0, ("plie-1",)),
    "shallow-plie": (0.45, ("plie-3",)),
    "uneven-landing": (0.085, ("landing-3",)),
}
#: A size of the same faults that is worth a watch and no more, in the first of those phases.
SLIGHT: dict[str, float] = {
    "heel-lifts-early": 16.0, "foot-slips-parallel": 8.5, "turnout-lost-supporting": 16.0, "turnout-lost-working": 16.0,
    "turnout-lost-finish": 16.0, "axis-tilts": 4.2, "turn-travels": 80.0, "turn-hops": 16.0, "arms-drop": 85.0,
    "turn-angle-off": 24.0, "low-retire": 0.82, "low-releve": 0.82, "shoulders-lead": 40.0, "trunk-leans": 8.0,
    "side-bends": 6.5, "ribs-flare": 8.0, "back-arches": 8.0, "pelvis-tucks": 8.0, "shoulders-lift": 29.0, "head-lifts": 12.0,
    "hip-hikes": 8.0, "knee-inside-toes": 12.0, "knee-bends-supporting": 13.0, "uneven-plie": 24.0, "heels-lift-in-plie": 12.5,
    "stiff-landing": 0.7, "heels-miss-floor": 15.0, "feet-not-pointed": 0.76, "turnout-lost-in-air": 16.0, "foot-sickles": 11.0,
    "knee-hyperextends": 6.0, "balance-hops": 24.0, "balance-heel-sinks": 12.0, "foot-forces-turnout": 16.0, "shallow-plie": 0.7,
    "uneven-landing": 0.055,
}  # fmt: skip
#: Two instants this far apart belong to the same fault.
SAME_TIME_S = 0.6


#: How far people are from what rules, tables and one take say, 1 SD in each direction: hip centres (Harrington 2007 against CT:
#: 12.3 ± 5.9 mm in all), shoulders and masses (proposed), and the whole of a range that a dancer shows in one take, as a share.
_OWN_BODY = {"hip": 0.005, "shoulder": 0.008, "mass": 0.005, "range": 0.02}


@dataclass(frozen=True)
class Recorded:
    """How a trial is danced and recorded; everything here must not matter to what is found.

    dirty: gaps, exchanged labels, spikes and a marker that falls off, as an ordinary take in a busy room has them. own_body:
    hips, shoulders, masses and ranges of the dancer are not those that rules, tables and one take give (_OWN_BODY).
    """

    stature_m: float = 1.62
    rate_hz: float = 120.0
    tempo_bpm: float = 120.0
    facing_rad: float = 0.0
    place_m: tuple[float, float] = (0.0, 0.0)
    mirror: bool = False
    seed: int = 0
    misplaced_m: float = 0.004
    stance_rad: float = 0.0
    dirty: bool = False
    own_body: bool = False


@dataclass(frozen=True)
class Outcome:
    """One trial. built: what was built in. found: whether each was. false: findings that the exact movement does not show: its
    values lie inside the band by more than the standard error that the claim gate asks for.

    covered: for every measure that both movements tell, (fault, measure, error, plus-minus) in the measure's unit. apart: the
    same of how far two numbers of a measure are apart where a step comes again, by the ± within the take.
    """

    built: tuple[BuiltInFault, ...]
    found: tuple[bool, ...]
    false: tuple[str, ...]
    minutes: float
    covered: tuple[tuple[str, str, float, float], ...]
    apart: tuple[tuple[str, str, float, float], ...]
    review: Review = field(repr=False)


def _deviation(recorded: Recorded, part: str) -> tuple[float, float, float]:
    """How far this dancer is from the rule in one part of her body, along three directions; the same for the same seed."""
    if not recorded.own_body:
        return 0.0, 0.0, 0.0
    random = np.random.default_rng([recorded.seed, list(_OWN_BODY).index(part)])
    first, second, third = random.normal(scale=_OWN_BODY[part], size=3).tolist()
    return first, second, third


def _body(recorded: Recorded) -> Body:
    plain = Body(recorded.stature_m)
    if not recorded.own_body:
        return plain
    # In place of the plain body's own deviation from the rule, which is a draw as well.
    return replace(plain, hip_deviation_m=_deviation(recorded, "hip"), shoulder_deviation_m=_deviation(recorded, "shoulder"))


def record(recorded: Recorded, faults: Sequence[Fault] = (), phrase: Sequence[PhraseStep] | None = None) -> Simulation:
    """Dance and record one phrase."""
    danced = simulate(
        demo_phrase() if phrase is None else phrase,
        body=_body(recorded),
        rate_hz=recorded.rate_hz,
        tempo_bpm=recorded.tempo_bpm,
        facing_rad=recorded.facing_rad,
        place_m=recorded.place_m,
        mirror=recorded.mirror,
        noise=Noise(misplaced_m=recorded.misplaced_m, stance_rad=recorded.stance_rad),
        seed=recorded.seed,
        faults=tuple(faults),
    )
    if not recorded.dirty:
        return danced
    return replace(danced, take=spoil(danced.take, _mishaps(danced.take, recorded.seed), recorded.seed)[0])


def _mishaps(take: Take, seed: int) -> list[Dirt]:
    """Twelve gaps up to half a second, two exchanged pairs, four spikes, one marker gone for the last tenth."""
    random = np.random.default_rng(seed)
    order = [str(label) for label in random.permutation(take.labels)]
    starts = random.uniform(0.05, 0.85, size=18) * take.duration_s
    gaps = [Dirt("gap", label, s, s + random.uniform(0.05, 0.5)) for label, s in zip(order[:12], starts[:12], strict=True)]
    sided = [label for label in order[12:] if label.endswith(".L")][:2]
    swaps = [Dirt("swap", label, s, s + 0.6, label[:-1] + "R") for label, s in zip(sided, starts[12:14], strict=True)]
    spikes = [Dirt("spike", label, s, s, size_m=0.06) for label, s in zip(order[:4], starts[14:], strict=True)]
    return [*gaps, *swaps, *spikes, Dirt("fell-off", order[-1], 0.9 * take.duration_s, take.duration_s)]


def review_of(danced: Simulation, level: str = "intermediate") -> Review:
    """The review of a simulated take with its static take."""
    return analyse_take(danced.take, Settings(level=level), danced.static_take)


def _told(evidence: Evidence, level: str) -> dict[tuple[str, str, str, str | None], Observation]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        told = [item for item in observe(evidence, load_profile(level)) if isinstance(item, Observation)]
    return {(item.fault, item.measure, item.phase.id, item.side): item for item in told}


def _with_own_body(movement: Movement, recorded: Recorded) -> Movement:
    """The exact movement with the dancer's own ranges, which are about those that she shows in it, and her own centre of mass."""
    plie, releve, pointed = (
        shown * (1 + share)
        for shown, share in zip(
            own_ranges(movement.angles_rad, movement.foot_heights_m), _deviation(recorded, "range"), strict=True
        )
    )
    beside = apply(movement.segment("pelvis"), np.array(_deviation(recorded, "mass")))
    return replace(
        movement,
        centre_of_mass_m=movement.centre_of_mass_m + beside,
        standing=replace(movement.standing, demi_plie_rad=plie, releve_m=releve, pointed_rad=pointed),
    )


def _with_exact_facts(phrase: Phrase, exact: Movement) -> Phrase:
    """The phases of a review at its own moments, with the numbers that the exact movement gives them, and its contacts."""
    true = understand_phrase(exact)

    def facts(phase: Phase) -> dict[str, Any]:
        same = [p for p in true.phases if p.kind == phase.kind and p.start_s < phase.end_s and phase.start_s < p.end_s]
        if not same:
            return {}
        twin = min(same, key=lambda p: abs(p.start_s - phase.start_s) + abs(p.end_s - phase.end_s))
        numbers = {name: value for name, value in twin.properties.items() if isinstance(value, float)}
        return {name: value for name, value in numbers.items() if not name.endswith("_s") or name == "beat_error_s"}

    return Phrase(true.contacts, tuple(replace(p, properties={**p.properties, **facts(p)}) for p in phrase.phases))


def _narrower(band: tuple[float, float], plus_minus: float) -> tuple[float, float]:
    """A band without the margin in which the truth itself cannot be told from outside."""
    sd = plus_minus / PLUS_MINUS
    return band[0] + sd, band[1] - sd


def _is(finding: Finding, built: BuiltInFault) -> bool:
    """Whether a finding tells a fault that was built in."""
    return finding.fault == built.fault and finding.start_s - SAME_TIME_S <= built.peak_s <= finding.end_s + SAME_TIME_S


def trial(recorded: Recorded, faults: Sequence[Fault] = (), level: str = "intermediate") -> Outcome:
    """Record, review, compare. The exact movement is measured in the windows of the review's own phrase."""
    danced = record(recorded, faults)
    review = review_of(danced, level)
    profile = load_profile(level)
    evidence = Evidence(review.movement, review.phrase)
    measured = _told(evidence, level)
    truly = _with_own_body(danced.movement, recorded)
    exact = _told(Evidence(truly, _with_exact_facts(review.phrase, truly)), level)
    shown = exact | _told(Evidence(truly, review.phrase), level)
    covered = []
    limits_of = [profile.entries[item.fault].measures[item.measure] for item in measured.values()]
    errors = standard_errors(list(measured.values()), limits_of, evidence)
    errors_within = errors_within_take(list(measured.values()), limits_of, evidence)
    within: dict[tuple[str, str, str | None, str], list[tuple[float, float]]] = {}
    for (key, item), sd, sd_within in zip(measured.items(), errors, errors_within, strict=True):
        if key in exact and np.isfinite(item.value) and np.isfinite(exact[key].value):
            wrong = item.value - exact[key].value
            covered.append((item.fault, item.measure, wrong, PLUS_MINUS * sd))
            if sd_within is not None:
                within.setdefault((item.fault, item.measure, item.side, item.phase.kind), []).append((wrong, sd_within))
    apart = [
        (fault, measure, first - second, PLUS_MINUS * float(np.hypot(first_sd, second_sd)))
        for (fault, measure, *_), told in within.items()
        for (first, first_sd), (second, second_sd) in pairwise(told)
    ]
    false = []
    for finding in review.findings:
        own = [
            outside(item.value, _narrower(profile.entries[finding.fault].measures[item.measure].ok, finding.plus_minus)) > 0
            for (fault, measure, phase, _), item in shown.items()
            if (fault, measure, phase) == (finding.fault, finding.measure, finding.phase)
        ]
        if not any(own) and not any(_is(finding, built) for built in danced.built_in):
            false.append(f"{finding.fault} in {finding.phase}")
    found = tuple(any(_is(finding, built) for finding in review.findings) for built in danced.built_in)
    return Outcome(danced.built_in, found, tuple(false), review.take.duration_s / 60, tuple(covered), tuple(apart), review)


def varied(count: int, seed: int = 1) -> list[Recorded]:
    """Recordings that differ in all that must not matter; every third is dirty."""
    random = np.random.default_rng(seed)
    rates = (60.0, 100.0, 120.0, 200.0, 240.0, 330.0)
    return [
        Recorded(
            stature_m=float(random.uniform(1.2, 1.9)),
            rate_hz=rates[int(random.integers(len(rates)))],
            tempo_bpm=float(random.uniform(108, 126)),
            facing_rad=float(random.uniform(-np.pi, np.pi)),
            place_m=(float(random.uniform(-2, 2)), float(random.uniform(-2, 2))),
            mirror=bool(random.integers(2)),
            seed=int(random.integers(1, 10_000)),
            misplaced_m=0.005,
            stance_rad=np.radians(1.0),
            dirty=number % 3 == 2,
            own_body=True,
        )
        for number in range(count)
    ]
