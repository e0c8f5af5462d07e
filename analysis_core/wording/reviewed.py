"""A review on one screen: its head, a row for each kind of correction, and what does not fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from . import findings, names, numbers

if TYPE_CHECKING:
    from ..findings.corrections import Listed
    from ..review import Review


def head(review: Review) -> str:
    """File, verdict, length, rate and level."""
    take = review.take
    length = f"{numbers.seconds(take.duration_s)} at {numbers.hertz(take.rate_hz)}"
    return f"{take.file}: {review.quality.verdict}, {length}, level {review.profile}"


def counts(review: Review) -> str:
    """How much a review holds."""
    steps = numbers.counted(len(review.phrase.phases), "step", "steps")
    found = numbers.counted(len(review.findings), "finding", "findings")
    return f"{steps}, {found}, {len(review.unsure)} that cannot be told"


def place(number: int, depth: int) -> str:
    """What stands before a correction: its number, or that it may come from the one above."""
    return "      then " if depth else f"{number:2}. "


def correction(before: str, line: Listed, columns: int) -> str:
    """One kind of fault on one line: its worst number, when that is, how often. before: what ``place`` says."""
    worst, kind = line.findings[0], line.correction
    fault = names.on_side(names.fault_title(worst.fault), worst.side)
    often = findings.times_of(kind.times, kind.chances)
    when = f", at {numbers.seconds(worst.onset_s)}{f', {often}' if often else ''}"
    value, times = findings.value(worst), " times" if often else ""
    # How often counts more than the band and than the end of a long title: the file has those too.
    for tail in (f": {value} ({findings.target(worst)}){when}{times}", f": {value}{when}{times}", f": {value}{when}"):
        if len(before) + len(fault) + len(tail) <= columns:
            return before + fault + tail
    room = columns - len(before) - len(tail)
    return f"{before}{fault[: room - 2].rstrip()} …{tail}"


def more_corrections(count: int) -> str:
    """What does not fit the screen."""
    return f"    and {count} more in review.json"


def more_lines(count: int) -> str:
    """What does not fit the screen."""
    return f"{numbers.counted(count, 'more line', 'more lines')} of remarks in review.json"
