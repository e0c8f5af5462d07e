"""Work in a process of its own: what it is called, and how it failed."""

from __future__ import annotations

from . import machine


def review(take: str) -> str:
    """The review of a take or an armature."""
    return f"The review of {take}"


def proposal(take: str) -> str:
    """Landmarks being proposed for a take."""
    return f"The proposal for {take}"


def film(file: str) -> str:
    """A film being rendered."""
    return f"The film {file}"


def page(file: str) -> str:
    """A student's page being made."""
    return f"The page {file}"


def hand_over(folder: str) -> str:
    """Files being written for the animator."""
    return f"The hand-over to {folder}"


def not_written(job: str, why: object) -> str:
    """The disk refused."""
    return f"{job} could not be written: {why}. See whether there is room on the disk."


def defect(job: str, kind: str, says: object) -> str:
    """The program itself is wrong."""
    return f"{job} failed ({kind}: {says}). This is a defect of the program: report it."


def failed(job: str) -> str:
    """It failed, and nothing is known of why."""
    return f"{job} failed."


def no_result(job: str, last_word: str) -> str:
    """The process ended before its work was done."""
    return f"{job} ended without a result ({last_word})."


def no_word(code: int) -> str:
    """What is told in place of a last word where there was none."""
    return machine.ended_by(code)
