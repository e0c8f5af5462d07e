"""The report of what went wrong that a teacher sends: versions and places in the program, no names and no paths."""

from __future__ import annotations

from collections.abc import Sequence


def library(name: str, version: str) -> str:
    """A library that was installed."""
    return f"{name} {version}"


def of_blender(name: str) -> str:
    """A library that Blender brought."""
    return f"{name} of Blender's own"


def missing(name: str) -> str:
    """A library that is not there."""
    return f"{name} is not there"


def versions(program: str, blender: str, python: str, libraries: Sequence[str]) -> str:
    """What was running."""
    return f"In the Round {program}\nBlender {blender}, Python {python}, {', '.join(libraries)}"


def report(running: str, system: str, kind: str, places: Sequence[str]) -> str:
    """All of it. running: what ``versions`` says; system: its name and its machine; kind: of the error; places: in our code."""
    lines = [
        running,
        system,
        # Not its sentence: that may name a file, and a file a dancer. The place in the program leads to it.
        f"{kind} at",
        *(f"  {place}" for place in places),
    ]
    return "\n".join(lines)
