"""Which things a student works on: at most three, the teacher's own first, then the worst root."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..body.movement import Movement
from ..findings.corrections import SAY_FIRST, Correction, corrections
from ..findings.finding import Finding
from ..findings.views import front_of
from ..review import Review
from ..review.decisions import OwnCorrection

#: The fault that a correction of the teacher's own stands under: none of the catalogue.
OWN = ""
#: The name of the picture of a dancer who has nothing to correct.
OPENING = "dancer"
#: How strongly the body parts of a teacher's own correction are coloured: as a middling fault. Proposed default.
_OWN_SEVERITY = 0.5


@dataclass(frozen=True)
class Thing:
    """One thing to work on. finding: where it shows most; of a teacher's own correction its time, side, parts and view, under the
    fault OWN. times of chances: in how many of the steps that could show it."""

    finding: Finding
    times: int = 1
    chances: int = 1

    @property
    def own(self) -> bool:
        """Whether the teacher added it."""
        return self.finding.fault == OWN


def _as_finding(own: OwnCorrection) -> Finding:
    """A teacher's own correction in the form that views and levels take; it has no number."""
    return Finding(
        id=own.id,
        fault=OWN,
        phase="",
        side=own.side,
        start_s=own.start_s,
        onset_s=own.start_s,
        peak_s=own.peak_s,
        end_s=own.end_s,
        value=float("nan"),
        unit="",
        band=(None, None),
        plus_minus=float("nan"),
        severity=_OWN_SEVERITY,
        grade="fault",
        confidence="high",
        band_source="",
        parts=own.parts,
        view=own.view,
        cue=own.words,
        decision=own.decision,
        note=own.note,
    )


def opening_of(movement: Movement) -> Finding:
    """The dancer from the front where she reaches furthest up and out: what a page with nothing to correct begins with. No part
    of the body is marked."""
    centres = movement.joint_centres_m
    known = np.isfinite(centres).all(axis=2)
    told = known.sum(axis=1)
    low, high = (np.where(known[:, :, None], centres, beyond) for beyond in (np.inf, -np.inf))
    reach = np.linalg.norm(high.max(axis=1) - low.min(axis=1), axis=1)
    # Only where as many joints are known as anywhere: a hand that is lost makes nobody smaller.
    frame = int(np.where((told == told.max()) & (told > 0), reach, -1.0).argmax())
    time_s = float(movement.time_s[frame])
    still = OwnCorrection(OPENING, "", None, time_s, time_s, time_s, (), front_of(movement, frame))
    return replace(_as_finding(still), severity=0.0)


def _comes_after(correction: Correction, by_id: dict[str, Finding]) -> bool:
    """Whether most of its findings came after another one that stands."""
    after = [any(name in by_id for name in by_id[item].came_after) for item in correction.findings]
    return 2 * sum(after) > len(after)


def _shown(correction: Correction, by_id: dict[str, Finding]) -> Finding:
    """The finding that stands for a correction: one that the teacher kept, else the worst."""
    group = [by_id[name] for name in correction.findings]
    return next((finding for finding in group if finding.decision == "kept"), group[0])


def things_of(review: Review, most: int = SAY_FIRST) -> tuple[Thing, ...]:
    """What to work on, the first one first: the teacher's own corrections, what the teacher kept, then what may have led
    to the most; what only came after something else stands behind. What is set aside, or of low confidence and not kept, is left
    out.
    """
    counted = tuple(f for f in review.findings if f.decision == "kept" or (f.decision == "open" and f.confidence != "low"))
    by_id = {finding.id: finding for finding in counted}
    ordered = sorted(
        corrections(counted, review.phrase),
        key=lambda item: (_shown(item, by_id).decision != "kept", _comes_after(item, by_id)),
    )
    own = [Thing(_as_finding(item)) for item in review.decisions.own if item.decision != "set aside"]
    told = [Thing(_shown(item, by_id), item.times, item.chances) for item in ordered]
    return tuple([*own, *told][:most])
