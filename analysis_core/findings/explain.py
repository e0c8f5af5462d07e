"""How every fault is measured, in words: for the page docs/findings.md, and for who asks in front of a finding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .catalogue import Entry, Limits

#: Units as they are written behind a number.
_UNITS = {"deg": "°", "ratio": "", "mm": " mm", "s": " s", "body weights": " body weights", "touches": " times"}
#: 1.96 standard deviations: every ± is the 95 % interval.
_PLUS_MINUS = 1.96


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


def _number(value: float, unit: str) -> str:
    return f"{value:g}{_UNITS.get(unit, ' ' + unit)}"


def _side(limit: float, fault: float, unit: str, word: str) -> str:
    return f"{word} {_number(limit, unit)} (a fault {'below' if word == 'at least' else 'beyond'} {_number(fault, unit)})"


def _band(limits: Limits) -> str:
    """One number with its band and its ±, as a sentence."""
    low = np.isfinite(limits.ok[0]) and limits.fault[0] < limits.ok[0]
    high = np.isfinite(limits.ok[1]) and limits.fault[1] > limits.ok[1]
    sides = []
    if low:
        sides.append(_side(limits.ok[0], limits.fault[0], limits.unit, "at least"))
    if high:
        sides.append(_side(limits.ok[1], limits.fault[1], limits.unit, "at most"))
    error = f"± {_number(float(f'{_PLUS_MINUS * limits.sd:.2g}'), limits.unit)}"
    meant = f", beyond {_number(limits.meant, limits.unit)} taken as meant" if np.isfinite(limits.meant) else ""
    standing = ", counted from standing" if limits.from_standing else ""
    name = limits.says[0].upper() + limits.says[1:]
    return f"{name}: {' and '.join(sides)}{standing}{meant}; {error} where the take does not tell it."


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
        markers=entry.markers[0].upper() + entry.markers[1:] + ".",
        bands=tuple(_band(limits) for limits in entry.measures.values()),
        cannot=entry.cannot,
        confidence=_confidence(entry) + ".",
        source=entry.band_source[0].upper() + entry.band_source[1:] + ".",
    )
