"""How every fault is measured, in words: for the page docs/findings.md, and for who asks in front of a finding."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..wording import findings as say
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
            (say.WHAT_IS_MEASURED, self.how),
            (say.WHEN, self.frames),
            (say.FROM, self.markers),
            (say.BAND, " ".join(self.bands)),
            (say.CANNOT_TELL, self.cannot),
            (say.CONFIDENCE, self.confidence),
            (say.SOURCE_OF_BAND, self.source),
        )


def _band(limits: Limits) -> str:
    """One number with its band and its ±, as a sentence."""
    sides = []
    if np.isfinite(limits.ok[0]) and limits.fault[0] < limits.ok[0]:
        sides.append(say.at_least(limits.ok[0], limits.fault[0], limits.unit))
    if np.isfinite(limits.ok[1]) and limits.fault[1] > limits.ok[1]:
        sides.append(say.at_most(limits.ok[1], limits.fault[1], limits.unit))
    band = say.sides_of_band(sides, limits.meant, limits.possible, limits.unit, from_standing=limits.from_standing)
    return say.band_of_reference(limits.says, band, PLUS_MINUS * limits.sd, limits.unit)


def explain(entry: Entry) -> Explained:
    """How one fault is measured and judged, by its entry in the catalogue or in a profile."""
    return Explained(
        fault=entry.fault,
        title=entry.title,
        how=entry.how,
        frames=entry.frames,
        markers=say.line(entry.markers),
        bands=tuple(_band(limits) for limits in entry.measures.values()),
        cannot=entry.cannot,
        confidence=say.confidence_of_reference(entry.confidence),
        source=say.line(entry.band_source),
    )
