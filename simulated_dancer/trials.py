"""Trials of the whole analysis: a dancer with known faults is recorded, reviewed, and the review held against the truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from ..analysis_core.body.anatomy import BESIDE_JOINT
from ..analysis_core.review import Review
from ..analysis_core.take import Take
from .body import Body
from .dirt import Dirt, spoil
from .faults import Fault
from .judged import Judged, judge
from .markers import Noise
from .phrases import demo_phrase
from .rotations import about_x
from .simulate import Simulation, simulate
from .steps import PhraseStep
from .told import reviewed
from .wear import AS_NAMED, INNER, SPARE, Wear

#: How far people are from what rules, tables and one take say, 1 SD in each direction: hip centres (Harrington 2007 against CT:
#: 12.3 ± 5.9 mm in all) and shoulders (proposed).
_OWN_BODY = {"hip": 0.005, "shoulder": 0.008}


@dataclass(frozen=True)
class Recorded:
    """How a trial is danced and recorded; everything here must not matter to what is found.

    body: other proportions than those of the stature. wear: which markers, and where. dirty: gaps, exchanged labels, spikes and a
    marker that falls off, as an ordinary take in a busy room has them. own_body: hips and shoulders are not those that the rules
    give (_OWN_BODY). static: whether there is a static take. slope_rad: of the floor against the laboratory's level. to_music:
    whether the counts are known. part: which part of the dance the take has, from one share of its length to another: it may
    begin and end in the middle of a step.
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
    body: Body | None = None
    wear: Wear = AS_NAMED
    static: bool = True
    slope_rad: float = 0.0
    to_music: bool = False
    part: tuple[float, float] = (0.0, 1.0)


@dataclass(frozen=True)
class Outcome:
    """One trial: what was danced, what the program says of it, and how that holds against the truth."""

    danced: Simulation = field(repr=False)
    review: Review = field(repr=False)
    judged: Judged


def _body(recorded: Recorded) -> Body:
    plain = recorded.body or Body(recorded.stature_m)
    if not recorded.own_body:
        return plain
    # In place of the plain body's own deviation from the rule, which is a draw as well.
    random = np.random.default_rng([recorded.seed, 1])
    hip, shoulder = (tuple(random.normal(scale=sd, size=3).tolist()) for sd in _OWN_BODY.values())
    return replace(plain, hip_deviation_m=hip, shoulder_deviation_m=shoulder)


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
        wear=recorded.wear,
        to_music=recorded.to_music,
    )
    if recorded.dirty:
        danced = replace(danced, take=spoil(danced.take, _mishaps(danced.take, recorded.seed), recorded.seed)[0])
    if recorded.part != (0.0, 1.0):
        danced = replace(danced, take=_part(danced.take, recorded.part))
    if recorded.slope_rad:
        danced = replace(danced, take=_sloped(danced.take, recorded), static_take=_sloped(danced.static_take, recorded))
    return danced


def _part(take: Take, part: tuple[float, float]) -> Take:
    """A take that was begun late and stopped early."""
    first, last = (round(share * take.frames) for share in part)
    return replace(take, positions_m=take.positions_m[first:last], first_frame=take.first_frame + first)


def _sloped(take: Take, recorded: Recorded) -> Take:
    """The take as a laboratory sees it whose level the floor slopes against."""
    return replace(take, positions_m=take.positions_m @ about_x(recorded.slope_rad)[0].T)


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


def review_of(danced: Simulation, level: str = "intermediate", *, static: bool = True) -> Review:
    """The review of a simulated take, with its static take or without."""
    tempo = danced.tempo_bpm if danced.to_music else None
    return reviewed(danced.take, danced.static_take if static else None, level=level, tempo_bpm=tempo)


def trial(
    recorded: Recorded, faults: Sequence[Fault] = (), phrase: Sequence[PhraseStep] | None = None, *, sizes: bool = True
) -> Outcome:
    """Record, review, and hold the review against the truth; sizes as in ``judge``."""
    danced = record(recorded, faults, phrase)
    review = review_of(danced, static=recorded.static)
    begins_s = recorded.part[0] * danced.movement.frames / danced.movement.rate_hz
    return Outcome(danced, review, judge(danced, review, sizes=sizes, begins_s=begins_s))


