"""Phases by their properties' names, as review.json has them: out and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from typing import Any, get_type_hints

from ..take import Side
from .phase import Balance, Jump, Landing, LegGesture, Name, OnTheCount, Phase, Plie, Releve, Static, Step, Turn

Property = float | str | None

PHASES: dict[str, type[Phase]] = {
    kind.kind: kind for kind in (Turn, Jump, Landing, Plie, Releve, Balance, Static, LegGesture, Step)
}


@cache
def _own(kind: str) -> dict[str, Any]:
    """The fields that one kind of phase has of its own, with their types."""
    made = PHASES[kind]
    hints = get_type_hints(made)
    common = {item.name for item in fields(Phase)}
    return {item.name: hints[item.name] for item in fields(made) if item.name not in common}


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


def _read(name: str, wanted: Any, told: Mapping[str, Any]) -> Any:
    """One property as its type asks for; missing is None, or NaN where a number is always told. Raises TypeError."""
    value = told.get(name)
    types = getattr(wanted, "__args__", (wanted,))
    if value is None:
        return None if type(None) in types else float("nan")
    if float not in types and int not in types:
        if not isinstance(value, str):
            raise TypeError(f"{name} is no text")
        return value
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise TypeError(f"{name} is no number")
    return int(value) if int in types else float(value)


def phase_from(
    kind: str, *, id: str, side: Side | None, start: int, end: int, start_s: float, end_s: float, properties: Mapping[str, Any]
) -> Phase:
    """A phase from its properties by name, as review.json has them; what is not among them is None (NaN for a number that every
    step of its kind has), other names are passed over.

    Raises KeyError for an unknown kind, TypeError where a property is of another type.
    """
    made = PHASES[kind]
    own = {name: _read(name, wanted, properties) for name, wanted in _own(kind).items()}
    music = None
    if properties.get("bar") is not None:
        music = OnTheCount(int(properties["bar"]), float(properties["count"]), float(properties.get("beat_error_s") or 0.0))
    name = Name(
        id=id,
        same_as=str(properties.get("same_as") or id),
        repetition=int(properties.get("repetition") or 1),
        repetitions=int(properties.get("repetitions") or 1),
        music=music,
    )
    return made(side=side, start=start, end=end, start_s=start_s, end_s=end_s, **vars(name), **own)
