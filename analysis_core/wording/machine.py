"""What hinders the work and lies in no take: memory, the disk, Blender, libraries of the system, a defect of ours.

The scripts say it too, before anything is installed: standard library only.
"""

from __future__ import annotations

from collections.abc import Sequence

STOPPED = "Stopped. Nothing was left half-written."
NO_MEMORY = "There is not enough memory for this take. Trim it, or close other programs."
NO_BLENDER = "Blender's module is not installed in this Python. Run scripts/demo.py once, or: pip install -e '.[blender]'"
TRY_AGAIN = "Try again, or run with --debug to see its last words."
SAID_NOTHING = "it said nothing"


def wrong_option(message: str, program: str) -> str:
    """An option that is not as it should be, in the words of the parser."""
    return f"{message[:1].upper()}{message[1:]}. See {program} --help"


def failure(kind: str, says: str) -> str:
    """What an unforeseen error says of itself."""
    return f"{kind}: {says}" if says else kind


def defect(what: str) -> str:
    """The program itself is wrong."""
    return f"The program failed ({what}). This is a defect of the program: run again with --debug and report it."


def ended_by(code: int) -> str:
    """How a process ended: by a signal (negative), or with a code."""
    return f"signal {-code}" if code < 0 else f"code {code}"


def blender_ended(code: int, advice: str) -> str:
    """Blender's process ended before its work was done."""
    return f"Blender ended before the work was done ({ended_by(code)}). {advice}"


def blender_refused(last_word: str) -> str:
    """Blender's process gave up; its last line says why."""
    return f"Blender could not do the work: {last_word}"


def blender_could_not(said: str) -> str:
    """Blender or the disk refused, in words of theirs."""
    return f"Blender could not do the work ({said}). See whether there is room on the disk and where temporary files go."


def needs_libraries(packages: Sequence[str]) -> str:
    """Debian packages without which Blender's module cannot be used."""
    return f"Blender's module needs libraries that this system lacks. Install them with: apt-get install {' '.join(packages)}"


def faster_with(packages: Sequence[str]) -> str:
    """Debian packages that would make renders faster."""
    return f"Rendering with Cycles, which is slow without a graphics card. Faster after: apt-get install {' '.join(packages)}"
