"""The plain words of the student's page: titles, numbers without a unit that only a laboratory uses, moments, sides."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from . import names, numbers

if TYPE_CHECKING:
    from ..findings.finding import Finding
    from ..phrase.phase import Phase, Phrase

_BELOW = "_below"
_STEPS = {
    "turn": "turn",
    "jump": "jump",
    "plie": "plié",
    "releve": "relevé",
    "balance": "balance",
    "leg-gesture": "leg lift",
    "landing": "landing",
    "step": "step",
}
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
#: What a view of the catalogue is called (findings.views).
_SEEN_FROM = {
    "front": "from the front",
    "back": "from behind",
    "side": "from the side",
    "top": "from above",
    "low side": "from the side, close to the floor",
    "above the foot": "from above the foot",
    "along the foot": "from where the toes point",
    "front of the leg": "from the front of the leg",
    "side of the leg": "from the side of the leg",
    "across the tilt": "from where the lean shows",
}


@dataclass(frozen=True)
class Words:
    """What one fault is called on the page. number: by measure, a sentence with {n}; with ``_below`` for negative numbers."""

    title: str
    well: str
    number: Mapping[str, str]


@cache
def words() -> Mapping[str, Words]:
    """The words of all faults of the catalogue."""
    data = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
    return {fault: Words(**entry) for fault, entry in data.items()}


def number_sentence(finding: Finding) -> str:
    """What was measured, as a sentence; "" where the number stands for nothing that the page could say."""
    entry = words().get(finding.fault)
    if entry is None or not np.isfinite(finding.value):
        return ""
    name = finding.measure + (_BELOW if finding.value < 0 else "")
    sentence = entry.number.get(name)
    return "" if sentence is None else sentence.format(n=numbers.for_dancer(finding.value, finding.unit))


def seen_from(view: str) -> str:
    """The name of a view in plain words; "" for a teacher's own."""
    return _SEEN_FROM.get(view, "")


def _step(phase: Phase, phrase: Phrase) -> str:
    alike = [other for other in phrase.phases if other.kind == phase.kind]
    name = _STEPS[phase.kind]
    place = alike.index(phase)
    if len(alike) == 1:
        return f"In the {name}"
    return f"In your {_ORDINALS[place]} {name}" if place < len(_ORDINALS) else f"In {name} {place + 1}"


def moment(phase_id: str, time_s: float, phrase: Phrase) -> str:
    """When it was: "In your second turn, bar 3, count 2", or with the seconds from the beginning where no counts are known."""
    phase = next((phase for phase in phrase.phases if phase.id == phase_id), None)
    clock = f"{numbers.spoken_seconds(time_s)} in"
    if phase is None or phase.kind not in _STEPS:
        return names.capital(clock)
    if phase.music is not None:
        bar, count = numbers.together(f"bar {phase.music.bar}"), numbers.together(f"count {round(phase.music.count)}")
        return f"{_step(phase, phrase)}, {bar}, {count}"
    return f"{_step(phase, phrase)}, {clock}"
