"""How every fault is measured, in words: for the page docs/findings.md, and for who asks in front of a finding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..wording import findings as say
from ..wording import names, numbers
from .catalogue import Entry, Limits
from .finding import PLUS_MINUS


@dataclass(frozen=True)
class Explained:
    """One fault in words. bands: a sentence for each of its numbers; confidence: by kind of recording."""

    fault: str
    title: str
    how: str
    frames: str
    markers: str
    bands: tuple[str, ...]
    cannot: str
    confidence: str
    source: str

    def lines(self) -> tuple[tuple[str, str], ...]:
        """Heading and text, in the order in which a reader asks."""
        return (
            ("What is measured", self.how),
            ("When", self.frames),
            ("From", self.markers),
            ("Band", " ".join(self.bands)),
            ("Cannot tell", self.cannot),
            ("Confidence", self.confidence),
            ("Source of the band", self.source),
        )


def _side(limit: float, fault: float, unit: str, word: str) -> str:
    beyond = "below" if word == "at least" else "beyond"
    return f"{word} {numbers.number(limit, unit)} (a fault {beyond} {numbers.number(fault, unit)})"


def _band(limits: Limits) -> str:
    """One number with its band and its ±, as a sentence."""
    low = np.isfinite(limits.ok[0]) and limits.fault[0] < limits.ok[0]
    high = np.isfinite(limits.ok[1]) and limits.fault[1] > limits.ok[1]
    sides = []
    if low:
        sides.append(_side(limits.ok[0], limits.fault[0], limits.unit, "at least"))
    if high:
        sides.append(_side(limits.ok[1], limits.fault[1], limits.unit, "at most"))
    error = numbers.plus_minus(PLUS_MINUS * limits.sd, limits.unit)
    meant = f", beyond {numbers.number(limits.meant, limits.unit)} taken as meant" if np.isfinite(limits.meant) else ""
    standing = ", counted from standing" if limits.from_standing else ""
    name = names.capital(limits.says)
    return say.band_of_reference(name, f"{' and '.join(sides)}{standing}{meant}", error)


def _confidence(entry: Entry) -> str:
    words = {"none": "cannot show it"}
    return "; ".join(
        f"{'markers' if kind == 'markers' else 'a solved skeleton'}: {words.get(grade, grade)}"
        for kind, grade in entry.confidence.items()
    )


def explain(entry: Entry) -> Explained:
    """How one fault is measured and judged, by its entry in the catalogue or in a profile."""
    return Explained(
        fault=entry.fault,
        title=entry.title,
        how=entry.how,
        frames=entry.frames,
        markers=names.capital(entry.markers) + ".",
        bands=tuple(_band(limits) for limits in entry.measures.values()),
        cannot=entry.cannot,
        confidence=_confidence(entry) + ".",
        source=names.capital(entry.band_source) + ".",
    )
