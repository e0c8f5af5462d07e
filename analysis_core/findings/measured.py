"""Every number that was judged, inside its band or not, gathered by kind of step: what a later take is compared with."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

import numpy as np

from ..phrase.phase import Balance, Jump, Landing, LegGesture, Phase, Plie, Releve, Step, Turn
from ..take import Side
from .catalogue import Entry, Limits
from .finding import PLUS_MINUS
from .observation import Observation

_FEET = {"left": "one foot", "right": "one foot", "both": "two feet"}


@dataclass(frozen=True)
class Measured:
    """One measure of one fault on one side in one kind of step.

    n: how many values. value: their mean; worst: the one furthest out of the band; sd: their standard deviation, None below two.
    plus_minus, plus_minus_within_take: 95 % of a single value (root mean square), against what the body did and against the same
    number where the step comes again. outside: how many of n lie outside the band. cannot_tell: why there is no value at all;
    the numbers are None then. Steps in which a value cannot be told do not count in n.
    """

    fault: str
    measure: str
    side: str | None
    step: str
    n: int
    value: float | None
    worst: float | None
    sd: float | None
    unit: str
    plus_minus: float | None
    plus_minus_within_take: float | None
    band: tuple[float | None, float | None]
    outside: int
    cannot_tell: str | None


@dataclass(frozen=True)
class Number:
    """A value that was told, with its 1-SD errors; excess: how far outside the band it lies, negative inside.

    within: None where the recording does not tell the two apart.
    """

    told: Observation
    sd: float
    within: float | None
    excess: float


@dataclass(frozen=True)
class Untold:
    """A value that cannot be told. measure: "" where none was taken."""

    fault: str
    measure: str
    side: str | None
    phase: Phase
    why: str


def step_of(phase: Phase) -> str:
    """The kind of a step in words, the same in every take: "turn en dehors", "grand plié", "landing on one foot"."""
    match phase:
        case Turn():
            words = ["turn", phase.direction]
        case Jump():
            words = ["jump", _feet("from", phase.take_off_feet), _feet("to", phase.landing_feet)]
        case Landing():
            words = ["landing", _feet("on", phase.landing_feet)]
        case Plie():
            words = [phase.size, "plié"]
        case Releve():
            words = ["relevé", _feet("on", phase.support)]
        case Balance():
            words = ["balance", phase.pose]
        case LegGesture():
            words = ["leg gesture", phase.direction and f"to the {phase.direction}"]
        case Step():
            words = ["step", phase.direction]
        case _:
            words = ["standing"]
    return " ".join(filter(None, words))


def _feet(way: str, feet: Side | None) -> str | None:
    return feet and f"{way} {_FEET[feet]}"


def _rms(values: Sequence[float]) -> float:
    return math.sqrt(fmean(value * value for value in values))


def _why(untold: Sequence[Untold]) -> str:
    """The reason that holds most often."""
    reasons = [item.why for item in untold]
    return max(dict.fromkeys(reasons), key=reasons.count)


def _band(limits: Limits) -> tuple[float | None, float | None]:
    low, high = (float(limit) if np.isfinite(limit) else None for limit in limits.ok)
    return low, high


_Key = tuple[str, str, str | None, str]


def _group(key: _Key, numbers: Sequence[Number], untold: Sequence[Untold], limits: Limits) -> Measured:
    fault, measure, side, step = key
    n = len(numbers)
    values = [number.told.value for number in numbers]
    within = [number.within for number in numbers if number.within is not None]
    return Measured(
        fault=fault,
        measure=measure,
        side=side,
        step=step,
        n=n,
        value=fmean(values) if n else None,
        worst=max(numbers, key=lambda number: number.excess).told.value if n else None,
        sd=stdev(values) if n > 1 else None,
        unit=limits.unit,
        plus_minus=PLUS_MINUS * _rms([number.sd for number in numbers]) if n else None,
        plus_minus_within_take=PLUS_MINUS * _rms(within) if n and len(within) == n else None,
        band=_band(limits),
        outside=sum(number.excess > 0 for number in numbers),
        cannot_tell=None if n else _why(untold),
    )


def gathered(numbers: Sequence[Number], untold: Sequence[Untold], entries: Mapping[str, Entry]) -> tuple[Measured, ...]:
    """One ``Measured`` for every fault, measure, side and kind of step, in the order in which they were met.

    What could not be told for want of any number is put to all measures of the fault in the same kind of step.
    """
    told: dict[_Key, list[Number]] = {}
    for number in numbers:
        one = number.told
        told.setdefault((one.fault, one.measure, one.side, step_of(one.phase)), []).append(number)
    missing: dict[_Key, list[Untold]] = {}
    for item in untold:
        step = step_of(item.phase)
        exact = (item.fault, item.measure, item.side, step)
        keys: Sequence[_Key] = [exact] if item.measure else [key for key in told if (key[0], key[3]) == (item.fault, step)]
        for key in keys or [(item.fault, name, None, step) for name in entries[item.fault].measures]:
            missing.setdefault(key, []).append(item)
    return tuple(
        _group(key, told.get(key, ()), missing.get(key, ()), entries[key[0]].measures[key[1]])
        for key in dict.fromkeys((*told, *missing))
    )
