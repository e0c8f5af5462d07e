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
    phases, found, unsure = len(review.phrase.phases), len(review.findings), len(review.unsure)
    return f"{phases} phases, {found} findings, {unsure} that cannot be told"


def place(number: int, depth: int) -> str:
    """What stands before a correction: its number, or that it may come from the one above."""
    return "      then " if depth else f"{number:2}. "


def correction(before: str, line: Listed, columns: int) -> str:
    """One kind of fault on one line: its worst number, when that is, how often. before: what ``place`` says."""
    worst, kind = line.findings[0], line.correction
    fault = names.on_side(names.fault_title(worst.fault), worst.side)
    when = f", {numbers.seconds(worst.onset_s)}, {kind.times} of {kind.chances}"
    # How often counts more than the band and than the end of a long title: the file has those too.
    full = f"{before}{fault}: {findings.value(worst)} ({findings.target(worst)}){when}"
    if len(full) <= columns:
        return full
    tail = f": {findings.value(worst)}{when}"
    room = columns - len(before) - len(tail)
    return before + (fault if len(fault) <= room else fault[: room - 2].rstrip() + " …") + tail


def more_corrections(count: int) -> str:
    """What does not fit the screen."""
    return f"    and {count} more: see review.json"


def more_lines(count: int) -> str:
    """What does not fit the screen."""
    return f"{count} more lines: see review.json"
