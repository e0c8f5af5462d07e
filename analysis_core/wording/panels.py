"""The sentences of the add-on's panels, and its labels that hold a value."""

from __future__ import annotations

from . import comparison, names, numbers

# The take.
TRUSTED = {
    "good": "Good: this take can be trusted",
    "usable": "Usable, with limits",
    "retake": "Retake: this take cannot be trusted",
}
BEGIN = "Open a recorded phrase to see what to work on, or try the demo first."
ESC_STOPS = "Esc stops it"
HAVE_IT_LOOKED_AT = "If that does not help, send the report."
DECISIONS_DIFFER = "The review file beside the take holds other decisions than this Blender file."
REVIEWED_ELSEWHERE = "This take was reviewed again in another window. Open the review to see it."


def more_reasons(count: int) -> str:
    """Reasons of the verdict that stand further down."""
    return f"and {numbers.counted(count, 'more reason', 'more reasons')}, under Recording"


# The corrections.
NONE_FOUND = "No correction was found in what could be measured."
OWN_BAND = "(own)"
NOT_SAVED = "Decisions are not in the review file yet."
CAME_FIRST, LED_TO = "Came first, may have led to this:", "May have led to:"
UNMATCHED = "These were decided on corrections that this review does not hold any more. They are kept."
OTHER_BAND = "other band"

# What stands beside a take.
SLOW_IS_SILENT = "Slow motion is silent."
SECOND_TAKE = "Open another take of this phrase, beside or as a ghost, in step with this one."
NO_DIFFERENCE = f"{names.capital(comparison.NO_DIFFERENCE)}."
FOR_ANIMATING = "Standing feet stay still and bones keep their length: for animating, not for measuring."
LESSON = "A class plan from what you kept and what came first. What is set aside does not count."
NOTHING_COMPARABLE = "The record holds no value of it yet that can be compared."


def target(band: str, *, own: bool) -> str:
    """The band that a value is held against; own: the teacher set it."""
    return f"{band} {OWN_BAND}" if own else band


def when(count: str, phase: str) -> str:
    """When a correction is: its count or second, and its step."""
    return f"{count}, {names.step(phase)}"


def short_when(side: str, count: str) -> str:
    """Side and moment in a few letters, as Blender marks sides and musicians write bar and count: "R 3.5"."""
    letter = {"left": "L ", "right": "R "}.get(side, "")
    return letter + count.replace("bar ", "").replace(", count ", ".")


def reason(note: str) -> str:
    """Why a correction was set aside."""
    return f"Reason: {note}"


def judged(fault: str, peak_s: float, decision: str, said: str) -> str:
    """What was decided on a correction that is no more. said: note, words, or that its band was changed."""
    return f"{names.fault_title(fault)} at {numbers.seconds(peak_s)}: {decision} ({said})"


def link(choice: str, before: str, after: str) -> str:
    """What was decided on a link that is no more."""
    return f"Link {choice}: {names.fault_title(before)}, {names.fault_title(after)}"


def in_step(how: str) -> str:
    """How a second take was brought in step, and what its values mean."""
    return f"{how}. Values are the second take minus this one."


def only_in(take: str, start_s: float, end_s: float, why: str) -> str:
    """What one take alone has. take: "a" for the first."""
    return f"only in the {'first' if take == 'a' else 'second'} take, {numbers.span(start_s, end_s, 2)}: {why}"


def record_counts(dancer: str) -> str:
    """What a plan heeds beside the take."""
    return f"Goals and rungs of {dancer} in the record count."


def plan_for_all(takes: int) -> str:
    """The button that plans for all dancers whose takes are open."""
    return f"Plan for All {takes}"


def takes_of(dancer: str, takes: int) -> str:
    """A dancer who was looked up."""
    return f"{dancer}: {numbers.counted(takes, 'take', 'takes')}"


def over_time(title: str) -> str:
    """Over the series of a correction."""
    return f"Over time: {title}"
