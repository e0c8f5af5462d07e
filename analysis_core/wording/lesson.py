"""Sentences of a plan for the next class: goals, exercises, how to go on; and every word of the forms it is written in."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING

from . import numbers

if TYPE_CHECKING:
    from ..lesson.model import Music

#: Kinds of exercise by letter. Source: catalogue 10.3.
KINDS = {
    "A": "calf and ankle",
    "B": "slow plié with heel rule",
    "C": "relevé",
    "D": "turnout of the hip",
    "E": "knee over the toes",
    "F": "pelvis and trunk",
    "G": "balance",
    "H": "turn",
    "I": "spotting",
    "J": "port de bras",
    "K": "landing",
    "L": "jump series",
    "M": "foot",
    "N": "rhythm",
    "O": "finding one's turnout",
}
#: What the rungs of a ladder are called, by number.
RUNGS = {1: "unloaded", 2: "two feet", 3: "one foot", 4: "centre, slow", 5: "at tempo", 6: "in the phrase"}
#: Catalogue 10.6.
SAFETY = (
    "Pain, dizziness or a fall end the exercise. This plan is a teaching aid, not a medical device and not an injury prediction; "
    "for health questions turn to a licensed health professional, and local rules come first."
)
ORDER_IN_TIME = "“Came first and may have led to” is an order in time, not proof of a cause."

PRIVATE_LESSON, CLASS_PLAN = "Private lesson", "Class plan"

#: Headings and quiet lines of the forms.
EDIT_HINT = (
    "Every text can be changed: click and write, then save the page in the browser (as a complete web page). Made anew with the "
    "same name, the plan keeps your words."
)
GOALS, LADDER, SHARED_BY = "Goals", "Ladder", "Shared by"
WHERE_ON_LADDER = "Where the class stands on this ladder"
NO_GOAL = "Nothing to correct stands out: a class to dance in."
JUST_DANCE = "Dance, and tell us what you enjoyed."
NOT_TODAY, NOTHING_LEFT_OUT = "Not today", "Nothing in particular."
TAKE_CARE, USUAL_CARE = "Take care", "Nothing beyond the usual."
TO_FETCH, NOTHING_TO_FETCH = "To fetch", "nothing"
MUSIC_LEGEND = "Music: metre, beats a minute, counts."
AT, MINUTES, EXERCISE, MUSIC, JUMPS = "at", "min", "exercise", "music, counts, sides", "jumps"
SAID, SAID_TO_TEACHER = "cue, what it feels like", "cue, what it feels like, what to watch"
FEELS, WATCH = "feels", "watch"
CLASS_SHEET, DANCER, SHARE_THIS = "Class sheet", "dancer", "share this"
SIGNS_OF_SHEET = (
    "● today’s work", "○ later", "✓ held since last time",
    "blank: nothing to say, or the take cannot tell. In the order of the class list.",
)  # fmt: skip
GOES_WELL = "Goes well for everyone:"
HOW_TO_GO_ON, NOTES, EARLIER_PLAN = "How to go on", "Notes", "From your earlier plan"
SIGNS_OF_PLAN = "◆ work on the goals; music: metre, beats a minute; ladder: ● today, ✓ holds."
#: What stands behind and before a rung, by its state.
BEHIND_RUNG = {"today": " (today)", "holds": " (holds)", "later": ""}
BEFORE_RUNG = {"today": "● ", "holds": "✓ ", "later": ""}
WEAKER_FIRST = "weaker side first"
#: Names of an exercise's texts, before them where a form has no columns.
LABELS = {name: name.capitalize() for name in ("cue", "feel", "watch", "how", "why")}
JUMPS_MARKED = "Its jumps are marked, not jumped."
#: How to go on.
STUCK = "Three classes on one rung: ask yourself whether the picture, the tempo or the rung is the wrong one."
MIX = "At tempo, mix the exercise with other steps; up to there repeat it in one block."
IN_ONE_BLOCK = "Repeat each exercise in one block. After a set the dancers say what they felt, then you say what you saw."
LOOK_AGAIN = "In three classes: capture the same phrase with the same markers. Only a change beyond its ± counts as better."


def half(minutes: float) -> str:
    """Minutes as they are written on a plan: 2½."""
    whole = int(minutes)
    return f"{whole or ''}½" if minutes % 1 else str(whole)


def clock(minutes: float) -> str:
    """A moment of the class: 0:07 or 1:02½."""
    return f"{int(minutes // 60)}:{int(minutes % 60):02d}{'½' if minutes % 1 else ''}"


def block(name: str, minutes: float) -> str:
    """Over a part of the class: "Turns, 12½ min"."""
    return f"{name}, {of_block(minutes)}"


def of_block(minutes: float) -> str:
    """How long a part of the class is."""
    return f"{half(minutes)} {MINUTES}"


def day(date: datetime.date) -> str:
    """A day as it is written on a plan: "3 March 2031"."""
    return f"{date.day} {date:%B %Y}"


def facts(date: str, minutes: float, level: str, jumps: int, limit: int, dancers: int | None) -> str:
    """Under the title. dancers: how many, None where it is not to be told."""
    of_dancers = [] if dancers is None else [numbers.counted(dancers, "dancer", "dancers")]
    return " · ".join([date, f"{half(minutes)} minutes", level, *of_dancers, f"planned jumps {jumps} of {limit}"])


def sides(sets: int, order: Sequence[str]) -> str:
    """How often and on which side first; order: ("both",) for two sides at once, else the sides in their order."""
    if tuple(order) == ("both",):
        return f"{sets} ×" if sets > 1 else ""
    return f"{sets} × both sides, {order[0]} {'side ' if order[0] == 'weaker' else ''}first"


def music(asked: Music, phrase_s: float) -> str:
    """What music an exercise is danced to. phrase_s: length of the dancers' own phrase."""
    if asked.phrase:
        own = "half its own tempo" if asked.tempo != 1 else "its own music"
        return f"{own}, {numbers.together(numbers.seconds(phrase_s, 0))}"
    if asked.bpm:
        counts = f", {numbers.counted(asked.counts, 'count', 'counts')}" if asked.counts else ""
        return f"{asked.metre}, {numbers.plain(asked.bpm[0])}–{numbers.plain(asked.bpm[1])}{counts}"
    return numbers.number(asked.seconds, "s") if asked.seconds else ""


