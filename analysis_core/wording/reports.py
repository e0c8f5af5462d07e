"""What the add-on reports: what was done, what was refused, and what to do about it."""

from __future__ import annotations

from pathlib import Path

from . import comparison, names, numbers

# Refused.
NO_SUCH_LINK, LINK_IS_THERE = "There is no such link", "This link is there already"
OWN_NEEDS_WORDS = "A correction of your own needs words"
CORRECTION_NEEDS_WORDS = "Write what the dancer should do: a correction needs words"
LIMITS_EXCHANGED = "The lower limit is above the upper one: exchange them"
OTHER_DECISIONS = "The review file holds other decisions: choose under Take which to keep. Nothing was overwritten."

# Warned.
NOT_IN_PLAN = "Decisions that are not saved to the review yet do not count in this plan"
NOT_ON_PAGE = "Decisions that are not saved to the review yet do not count on this page"

# Done.
REPORT_COPIED = "The report is on the clipboard: paste it into a message"
NO_COURSE = "This number has no course of its own: the curve shows the movement that it comes from"
NO_DIFFERENCE = names.capital(comparison.NO_DIFFERENCE)
#: What brings two takes in step.
IN_STEP_BY = {
    "landmarks": "In step by the moments of their steps",
    "elastic": "In step by the shape of the movement",
    "music": "In step by the music",
}


def recording_gone(what: object) -> str:
    """A recording that is not where it was."""
    return f"{what} is not there. Choose its place under Recording."


def review_gone(folder: str) -> str:
    """A review that the record names, and that is not where it was."""
    return f"{folder} is not there any more. Find the review, and add it to the record again."


def no_correction(name: str) -> str:
    """A correction that a review does not hold."""
    return f"There is no correction {name} in this review"


def kept_in_blender_file(failure: object) -> str:
    """A decision that could not be written beside the take."""
    return f"{failure} The decision is kept in the Blender file."


def reviewed(take: str, verdict: str, corrections: int, lost: int = 0) -> str:
    """A take that was reviewed. lost: earlier decisions whose correction is not there any more."""
    words = f"{take}: {verdict}, {corrections} corrections"
    return f"{words}; {lost} earlier decisions belong to no correction any more: see Earlier Decisions" if lost else words


def saved_in(folder: Path) -> str:
    """Where the decisions were written."""
    return f"Decisions saved in {folder}"


def proposed(count: int, sure: int, none: int) -> str:
    """How many landmarks were proposed, and for how many labels none was."""
    return f"{count} proposed, {sure} of them surely; {none} without a proposal"


def check_table(table: str, outcome: str) -> str:
    """What to do with a table of proposed landmarks. outcome: what ``proposed`` says."""
    return f"{table}: {outcome}. Check it in the Text Editor, save it, then review again"


def film_in(path: Path) -> str:
    """Where the film is."""
    return f"The film is in {path}"


def plan_in(path: Path, kept: int) -> str:
    """Where the plan is, and how much of what the teacher wrote stays."""
    return f"The plan is in {path}{f', {kept} of your texts kept' if kept else ''}"


def handed_over(files: int, folder: Path) -> str:
    """What was written for the animator."""
    return f"{files} files are in {folder}. note.html says what is measured, filled or unusable"


def dances(armature: str, take: str, keys: int) -> str:
    """An armature that was given the motion of a take."""
    return f"{armature} dances {take}: {keys} keys from frame 0 on"


def in_record(take: str, outcome: str, dancer: str, takes: int) -> str:
    """A take that was added to the record."""
    return f"{take}: {outcome}; {dancer} has {numbers.counted(takes, 'take', 'takes')} in the record"


def consent_entered(dancer: str, until: object) -> str:
    """A consent that was entered."""
    return f"{dancer}: consent entered until {until}"


def looked_up(dancer: str, takes: int, values: int) -> str:
    """What the record holds of a dancer."""
    found = f"{numbers.counted(takes, 'take', 'takes')}, {numbers.counted(values, 'value', 'values')}"
    return f"{dancer}: {found} followed"


def working(job: str, stage: str) -> str:
    """What is under way, in the status bar."""
    return f"{job}: {stage} …   Esc: stop"


def stopped(job: str) -> str:
    """Something that was ended on the way."""
    return f"{job} was stopped"
