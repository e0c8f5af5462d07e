"""Sixteen situations in which the program was once wrong, each as a tiny dance with its truth from formulas of its own.

for situation in SITUATIONS: answer = ask(situation)      what the program says, what is true, whether the two agree
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..analysis_core.findings.finding import Finding
from ..analysis_core.review import Review
from .body import Body
from .faults import Fault
from .leg_gesture import LegGesture
from .pirouette import Pirouette
from .sautes import Sautes
from .simulate import Simulation, simulate
from .steps import CloseTo, PhraseStep, Plie, RetireBalance, Stand
from .told import Number, findings_of, in_words, numbers, reviewed
from .truth_of_faults import Dance, TrueValue, true_values
from .truth_of_faults.holds import lateness

FIFTH = (Stand(2), CloseTo("fifth", "right", "right", 2))
FOURTH = (Stand(2), CloseTo("fourth", "right", "left", 2))


@dataclass(frozen=True)
class Case:
    """One dance of a situation."""

    phrase: tuple[PhraseStep, ...]
    faults: tuple[Fault, ...] = ()
    tempo_bpm: float = 120.0
    music: bool = False
    static: bool = True
    rate_hz: float = 120.0
    stature_m: float = 1.65


@dataclass(frozen=True)
class Heard:
    """A dance, the review of its recording, and all numbers of both sides."""

    case: Case
    danced: Simulation
    review: Review

    def true(self, fault: str, measure: str | None = None) -> list[TrueValue]:
        """The true numbers of a fault."""
        return [v for v in true_values(self.danced) if v.fault == fault and measure in (None, v.measure)]

    def told(self, fault: str, measure: str | None = None) -> list[Number]:
        """The program's numbers of a fault."""
        measured = numbers(self.review, self.case.tempo_bpm if self.case.music else None)
        return [n for n in measured if n.fault == fault and measure in (None, n.measure)]

    def found(self, *faults: str) -> list[Finding]:
        """The program's findings of some faults."""
        return findings_of(self.review, *faults)


@dataclass(frozen=True)
class Answer:
    """What the program says and what is true, in words, and whether they agree."""

    says: str
    truth: str
    right: bool


Question = Callable[[Heard], Answer]


@dataclass(frozen=True)
class Situation:
    """number: of the list of errors that it comes from; a letter where it has several sides."""

    number: str
    name: str
    case: Case
    question: Question


@cache
def heard(case: Case) -> Heard:
    """Dance, record and review one case."""
    danced = simulate(
        case.phrase, body=Body(case.stature_m), rate_hz=case.rate_hz, tempo_bpm=case.tempo_bpm, seed=7, faults=case.faults
    )
    tempo = case.tempo_bpm if case.music else None
    return Heard(case, danced, reviewed(danced.take, danced.static_take if case.static else None, tempo_bpm=tempo))


def ask(situation: Situation) -> Answer:
    """The program's answer beside the truth."""
    return situation.question(heard(situation.case))


def _worst(values: Sequence[TrueValue]) -> str:
    if not values:
        return "no such number"
    worst = max(values, key=lambda v: v.outside)
    return f"{worst.fault} {worst.measure} {worst.step}{f' {worst.side}' if worst.side else ''} {worst.value:.3g}"


def _silent(*faults: str) -> Question:
    """Nothing of these faults may be found."""

    def question(it: Heard) -> Answer:
        found = it.found(*faults)
        truth = "; ".join(_worst(it.true(fault)) for fault in faults)
        return Answer(in_words(found), f"nothing is wrong ({truth})", not found)

    return question


