"""Whether a take is good, usable, or should be captured again, in an operator's words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, Source
from ..wording import capture as say
from ..wording.markers import marker_in_words, what_it_serves
from .gaps import find_gaps, present
from .quality import MarkerQuality, Quality, Verdict

#: Missing samples as recorded, share of all, beyond which a take is no longer good, or should be retaken. Proposed defaults,
#: no published norm.
GOOD_MISSING, USABLE_MISSING = 0.02, 0.15
#: Samples that nothing could fill: longest open gap of a marker in seconds. Beyond 2 s nothing is filled (catalogue 3.3).
GOOD_OPEN_S, USABLE_OPEN_S = 0.1, 2.0
#: Stray samples a minute that are worth a word. Proposed default, no published norm.
MANY_STRAYS_PER_MINUTE = 30
MOST_REASONS = 5
_ORDER: tuple[Verdict, ...] = ("good", "usable", "retake")

#: Weight among the reasons of a verdict of what serves less than the legs and the pelvis, which most faults are read off.
#: Proposed defaults.
_WEIGHTS = {"arm findings": 0.4, "head and spotting findings": 0.7, "upper-body findings": 0.8}


@dataclass(frozen=True)
class _Reason:
    """A sentence, how much it matters (seconds of a marker, weighted by what it serves), and the verdict it leads to."""

    weight: float
    verdict: Verdict
    sentence: str


def judge_capture(cleaned: CleanedTake, *, landmark_of: Mapping[int, str], misplaced: tuple[str, ...] = ()) -> Quality:
    """The verdict on one take. landmark_of: by marker index; other markers count only when nothing is named at all. misplaced:
    what sits elsewhere than its name says, in sentences (``held_against_body``)."""
    take = cleaned.take
    missing = ~present(take.positions_m)
    used = sorted(landmark_of) if landmark_of else list(range(len(take.labels)))
    share = float(missing[:, used].mean()) if used and take.frames else 1.0
    reasons = [*_open_gaps(cleaned, used, landmark_of), *_mishaps(cleaned, used, landmark_of)]
    # From the first frame to the last, hence the weight of a marker that is missing throughout.
    reasons += [_Reason(take.duration_s, "usable", sentence) for sentence in misplaced]
    if share > GOOD_MISSING:
        reasons.append(_Reason(0.0, "retake" if share > USABLE_MISSING else "usable", say.many_missing(share)))
    worst = max((_ORDER.index(reason.verdict) for reason in reasons), default=0)
    reasons.sort(key=lambda reason: (-_ORDER.index(reason.verdict), -reason.weight))
    sentences = tuple(reason.sentence for reason in reasons[:MOST_REASONS])
    return Quality(_ORDER[worst], sentences, share, _markers(cleaned, missing, landmark_of), cleaned.events)


def _open_gaps(cleaned: CleanedTake, used: list[int], landmark_of: Mapping[int, str]) -> list[_Reason]:
    """What nothing could fill, one sentence for each gap."""
    reasons = []
    for gap in find_gaps(present(cleaned.positions_m)):
        length_s = gap.length / cleaned.take.rate_hz
        if gap.marker in used and length_s > GOOD_OPEN_S:
            verdict: Verdict = "retake" if length_s > USABLE_OPEN_S else "usable"
            sentence = _open_gap_sentence(cleaned, gap.marker, gap.start, gap.end, landmark_of)
            reasons.append(_Reason(length_s * _how_much_it_matters(landmark_of.get(gap.marker)), verdict, sentence))
    return reasons


def _mishaps(cleaned: CleanedTake, used: list[int], landmark_of: Mapping[int, str]) -> list[_Reason]:
    """Exchanged labels, markers stuck back elsewhere, and stray samples when they are many."""
    take = cleaned.take

    def named(label: str) -> tuple[str, str | None]:
        landmark = landmark_of.get(take.labels.index(label))
        return marker_in_words(label, landmark), landmark

    reasons, strays = [], 0
    for event in cleaned.events:
        if take.labels.index(event.label) not in used:
            continue
        name, landmark = named(event.label)
        matters = _how_much_it_matters(landmark)
        if event.kind == "spike":
            strays += 1
        elif event.kind == "moved":
            rest_s = take.duration_s - event.end_s
            reasons.append(_Reason(matters * rest_s, "usable", say.moved(name, event.end_s, put_back=event.repaired)))
        elif event.kind == "swap" and event.other is not None:
            sentence = say.exchanged(name, named(event.other)[0], event.start_s, event.end_s, put_right=event.repaired)
            if event.repaired:
                reasons.append(_Reason(0.0, "good", sentence))
            else:
                reasons.append(_Reason(matters * (event.end_s - event.start_s), "usable", sentence))
    if strays > MANY_STRAYS_PER_MINUTE * max(take.duration_s / 60, 1 / 6):
        reasons.append(_Reason(0.0, "usable", say.strays(strays)))
    return reasons


def _how_much_it_matters(landmark: str | None) -> float:
    return _WEIGHTS.get(what_it_serves(landmark), 1.0)


def _open_gap_sentence(cleaned: CleanedTake, marker: int, start: int, end: int, landmark_of: Mapping[int, str]) -> str:
    """One marker that is missing for a while and could not be filled."""
    rate_hz = cleaned.take.rate_hz
    name = marker_in_words(cleaned.take.labels[marker], landmark_of.get(marker))
    serves = what_it_serves(landmark_of.get(marker))
    if start == 0 and end == cleaned.take.frames:
        return say.missing_throughout(name, serves)
    if end == cleaned.take.frames:
        return say.missing_from(name, start / rate_hz, serves)
    return say.hidden(name, start / rate_hz, end / rate_hz, serves)


def _markers(cleaned: CleanedTake, missing: NDArray[np.bool_], landmark_of: Mapping[int, str]) -> tuple[MarkerQuality, ...]:
    rate_hz = cleaned.take.rate_hz
    longest = dict.fromkeys(range(len(cleaned.take.labels)), 0)
    for gap in find_gaps(~missing):
        longest[gap.marker] = max(longest[gap.marker], gap.end - gap.start)
    share = {kind: (cleaned.source == kind).mean(axis=0) for kind in (Source.OWN_PATH, Source.BODY_PART, Source.WHOLE_BODY)}
    return tuple(
        MarkerQuality(
            label=label,
            landmark=landmark_of.get(marker),
            missing_fraction=float(missing[:, marker].mean()),
            longest_gap_s=longest[marker] / rate_hz,
            filled_own_path=float(share[Source.OWN_PATH][marker]),
            filled_body_part=float(share[Source.BODY_PART][marker]),
            filled_whole_body=float(share[Source.WHOLE_BODY][marker]),
        )
        for marker, label in enumerate(cleaned.take.labels)
    )
