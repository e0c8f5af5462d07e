"""Places in the music: bars and counts, as musicians say them."""

from __future__ import annotations

BEFORE = "before the music"


def place(bar: int, count: int, *, after: bool = False) -> str:
    """A bar and a count: "bar 3, count 2"; after: half-way to the next, "bar 3, after count 2"."""
    return f"bar {bar}, {'after ' if after else ''}count {count}"


def beside_film(bar: int, count: int) -> str:
    """The same in a corner of a film, where it changes and nothing else does."""
    return f"bar {bar}   count {count}"