def _covers(fault: str, measure: str, least: str | None = None, most_plus_minus: float = np.inf) -> Question:
    """The true value lies within the ± that the program gives, in every step that has it; least: a grade that must be reached."""

    def question(it: Heard) -> Answer:
        true = [v for v in it.true(fault, measure) if v.outside > 0.0] or it.true(fault, measure)
        says: list[str] = []
        right = True
        for value in true:
            step = next(step for step in it.danced.steps if step.id == value.step)
            near = [
                n
                for n in it.told(fault, measure)
                if n.side == value.side and n.phase.start_s < step.end_s and step.start_s < n.phase.end_s
            ]
            number = min(near, key=lambda n: abs(n.peak_s - value.peak_s), default=None)
            if number is None:
                says, right = [*says, "nothing measured"], False
                continue
            says.append(f"{number.value:.3g} ± {number.plus_minus:.2g}")
            right &= abs(number.value - value.value) <= number.plus_minus <= most_plus_minus
        grades = [f.grade for f in it.found(fault)]
        if least is not None:
            right &= bool(grades) and (least == "watch" or "fault" in grades)
        truth = ", ".join(f"{v.value:.3g}{f' {v.side}' if v.side else ''}" for v in true)
        return Answer(f"{', '.join(says)}; finding: {' '.join(grades) or 'none'}", f"{fault} {measure} {truth}", right)

    return question


def _on_the_count(it: Heard) -> Answer:
    """Nothing found, and the lateness measured (never dropped in silence) as no more than a twentieth of a second."""
    told = it.told("off-the-count", "late")
    says = ", ".join(f"late {1000 * n.value:.0f} ± {1000 * n.plus_minus:.0f} ms" for n in told) or "lateness not measured"
    right = bool(told) and all(abs(n.value) <= 0.05 for n in told)
    found = it.found("off-the-count")
    return Answer(f"{in_words(found)} ({says})", "every one is on its count", right and not found)


def _late_plies(it: Heard) -> Answer:
    late = [1000.0 * lateness(Dance(it.danced), step.moments["bottom_s"]) for step in it.danced.steps if "position" in step.facts]
    said = [u.why for u in it.review.unsure if u.fault == "off-the-count"] + list(it.review.phrase.remarks)
    found = it.found("off-the-count")
    right = bool(found) or any("and" in text.replace("'", " ").replace('"', " ").split() for text in said)
    return Answer(f"{in_words(found)}; {' | '.join(said) or 'not a word'}", f"all {np.mean(late):.0f} ms late", right)


def _chain(it: Heard) -> Answer:
    stiff, heavy = it.found("stiff-landing"), it.found("heavy-landing")
    linked = any(h.id in s.may_have_led_to for s in stiff for h in heavy)
    truth = f"{_worst(it.true('stiff-landing'))} and therefore {_worst(it.true('heavy-landing'))}"
    return Answer(f"{in_words([*stiff, *heavy])}; {'linked' if linked else 'not linked'}", truth, linked)


def _floor(it: Heard) -> Answer:
    apart = {
        name: 1000.0 * float(np.nanmedian(it.review.movement.joint(name)[:, 2] - it.danced.movement.joint(name)[:, 2]))
        for name in ("knee.L", "knee.R", "ankle.L", "ankle.R")
    }
    says = ", ".join(f"{name} {value:+.1f} mm" for name, value in apart.items())
    return Answer(f"median height of {says}", "within 2 mm of the true height", max(map(abs, apart.values())) <= 2.0)


def _no_releve(it: Heard) -> Answer:
    invented = [p for p in it.review.phrase.phases if p.kind == "releve"]
    says = ", ".join(f"{p.id} {p.start_s:.2f}–{p.end_s:.2f} s" for p in invented) or "none"
    return Answer(f"relevés: {says}", "relevés: none", not invented)


def _direction(it: Heard) -> Answer:
    (true,) = it.true("axis-tilts")
    found = it.found("axis-tilts")
    words = {"forward": ("forward",), "back": ("back",), "left": ("left",), "right": ("right",)}
    right = any(any(word in f.says.replace(",", " ").split() for word in words[true.towards[0]]) for f in found)
    return Answer(
        f"{in_words(found)}: {' | '.join(f.says for f in found)}", f"{true.value:.2g}° {' and '.join(true.towards)}", right
    )


def _two_feet(it: Heard) -> Answer:
    found = [f for f in it.found("hip-hikes") if f.measure == "two_feet"] + it.found("uneven-plie")
    truth = f"{_worst(it.true('hip-hikes', 'two_feet'))}, {_worst(it.true('uneven-plie'))}"
    return Answer(in_words(found), f"level on two feet ({truth})", not found)


