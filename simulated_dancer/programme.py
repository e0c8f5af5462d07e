"""What is tried: phrases, the faults that each of their steps carries, clean takes, chains, strange bodies and rooms."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from .body import Body
from .faults import Fault, supported
from .phrases import adage, barre, everything, leg_phrase, petit_allegro, short, turns_from_fifth, turns_from_fourth
from .sautes import Sautes
from .score import Score, Step
from .steps import PhraseStep, Stand
from .trials import Outcome, Recorded, strange, trial, varied
from .wear import AS_NAMED, Wear

Phrase = tuple[PhraseStep, ...]
#: Every phrase, for a stature; low jumps for small bodies.
PHRASES: dict[str, Callable[[float], Phrase]] = {
    "barre": lambda _: barre(),
    "adage": lambda _: adage(),
    "turns from fourth": lambda _: turns_from_fourth(),
    "turns from fifth": lambda _: turns_from_fifth("left"),
    "petit allegro": lambda stature_m: petit_allegro(0.075 * stature_m, changes=stature_m >= 1.45),
    "everything": lambda stature_m: everything(0.07 * stature_m),
    "short plié": lambda _: short("plié"),
    "short balance": lambda _: short("balance"),
    "short turn": lambda _: short("turn"),
    "short jump": lambda stature_m: short("jump", 0.07 * stature_m),
}
#: A size of every fault that is clearly one, and one that is worth a watch, in the unit that it is built in by.
SIZES: dict[str, tuple[float, float]] = {
    "heel-lifts-early": (32.0, 15.0), "foot-slips-parallel": (16.0, 7.5), "turnout-lost-supporting": (30.0, 15.0),
    "turnout-lost-working": (30.0, 15.0), "turnout-lost-finish": (32.0, 16.0), "axis-tilts": (8.0, 4.2),
    "turn-travels": (150.0, 75.0), "turn-hops": (34.0, 17.0), "late-spot": (0.0, 0.0), "arms-drop": (150.0, 72.0),
    "turn-angle-off": (40.0, 23.0), "low-retire": (0.62, 0.82), "low-releve": (0.6, 0.82), "shoulders-lead": (62.0, 38.0),
    "trunk-leans": (15.0, 7.8), "side-bends": (12.0, 6.2), "ribs-flare": (15.0, 7.5), "back-arches": (15.0, 7.5),
    "pelvis-tucks": (15.0, 7.5), "shoulders-lift": (52.0, 28.0), "head-lifts": (22.0, 11.5), "hip-hikes": (17.0, 9.0),
    "knee-inside-toes": (22.0, 11.5), "knee-bends-supporting": (24.0, 13.5), "uneven-plie": (48.0, 23.0),
    "heels-lift-in-plie": (26.0, 11.5), "stiff-landing": (0.45, 0.7), "heels-miss-floor": (32.0, 15.0),
    "feet-not-pointed": (0.5, 0.77), "turnout-lost-in-air": (32.0, 16.0), "foot-sickles": (24.0, 9.5),
    "standing-foot-sickles": (24.0, 13.0), "knee-hyperextends": (14.0, 7.5), "balance-hops": (48.0, 24.0),
    "balance-heel-sinks": (36.0, 15.0), "foot-forces-turnout": (27.0, 15.0), "shallow-plie": (0.45, 0.7),
    "uneven-landing": (0.09, 0.04), "knee-bends-working": (25.0, 14.0)
}  # fmt: skip
#: The catalogue asks for these on one leg, in turns and balances, not in pliés and relevés.
ON_ONE_LEG = ("side-bends", "head-lifts")
#: What needs more than one step, or a phrase of its own.
_HELD_LANDING: Phrase = (Stand(2), Sautes(3, 0.13), Stand(4))
SPECIAL: tuple[tuple[Phrase, tuple[Fault, ...]], ...] = (
    (leg_phrase(), (Fault("uneven-height", "leg-gesture-3", 25.0), Fault("uneven-height", "leg-gesture-4", 25.0))),
    (leg_phrase(), (Fault("uneven-height", "leg-gesture-5", 12.0), Fault("uneven-height", "leg-gesture-6", 12.0))),
    (_HELD_LANDING, (Fault("landing-off-axis", "landing-3", 190.0),)),
    (_HELD_LANDING, (Fault("rushed-take-off", "jump-1", 0.3),)),
    (_HELD_LANDING, (Fault("stiff-landing", "landing-3", 0.5), Fault("turnout-lost-in-air", "jump-1", 30.0))),
    (barre()[:3], (Fault("foot-wings", "plie-1", 20.0, "right"),)),
)
#: Chains (catalogue 7): the first of them is what a teacher would say first.
_TURN_CHAIN = (
    Fault("heel-lifts-early", "turn-1", 32.0), Fault("foot-slips-parallel", "turn-1", 16.0), Fault("axis-tilts", "turn-1", 8.0),
    Fault("turn-travels", "turn-1", 150.0),
)  # fmt: skip
CHAINS: tuple[tuple[str, tuple[Fault, ...]], ...] = (
    *((name, _TURN_CHAIN[first:]) for name in ("turns from fourth", "turns from fifth") for first in range(3)),
    ("everything", _TURN_CHAIN),
    ("short turn", _TURN_CHAIN[1:]),
    ("petit allegro", (Fault("stiff-landing", "landing-3", 0.42),)),
    ("short jump", (Fault("stiff-landing", "landing-3", 0.42),)),
    ("adage", (Fault("hip-hikes", "balance-1", 16.0), Fault("turnout-lost-working", "balance-1", 26.0))),
    ("short turn", (Fault("late-spot", "turn-1", 0.0), Fault("turn-angle-off", "turn-1", 40.0))),
)
#: So many faults of one take, and so far apart.
_A_TAKE, _APART_S = 3, 0.6


@dataclass(frozen=True)
class Job:
    """One trial of the programme.

    group: "clean", "clear", "middle", "chain", "strange" or "cropped"; name: the phrase, the body or room.
    """

    group: str
    name: str
    recorded: Recorded
    phrase: Phrase
    faults: tuple[Fault, ...] = ()

    def run(self) -> Outcome:
        """Dance, record, review, judge; sizes only of the takes that the ± is asked of."""
        return trial(self.recorded, self.faults, self.phrase, sizes=self.group in ("clean", "clear"))


def _planned(phrase: Phrase) -> list[Step]:
    score = Score(Body(), 0.5)
    for step in phrase:
        step.perform(score)
    return sorted(score.steps, key=lambda step: step.start_s)


def _carriers(phrase: Phrase) -> list[Step]:
    """The steps of a phrase that can carry a fault, in order of time; of the landings one within a series and the last."""
    whole = [s for s in _planned(phrase) if s.kind in ("turn", "balance", "leg-gesture", "landing", "jump")]
    alone = [
        s
        for s in _planned(phrase)
        if (s.kind == "plie" and s.facts.get("grand") != "grand") or (s.kind == "releve" and s.side == "both")
    ]
    landings = [s for s in whole if s.kind == "landing"]
    rest = [s for s in whole if s.kind != "landing"] + landings[1:2] + landings[-1:]
    return sorted([*rest, *alone], key=lambda step: step.start_s)


def _fits(fault: str, kind: str, step: Step, steps: list[Step]) -> bool:
    """Whether a step is one to ask a fault of: hips beside the middle with the feet side by side, heels between jumps, depth
    in preparations, and a share of the dancer's own range where the dance shows that range too."""
    if step.kind != kind:
        return False
    plain = kind != "plie" or "grand" in step.facts
    if fault == "shallow-plie":
        return not plain and any("grand" in other.facts for other in steps)
    if fault == "low-releve":
        return any(other.kind == "releve" and other.side == "both" for other in steps)
    if fault in ("uneven-plie", "uneven-landing"):
        return plain and step.facts.get("position") in ("first", "second")
    if kind == "landing":
        return (step.id == "landing-2") == (fault == "heels-miss-floor")
    return plain