def rung(number: int, exercise: str = "") -> str:
    """A rung with its exercise."""
    return f"{RUNGS[number]}: {exercise}" if exercise else RUNGS[number]


def again(name: str, exercise: str) -> str:
    """A part of the class that takes an exercise up once more."""
    return f"{name}: {exercise[0].lower()}{exercise[1:]}"


def marked(how: str) -> str:
    """An exercise whose jumps are marked today."""
    return f"{how} {JUMPS_MARKED}"


def teachers_choice(title: str) -> str:
    """A goal that no take asks for."""
    return f"{title}: the teacher's choice."


def shared(title: str, by: int, dancers: int, first: int) -> str:
    """A goal of a group. first: with so many of them it came first."""
    words = f"{title}, or what belongs to it, is shared by {by} of {dancers} dancers"
    return f"{words}; in {first} of them it came first." if first else f"{words}."


def of_one_dancer(title: str, times: int, chances: int, led_to: Sequence[str], *, kept: bool) -> str:
    """A goal of one dancer. led_to: titles of what it may have led to; kept: the teacher kept it."""
    often = f"{title}: {times} of {numbers.counted(chances, 'time', 'times')}{', kept by the teacher' if kept else ''}"
    later = "; ".join(name.lower() for name in led_to)
    return f"{often}. It came first and may have led to: {later}." if later else f"{often}."


def move_up(sets: int, hold: int, tries: int) -> str:
    """When a rung holds."""
    held = f"{sets} sets in which {hold} of {tries} tries hold"
    return f"Move up a rung after {held}; begin next time one rung below, as a reminder."


def jumps_of_last_class(jumps: int) -> str:
    """How many jumps are enough today."""
    return f"The last class in the record had {numbers.counted(jumps, 'jump', 'jumps')}: at most a fifth more today."


def own_work_heading(dancers: int) -> str:
    """Over what dancers work on besides."""
    return "Each in the common exercise" if dancers > 1 else "Your own corrections"


def inside(exercise: str) -> str:
    """In which common exercise a dancer works on something of her own."""
    return f"in {exercise.lower()}"


def own_line(dancers: Sequence[str], exercise: str) -> str:
    """Before a dancer's own work: who, and in which exercise."""
    return f"{', '.join(dancers)}{f', {inside(exercise)}' if exercise else ''}: "


def share_of(shared_by: int, dancers: int) -> str:
    """How many of a class share a correction."""
    return f"{shared_by} of {dancers}"


def jumps(count: int) -> str:
    """Planned jumps of an exercise."""
    return f"{count} {JUMPS}"