_TURN = Pirouette("right", off_s=0.08)
_HELD = Pirouette("right", balance_s=0.6, off_s=0.08)
_LOWERED = Pirouette("right", balance_s=0.4, lowering_s=0.5, off_s=0.08)
_EN_DEDANS = Pirouette("right", "en dedans", 2, balance_s=0.5, off_s=0.08)
_FROM_FIFTH = Pirouette("right", preparation="fifth", plie_hold_s=0.4, off_s=0.08)
_WAITS = Pirouette("right", plie_hold_s=0.6, off_s=0.08)
_FORWARD = Pirouette("right", knee_forward_deg=22.0, off_s=0.08)
_RETIRE = RetireBalance("right", True, 4)
_HELD_PLIES = tuple(Plie(4, hold_counts=n) for n in (2, 1, 2, 3, 2))
_LATE_PLIES = tuple(Plie(4, late_s=0.19) for _ in range(4))


def _slip(size: float) -> tuple[Fault, ...]:
    return (Fault("foot-slips-parallel", "turn-1", size),)


def _after_fifth(*steps: PhraseStep) -> tuple[PhraseStep, ...]:
    return (*FIFTH, *steps, Stand(2))


def _after_fourth(*steps: PhraseStep) -> tuple[PhraseStep, ...]:
    return (*FOURTH, *steps, Stand(2))


def _after_first(*steps: PhraseStep) -> tuple[PhraseStep, ...]:
    return (Stand(2), *steps, Stand(2))


