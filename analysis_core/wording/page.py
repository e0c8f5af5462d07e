"""Sentences of the student's page around its corrections: headings, what became of a thing, safety; what was written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from . import numbers

if TYPE_CHECKING:
    from ..compare.comparison import Change

MISSING_VIEWER = (
    "The page has no 3-D dancer: the viewer was not built. Run scripts/demo.py once, or: python3 scripts/build_viewer.py"
)
SAFETY = (
    "Pain, dizziness or a fall: stop, and tell your teacher. This page is a teaching aid, not a medical device, and it predicts "
    "no injury; for questions of health turn to a licensed health professional. Local rules come first."
)
EXPERIMENTAL = (
    "The files for the room are experimental: they pass the checks of their format, and nobody here has seen them on a phone. "
    "Send one by itself, open it on an iPhone or iPad, and tell us."
)
#: Over a correction that the teacher wrote.
FROM_TEACHER = "From your teacher"
#: Of a measure that nothing in a take asks for.
NOT_ASKED_FOR = "no step in this take asks for it"
#: Beside the two pictures, by what became of a thing; "better" only where the comparison shows it beyond measurement error.
SAID: Mapping[Change, str] = {
    "better": "Better than before. Keep going.",
    "same": "Much the same as before: this is the one to spend time on.",
    "worse": "Before, you were closer. Look at both pictures: what did you do then?",
    "new": "Before, you already had this. Look at both pictures: what did you do then?",
    "cannot be told": "",
}
_COUNTED = ("Nothing", "One thing", "Two things", "Three things")


def how_often(times: int, chances: int) -> str:
    """In how many of its steps a thing was seen."""
    return "every time" if times == chances else f"{times} of {chances} times"


def better_since(term: str) -> str:
    """That the record shows something to be better than in an earlier term."""
    return f"Better than in {term}."


def keep_going(said: str) -> str:
    """A sentence of praise with what to do."""
    return f"{said} Keep going."


def went_well_since(well: str, term: str) -> str:
    """Something that went well, and since when."""
    return f"{well} {better_since(term)}"


def heading(cards: int, *, untold: bool) -> str:
    """Over the page: how many things there are to work on. untold: nothing in the take could be judged."""
    if not cards and untold:
        return "Your dance, from all sides"
    return f"{_COUNTED[cards]} to {'work on' if cards else 'correct today'}"


def lead(cards: int, *, untold: bool, well: bool) -> str:
    """Below the heading; empty where one thing to work on says it all. well: whether something is told that went well."""
    if not cards and untold:
        return "This recording shows too little to say what to work on. Turn it, and look for yourself."
    if not cards:
        return "Enjoy it, and look at what went well." if well else "Enjoy it, and look at it from all sides."
    others = {1: "", 2: "the other often follows by itself"}.get(cards, "the others often follow by themselves")
    return others and f"One at a time. Begin with 1: {others}."


def written(told: Mapping[str, Any]) -> str:
    """What was written, from what ``write_page`` told of it: "page.html: 1.2 MB, two things to work on; 6 pictures, the film"."""
    cards = int(told["corrections"])
    # Without one, whether nothing was found or nothing could be judged is for the page to say.
    said = f"{_COUNTED[cards].lower()} to work on" if cards else "no correction"
    has: Sequence[str] = [
        numbers.counted(told["pictures"], "picture", "pictures"),
        *(["the film"] if told["film"] else []),
        *(["the 3-D dancer"] if told["dancer"] else []),
    ]
    return f"{told['file']}: {numbers.megabytes(told['bytes'])}, {said}; {', '.join(has)}"


def for_the_room(path: str) -> str:
    """A file that stands the dancer in the room."""
    return f"{path}: for the room"