def with_faults(clear: bool, seed: int) -> list[Job]:
    """Takes that carry every fault in every kind of step that can, a few apart in each, until all have been danced."""
    waiting = [
        (fault, kind) for fault, (_, kinds) in supported().items() if fault in SIZES for kind in kinds
        if (clear or fault != "late-spot") and not (fault in ON_ONE_LEG and kind in ("plie", "releve"))
    ]  # fmt: skip
    np.random.default_rng(seed).shuffle(waiting)
    names = [name for name in PHRASES if not name.startswith("short")]
    jobs: list[tuple[str, tuple[Fault, ...]]] = []
    while waiting:
        before = len(waiting)
        for name in names:
            faults: list[Fault] = []
            free_s = -np.inf
            carriers = _carriers(PHRASES[name](1.62))
            for step in carriers:
                pair = next((p for p in waiting if _fits(*p, step, carriers)), None)
                if pair is None or step.start_s < free_s or len(faults) == _A_TAKE:
                    continue
                waiting.remove(pair)
                faults.append(Fault(pair[0], step.id, SIZES[pair[0]][0 if clear else 1]))
                free_s = step.end_s + _APART_S
            if faults:
                jobs.append((name, tuple(faults)))
        if len(waiting) == before:
            raise ValueError(f"no phrase carries {waiting}")
    group = "clear" if clear else "middle"
    return [
        Job(group, name, recorded, PHRASES[name](recorded.stature_m), faults)
        for (name, faults), recorded in zip(jobs, varied(len(jobs), seed), strict=True)
    ]