_SLIP = _covers("foot-slips-parallel", "yaw", "watch")
_OVER_TOES = _silent("knee-inside-toes")
#: In the order of the list of errors that they come from.
SITUATIONS: tuple[Situation, ...] = tuple(
    Situation(*row)
    for row in (
        ("1", "a turn held on full relevé, then lowered", Case(_after_fifth(_HELD)), _silent("low-releve")),
        ("1b", "a turn held, then lowered in retiré over half a second", Case(_after_fifth(_LOWERED)), _silent("low-releve")),
        ("1c", "two revolutions en dedans, held, then lowered", Case(_after_fifth(_EN_DEDANS)), _silent("low-releve")),
        (
            "1d", "a hop in a turn is no higher plateau",
            Case(_after_fifth(_TURN), (Fault("turn-hops", "turn-1", 32.0),)), _silent("low-releve"),
        ),
        ("2", "demi-plié in fifth", Case(_after_fifth(Plie(4), Plie(4))), _silent("uneven-plie")),
        ("2b", "demi-plié in fifth, the hips going back", Case(_after_fifth(*2 * [Plie(4, place=0.4)])), _silent("uneven-plie")),
        ("2c", "demi-plié in fourth, the hips forward", Case(_after_fourth(*2 * [Plie(4, place=0.75)])), _silent("uneven-plie")),
        ("3", "knees along the toes in landings", Case(_after_first(Sautes(3, 0.1))), _OVER_TOES),
        ("3b", "jumps from and to the balls, knees along the toes", Case(_after_first(Sautes(3, 0.1, place=0.9))), _OVER_TOES),
        ("3c", "weight over the balls in plié, knees along the toes", Case(_after_first(*2 * [Plie(4, place=0.95)])), _OVER_TOES),
        ("3d", "back leg of a fourth, knee along the toes", Case(_after_fourth(*2 * [Plie(4, place=0.75)])), _OVER_TOES),
        ("4", "retiré drawn up from fourth to a balance", Case(_after_fourth(_RETIRE)), _silent("turnout-lost-working")),
        (
            "4b", "retiré drawn up from fourth, the knee forward on the way up",
            Case(_after_fourth(RetireBalance("right", True, 4, knee_forward_deg=22.0))), _silent("turnout-lost-working"),
        ),
        ("4c", "the same to a turn", Case(_after_fifth(_FORWARD)), _silent("turnout-lost-working")),
        ("5", "standing foot slips before a turn by 24°", Case(_after_fifth(_TURN), _slip(24.0)), _SLIP),
        ("5b", "standing foot slips before a turn by 16°", Case(_after_fifth(_TURN), _slip(16.0)), _SLIP),
        ("5c", "standing foot slips by 9°, from fifth, the plié held", Case(_after_fifth(_FROM_FIFTH), _slip(9.0)), _SLIP),
        (
            "5d", "standing foot does not slip before a turn on a low relevé",
            Case(_after_fifth(_TURN), (Fault("low-releve", "turn-1", 0.6),)), _silent("foot-slips-parallel"),
        ),
        ("6", "pliés held at the bottom, arriving on the count", Case(_after_first(*_HELD_PLIES), music=True), _on_the_count),
        (
            "6b", "heel up early in a held preparation: how early",
            Case(_after_fifth(_WAITS), (Fault("heel-lifts-early", "turn-1", 26.0, lead_s=0.4),)),
            _covers("heel-lifts-early", "lead"),
        ),
        (
            "7", "series of jumps with take-offs on the count",
            Case(_after_first(Sautes(6, 0.14, 2, "take-off")), music=True), _on_the_count,
        ),
        (
            "7b", "quick series of jumps with take-offs on the count",
            Case(_after_first(Sautes(6, 0.1, 2, "take-off")), tempo_bpm=176.0, music=True), _on_the_count,
        ),
        (
            "8", "every plié 190 ms late at 105 beats a minute",
            Case(_after_first(*_LATE_PLIES), tempo_bpm=105.0, music=True), _late_plies,
        ),
        (
            "9", "leg at 60° to the side, hip hiked by 16°",
            Case(_after_fifth(LegGesture("right", "side", 60.0, 8)), (Fault("hip-hikes", "leg-gesture-1", 16.0),)),
            _covers("hip-hikes", "one_foot", "watch"),
        ),
        (
            "9b", "leg held at 60° to the side, hip hiked by 16°",
            Case(_after_fifth(LegGesture("right", "side", 60.0, 6, hold_counts=4)), (Fault("hip-hikes", "leg-gesture-1", 16.0),)),
            _covers("hip-hikes", "one_foot", "watch"),
        ),
        (
            "10", "a held leg whose knee bends after the peak",
            Case(
                _after_fifth(LegGesture("right", "front", 75.0, 6, hold_counts=4)),
                (Fault("knee-bends-working", "leg-gesture-1", 20.0),),
            ),
            _covers("knee-bends-working", "flexion", "watch"),
        ),
        (
            "11", "working foot sickled by 13°",
            Case(_after_fifth(_RETIRE), (Fault("foot-sickles", "balance-1", 13.0),)),
            _covers("foot-sickles", "working", "watch", 8.0),
        ),
        (
            "11b", "standing foot sickled by 17.7°",
            Case(_after_fifth(_RETIRE), (Fault("standing-foot-sickles", "balance-1", 23.0),)),
            _covers("foot-sickles", "supporting", "fault", 8.0),
        ),
        (
            "12", "a landing that is stiff and therefore heavy",
            Case(_after_first(Sautes(3, 0.14)), (Fault("stiff-landing", "landing-3", 0.45),)), _chain,
        ),
        (
            "13", "the plié after a turn, the hip hiked in the turn",
            Case(_after_fifth(_TURN), (Fault("hip-hikes", "turn-1", 8.0),)), _two_feet,
        ),
        ("13b", "the plié after a clean turn", Case(_after_fifth(_EN_DEDANS)), _two_feet),
        ("14", "no static take: the floor", Case(_after_first(Plie(4), Sautes(3, 0.12)), static=False), _floor),
        ("15", "grand pliés", Case(_after_first(Plie(8, grand=True), Plie(8, grand=True))), _no_releve),
        ("16", "a tilted axis: which way", Case(_after_fifth(_HELD), (Fault("axis-tilts", "turn-1", 8.0),)), _direction),
    )
)  # fmt: skip
