"""A folder that is watched for new takes: what was seen last, and what keeps it from being seen."""

from __future__ import annotations

from pathlib import Path

NOTHING_YET = "No new take yet."
CHOOSE_FOLDER = "Choose a folder to watch first"


def begun(folder: Path) -> str:
    """That takes open from now on."""
    return f"New takes in {folder} open by themselves"


def going_on(folder: Path) -> str:
    """The same in the panel."""
    return f"{begun(folder)}."


def no_answer_yet(folder: Path) -> str:
    """A drive that lets one wait at the first look."""
    return f"{folder} does not answer yet. New takes in it open when it does"


def cannot_be_watched(folder: Path, trouble: str) -> str:
    """A folder that cannot be looked at. trouble: what ``no_answer`` or ``out_of_reach`` say; its first sentence is told."""
    return f"{folder} cannot be watched. {trouble.partition('. ')[0]}"


def no_answer(since: str) -> str:
    """A drive that answers no more. since: the time of day, empty where it never did."""
    return f"The folder has not answered{f' since {since}' if since else ''}. New takes open when it does."


def out_of_reach(why: str) -> str:
    """A folder that is away, in the system's words."""
    return f"The folder cannot be reached ({why}). It is looked for again and again."


def opened(take: str) -> str:
    """The take that opened last."""
    return f"Last: {take}."


def not_opened(why: object) -> str:
    """A take that did not open."""
    return f"The last take could not be opened ({why})."