#: Sets and habits that are worn in turn: all markers with landmark names, then ever fewer under other names.
_WORN = (AS_NAMED, Wear(habit="atlas"), Wear(INNER, habit="atlas"), Wear(habit="words"), Wear(INNER), Wear(SPARE, habit="words"))
_RATES_HZ = (60.0, 100.0, 120.0, 200.0, 240.0, 330.0)


def _proportions(stature_m: float, number: int) -> Body:
    """A body of a stature: a child below 1.45 m, else by turns plain, broad, long-legged, slight."""
    if stature_m < 1.45:
        return Body(stature_m, child=True)
    shapes: tuple[dict[str, Any], ...] = ({}, {"width_factor": 1.2}, {"leg_factor": 1.05}, {"width_factor": 0.9, "sex": "male"})
    return Body(stature_m, **shapes[number % len(shapes)])


def varied(count: int, seed: int = 1) -> list[Recorded]:
    """Recordings that differ in all that must not matter: bodies, marker sets, rates, tempi, places; every third is dirty."""
    random = np.random.default_rng(seed)
    result = []
    for number in range(count):
        stature_m = float(random.uniform(1.2, 1.95))
        worn = _WORN[number % len(_WORN)]
        result.append(
            Recorded(
                stature_m=stature_m,
                rate_hz=_RATES_HZ[int(random.choice(len(_RATES_HZ), p=(0.2, 0.2, 0.25, 0.15, 0.15, 0.05)))],
                tempo_bpm=float(random.uniform(100, 126)),
                facing_rad=float(random.uniform(-np.pi, np.pi)),
                place_m=(float(random.uniform(-2, 2)), float(random.uniform(-2, 2))),
                mirror=bool(random.integers(2)),
                seed=int(random.integers(1, 10_000)),
                misplaced_m=0.005,
                stance_rad=np.radians(1.0),
                dirty=number % 3 == 2 and worn.habit == "landmarks",
                own_body=True,
                body=_proportions(stature_m, number),
                wear=worn,
            )
        )
    return result


def strange() -> dict[str, Recorded]:
    """Bodies and rooms that are not as the labels and the rules say, each beside an otherwise kind recording."""
    base = Recorded(own_body=True, misplaced_m=0.003, seed=5)
    malleoli, epicondyles = BESIDE_JOINT["ankle"], BESIDE_JOINT["knee"]

    def wearing(*moved: tuple[str, tuple[float, float, float]], without: tuple[str, ...] = ()) -> Recorded:
        return replace(base, wear=Wear(without, moved))

    def built(**shape: Any) -> Recorded:
        return replace(base, body=Body(base.stature_m, **shape))

    return {
        "kind": base,
        "no inner markers": wearing(without=INNER),
        "a small set": wearing(without=SPARE),
        "markers misplaced by 1 cm": replace(base, misplaced_m=0.006),
        "markers misplaced by 2 cm": replace(base, misplaced_m=0.012),
        "right knee marker 5 cm too low": wearing((epicondyles[0] + ".R", (0.0, -0.05, 0.0)), without=INNER),
        "ankle markers 12 cm up the shaft": wearing(*((name, (0.0, 0.12, 0.0)) for name in malleoli)),
        "outer ankle marker 12 cm up, no inner": wearing((malleoli[0], (0.0, 0.12, 0.0)), without=INNER),
        "knee markers 3 cm low": wearing(*((name, (0.0, -0.03, 0.0)) for name in epicondyles)),
        "shoes with heels of 6 cm": replace(base, body=Body(base.stature_m, shoe_heel_m=0.06, releve_rad=np.radians(36.0))),
        "low knees": built(knee_lower=0.025),
        "high knees": built(knee_lower=-0.025),
        "left leg 6 mm longer": built(left_longer_m=0.006),
        "a hat": wearing(("front_of_head", (0.0, 0.07, 0.0)), ("back_of_head", (0.0, 0.07, 0.0))),
        "no static take": replace(base, static=False),
        "floor slopes by a degree": replace(base, slope_rad=np.radians(1.0)),
    }
