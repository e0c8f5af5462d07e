"""Phases by their properties' names, as review.json has them: out and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from typing import Any

from ..plain_data import read_as, reader_of
from ..take import Side
from .phase import Balance, Jump, Landing, LegGesture, OnTheCount, Phase, PhaseKind, Plie, Releve, Static, Step, Turn

Property = float | str | None

PHASES: dict[str, type[Phase]] = {
    kind.kind: kind for kind in (Turn, Jump, Landing, Plie, Releve, Balance, Static, LegGesture, Step)
}


@cache
def _own(kind: str) -> tuple[str, ...]:
    """Names of the fields that one kind of phase has of its own."""
    common = {item.name for item in fields(Phase)}
    return tuple(item.name for item in fields(PHASES[kind]) if item.name not in common)


def properties_of(phase: Phase) -> dict[str, Property]:
    """All that a phase tells beyond its side and times, by name: the ``properties`` of review.json."""
    told: dict[str, Property] = {
        **{name: getattr(phase, name) for name in _own(phase.kind)},
        "same_as": phase.same_as,
        "repetition": phase.repetition,
        "repetitions": phase.repetitions,
        **({} if phase.music is None else vars(phase.music)),
    }
    return {name: float(value) if isinstance(value, int) else value for name, value in told.items()}


def phase_from(
    kind: str, *, id: str, side: Side | None, start: int, end: int, start_s: float, end_s: float, properties: Mapping[str, Any]
) -> Phase:
    """A phase from its properties by name, as review.json has them; what is not among them is None (NaN for a number that every
    step of its kind has), other names are passed over.

    Raises TypeError for an unknown kind and where something is of another type than the phase's field.
    """
    made = PHASES[reader_of(PhaseKind)(kind, "kind")]
    span = {"id": id, "side": side, "start": start, "end": end, "start_s": start_s, "end_s": end_s}
    unknown = dict.fromkeys((*_own(kind), *(item.name for item in fields(OnTheCount))))
    told = {**unknown, "same_as": id, "repetition": 1, "repetitions": 1, **properties, **span}
    return read_as(made, told, music=None if told["bar"] is None else read_as(OnTheCount, told))