def clean(each: int, seed: int) -> list[Job]:
    """Every phrase without a fault, some times over."""
    recordings = varied(each * len(PHRASES), seed)
    return [
        Job("clean", name, recorded, PHRASES[name](recorded.stature_m))
        for recorded, name in zip(recordings, [name for name in PHRASES for _ in range(each)], strict=True)
    ]


def chains(seed: int) -> list[Job]:
    """Faults of which one may have led to the other."""
    return [
        Job("chain", name, recorded, PHRASES[name](recorded.stature_m), faults)
        for (name, faults), recorded in zip(CHAINS, varied(len(CHAINS), seed), strict=True)
    ]


def _worn_for(faults: tuple[Fault, ...]) -> Wear:
    """The markers that faults are seen by."""
    return Wear(arch=True) if any(fault.fault == "foot-wings" for fault in faults) else AS_NAMED


def special(seed: int) -> list[Job]:
    """Faults that need a phrase of their own."""
    return [
        Job("clear", "own phrase", replace(recorded, mirror=False, wear=_worn_for(faults)), phrase, faults)
        for (phrase, faults), recorded in zip(SPECIAL, varied(len(SPECIAL), seed), strict=True)
    ]


#: What is left of a take that was begun late or stopped early: in the middle of a step more often than not.
PARTS = ((0.0, 0.62), (0.23, 1.0), (0.37, 0.81))


def cropped(seed: int) -> list[Job]:
    """Parts of clean takes that begin or end in the middle of a step."""
    names = [name for name in PHRASES if not name.startswith("short")]
    recordings = varied(len(names) * len(PARTS), seed)
    return [
        Job("cropped", name, replace(recorded, part=part), PHRASES[name](recorded.stature_m))
        for recorded, (name, part) in zip(recordings, product(names, PARTS), strict=True)
    ]


def strange_ones(seed: int) -> list[Job]:
    """Strange bodies and rooms beside a kind one, each with its own noise: a clean phrase with a bit of everything."""
    bodies = enumerate(strange().items(), 100 * seed)
    return [Job("strange", name, replace(recorded, seed=number), everything()) for number, (name, recorded) in bodies]


def full(seed: int = 11) -> list[Job]:
    """The whole programme."""
    return [
        *clean(2, seed), *with_faults(True, seed + 1), *with_faults(False, seed + 2), *special(seed + 3), *chains(seed + 4),
        *strange_ones(seed + 6), *cropped(seed + 5),
    ]  # fmt: skip


def quick(seed: int = 5) -> list[Job]:
    """A dozen trials of the programme: every phrase once or nearly so, and some faults of each family."""
    faulty = [*with_faults(True, seed)[:4], *with_faults(False, seed)[4:6]]
    return [*clean(1, seed)[::2], *faulty, *chains(seed)[7:9]]
