"""One tree of exceptions. Every message says what is wrong with which file and what to do about it."""

from __future__ import annotations

import traceback
from pathlib import Path


class InTheRoundError(Exception):
    """Base of every error that a teacher or an operator may see; its text is shown as it is."""


class TakeError(InTheRoundError):
    """A take that cannot be read, or that holds nothing that can be reviewed."""


class LandmarkError(InTheRoundError):
    """Labels of a take that do not name enough of a body."""


class ReviewError(InTheRoundError):
    """A review folder that is missing, damaged or written by a newer version."""


class RecordError(InTheRoundError):
    """A record of dancers that cannot be opened, or something it must not do."""


class OptionError(InTheRoundError):
    """An option whose value makes no sense."""


class OutputError(InTheRoundError):
    """A file or folder that cannot be written, or that is there already."""


def places_of(error: BaseException) -> tuple[str, ...]:
    """Where in the program an error arose, the innermost last: file, line and function. Nothing of the machine it runs on.

    Lines of other libraries are left out: their paths could name a user.
    """
    here = Path(__file__).resolve().parent.parent
    frames = traceback.extract_tb(error.__traceback__)
    inside = [(Path(frame.filename).resolve(), frame.lineno, frame.name) for frame in frames]
    return tuple(
        f"{path.relative_to(here).as_posix()}:{line} in {name}" for path, line, name in inside if path.is_relative_to(here)
    )


def reason(error: Exception) -> str:
    """What a library's exception says, in words for a sentence of ours: without the number and the name that Python adds to those
    of the system ("No such file or directory")."""
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
