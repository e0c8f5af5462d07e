"""Whether a take is good, usable, or should be captured again, in an operator's words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, CleaningEvent, Source, Take
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
#: Noise of the middle marker, 1 SD, metres, beyond which a take is no longer good, or is none: published errors
#: of optical capture are 0.06 to 2 mm (catalogue 3.5), of all open recordings here at most 1.4. Proposed defaults.
GOOD_NOISE_M, USABLE_NOISE_M = 0.003, 0.015
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
    noise_m = _usual_noise(cleaned, used)
    if noise_m > GOOD_NOISE_M:
        shaking = say.shaking(noise_m, GOOD_NOISE_M)
        reasons.append(_Reason(take.duration_s, "retake" if noise_m > USABLE_NOISE_M else "usable", shaking))
    worst = max((_ORDER.index(reason.verdict) for reason in reasons), default=0)
    reasons.sort(key=lambda reason: (-_ORDER.index(reason.verdict), -reason.weight))
    sentences = tuple(reason.sentence for reason in reasons[:MOST_REASONS])
    return Quality(_ORDER[worst], sentences, share, _markers(cleaned, missing, landmark_of), cleaned.events)


def _usual_noise(cleaned: CleanedTake, used: list[int]) -> float:
    """Noise of the middle one of the markers, metres; 0 when none was measured, of which other sentences tell."""
    measured = np.where(cleaned.source[:, used] == Source.MEASURED, cleaned.error_m[:, used], np.nan)
    measured = measured[:, np.isfinite(measured).any(axis=0)]
    return float(np.median(np.nanmedian(measured, axis=0))) if measured.size else 0.0


def _open_gaps(cleaned: CleanedTake, used: list[int], landmark_of: Mapping[int, str]) -> list[_Reason]:
    """What nothing could fill, one sentence for each gap."""
    reasons = []
    said = _left_out(cleaned)
    for gap in find_gaps(present(cleaned.positions_m)):
        length_s = gap.length / cleaned.take.rate_hz
        if gap.marker in used and length_s > GOOD_OPEN_S and not said[gap.start : gap.end, gap.marker].all():
            verdict: Verdict = "retake" if length_s > USABLE_OPEN_S else "usable"
            sentence = _open_gap_sentence(cleaned, gap.marker, gap.start, gap.end, landmark_of)
            reasons.append(_Reason(length_s * _how_much_it_matters(landmark_of.get(gap.marker)), verdict, sentence))
    return reasons


def _left_out(cleaned: CleanedTake) -> NDArray[np.bool_]:
    """Samples (F, N) that were left out for what other sentences tell: a marker out of place, labels in doubt."""
    take = cleaned.take
    result = np.zeros(take.positions_m.shape[:2], dtype=np.bool_)
    for event in cleaned.events:
        if event.kind in ("elsewhere", "swap") and not event.repaired:
            span = slice(round(event.start_s * take.rate_hz), round(event.end_s * take.rate_hz) + 1)
            result[span, [take.labels.index(label) for label in (event.label, event.other) if label is not None]] = True
    return result


def _mishaps(cleaned: CleanedTake, used: list[int], landmark_of: Mapping[int, str]) -> list[_Reason]:
    """Exchanged labels, markers stuck back elsewhere, and stray samples when they are many."""
    take = cleaned.take

    def named(label: str) -> tuple[str, str | None]:
        landmark = landmark_of.get(take.labels.index(label))
        return marker_in_words(label, landmark), landmark

    reasons, strays = _whole_take(cleaned, landmark_of), 0
    for event in cleaned.events:
        if take.labels.index(event.label) not in used or _is_throughout(event, take):
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


def mix_ups(cleaned: CleanedTake, *, landmark_of: Mapping[int, str]) -> tuple[str, ...]:
    """What was exchanged, out of place or late in the whole of a take, in sentences: what has to be said of a static take too."""
    return tuple(reason.sentence for reason in _whole_take(cleaned, landmark_of))


def _whole_take(cleaned: CleanedTake, landmark_of: Mapping[int, str]) -> list[_Reason]:
    """Labels exchanged, markers off the body part of their label, and markers late, from the first frame to the last."""
    take = cleaned.take
    named = {label: marker_in_words(label, landmark_of.get(index)) for index, label in enumerate(take.labels)}
    throughout = [event for event in cleaned.events if _is_throughout(event, take)]
    sides = [event for event in throughout if _is_of_sides(event, take, landmark_of)]
    pairs = [(named[event.label], named[event.other]) for event in throughout if event not in sides and event.other is not None]
    reasons = [_Reason(take.duration_s, "usable", say.exchanged_throughout(*pair)) for pair in pairs]
    out = [event.label for event in cleaned.events if event.kind == "elsewhere"]
    serves = {label: what_it_serves(landmark_of.get(take.labels.index(label))) for label in out}
    reasons += [_Reason(take.duration_s, "retake", say.elsewhere(named[label], serves[label])) for label in out]
    return [*_sides(cleaned, sides, landmark_of), *reasons, *_late(cleaned, landmark_of)]


def _late(cleaned: CleanedTake, landmark_of: Mapping[int, str]) -> list[_Reason]:
    """What came later or earlier than the rest of the body, one sentence for each lag."""
    named = {label: marker_in_words(label, landmark_of.get(index)) for index, label in enumerate(cleaned.take.labels)}
    together: dict[float, list[str]] = {}
    for event in cleaned.events:
        if event.lag_s is not None:
            together.setdefault(event.lag_s, []).append(named[event.label])
    return [_Reason(cleaned.take.duration_s, "usable", say.late(names, lag_s)) for lag_s, names in together.items()]


def _is_throughout(event: CleaningEvent, take: Take) -> bool:
    return event.kind == "swap" and event.start_s == 0.0 and round(event.end_s * take.rate_hz) >= take.frames - 1


def _is_of_sides(event: CleaningEvent, take: Take, landmark_of: Mapping[int, str]) -> bool:
    """Whether the same place on the left and on the right was exchanged."""
    first, second = (landmark_of.get(take.labels.index(label or ""), label or "") for label in (event.label, event.other))
    return first.partition(".")[0] == second.partition(".")[0]


def _sides(cleaned: CleanedTake, throughout: list[CleaningEvent], landmark_of: Mapping[int, str]) -> list[_Reason]:
    """What was exchanged from the first frame to the last, in one sentence: it weighs as much as a marker missing throughout."""
    if not throughout:
        return []
    named = {landmark: cleaned.take.labels[marker] for marker, landmark in landmark_of.items()}
    paired = {label for landmark, label in named.items() if landmark[:-1] + "R" in named and landmark.endswith(".L")}
    exchanged = {event.label for event in throughout}
    if paired <= exchanged:
        return [_Reason(cleaned.take.duration_s, "usable", say.all_sides_exchanged())]
    names = [marker_in_words(label, landmark) for landmark, label in named.items() if label in exchanged]
    return [_Reason(cleaned.take.duration_s, "usable", say.sides_exchanged(names))]


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
