"""Names as people say them: of faults, sides, steps, body parts and quantities."""

from __future__ import annotations

from collections.abc import Sequence

from .numbers import unit_words

SIDES = {"left": "left", "right": "right", "both": "both sides"}
_SUFFIXES = {"L": "left", "R": "right"}
_ACCENTS = {"plie": "plié", "releve": "relevé", "retire": "retiré"}


def in_words(name: str) -> str:
    """A name of the code as words: "plie-2" -> "plié 2", "foot_turnout" -> "foot turnout"."""
    return " ".join(_ACCENTS.get(word, word) for word in name.replace("-", " ").replace("_", " ").split())


def capital(words: str) -> str:
    """The same words with a capital letter at their beginning; the rest as it is."""
    return words[:1].upper() + words[1:]


def fault_title(fault: str) -> str:
    """The title of a fault, the only one it has; of one that the catalogue does not know its name in words."""
    # The catalogue asks what phrases are, and phrases ask for words.
    from ..findings.catalogue import catalogue

    entry = catalogue().get(fault)
    return capital(in_words(fault)) if entry is None else entry.title


def on_side(words: str, side: str | None) -> str:
    """Something with the side it is on, when it is on one: "Heel lifts early, left"."""
    known = SIDES.get(side or "", "")
    return f"{words}, {known}" if known else words


def step(phase: str) -> str:
    """A step of the phrase by its id: "turn-1" -> "turn 1"."""
    return in_words(phase)


def body_part(name: str) -> str:
    """A segment or a joint: "foot.R" -> "right foot", "upper_arm.L" -> "left upper arm"."""
    stem, _, suffix = name.partition(".")
    return f"{_SUFFIXES.get(suffix, '')} {in_words(stem)}".strip()


def body_parts(names: Sequence[str]) -> str:
    """Some of them for a sentence: "the left heel and right knee"; "the body" when there is none."""
    return "the " + " and ".join(body_part(name) for name in names) if names else "the body"


def quantity(name: str) -> str:
    """What a curve shows: "knee_flexion.L" -> "Knee flexion, left"."""
    stem, _, suffix = name.partition(".")
    # Columns that hold millimetres say so in their names; the number beside the words has its unit.
    return on_side(capital(in_words(stem.removesuffix("_mm"))), _SUFFIXES.get(suffix))


def quantity_with_unit(name: str, unit: str) -> str:
    """The same with the unit it is shown in: "Knee flexion, left (°)"."""
    return with_unit(quantity(name), unit)


def with_unit(words: str, unit: str) -> str:
    """Something with the unit it is counted in, if it has one: "Heel above its flat height (mm)"."""
    sign = unit_words(unit).strip()
    return f"{words} ({sign})" if sign else words


def part_on(part: str, side: str) -> str:
    """A part of the body on a side, for a sentence: "the left heel"."""
    return f"the {side} {part}"
