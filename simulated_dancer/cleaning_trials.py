"""Trials of the cleaning: a take is spoiled on purpose, cleaned, and held against what was there before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..analysis_core.body.anatomy import SIDE_SUFFIXES
from ..analysis_core.clean import clean_take
from ..analysis_core.take import CleanedTake, CleaningEvent, Source, Take
from .dirt import Dirt, spoil
from .simulate import Simulation

#: No mishap begins this close to the ends of the take, seconds.
_MARGIN_S = 1.0


@dataclass(frozen=True)
class Filled:
    """One gap that was knocked out: how it was filled, its true error (root mean square) and the error that was stated."""

    label: str
    source: Source
    error_m: float
    stated_m: float


@dataclass(frozen=True)
class Found:
    """One mishap: whether it was found within a tolerance, and how far its samples then are from the unspoiled ones (median)."""

    mishap: CleaningEvent
    found: bool
    put_right: bool
    left_m: float


@dataclass(frozen=True)
class MishapOutcome:
    """One spoiled take: what became of each mishap, and the events that were invented."""

    mishaps: tuple[Found, ...]
    invented: tuple[CleaningEvent, ...]


def cleaned_of(danced: Simulation, take: Take | None = None) -> CleanedTake:
    """The simulated take (or a spoiled one of the same dancer), cleaned."""
    return clean_take(take or danced.take, landmark_of=danced.landmark_of, segment_of=danced.segment_of)


def gap_trial(danced: Simulation, length_s: float, seed: int) -> list[Filled]:
    """Every marker loses one stretch of so many seconds, at times that differ; only one marker of a body part at a time."""
    random = np.random.default_rng(seed)
    take = danced.take
    slots = max(1, int((take.duration_s - 2 * _MARGIN_S) / (1.5 * length_s + 0.2)))
    width = (take.duration_s - 2 * _MARGIN_S) / slots
    result = []
    waiting = [int(marker) for marker in random.permutation(len(take.labels))]
    while waiting:
        dirt, busy, later = [], dict.fromkeys(range(slots), frozenset[str]()), []
        for marker in waiting:
            part = danced.segment_of[marker]
            free = [slot for slot, parts in busy.items() if part not in parts]
            if not free:
                later.append(marker)
                continue
            slot = int(random.choice(free))
            busy[slot] = busy[slot] | {part}
            start = _MARGIN_S + slot * width + float(random.uniform(0, width - length_s))
            dirt.append(Dirt("gap", take.labels[marker], start, start + length_s))
        waiting = later
        result += _filled(danced, dirt)
    return result


def _filled(danced: Simulation, dirt: Sequence[Dirt]) -> list[Filled]:
    take = danced.take
    spoiled, truth = spoil(take, dirt)
    cleaned = cleaned_of(danced, spoiled)
    result = []
    for event in truth:
        marker = take.labels.index(event.label)
        part = slice(round(event.start_s * take.rate_hz), round(event.end_s * take.rate_hz) + 1)
        apart = cleaned.positions_m[part, marker] - take.positions_m[part, marker]
        error = float(np.sqrt((apart**2).sum(axis=1).mean()))
        stated = float(np.sqrt((cleaned.error_m[part, marker] ** 2).mean()))
        result.append(Filled(event.label, Source(int(cleaned.source[part, marker][0])), error, stated))
    return result


def mishap_trial(danced: Simulation, dirt: Sequence[Dirt], tolerance_s: float, seed: int = 0) -> MishapOutcome:
    """Spoil, clean, compare. Gaps among the dirt only hide the rest; a mishap that they hide altogether is left out."""
    take = danced.take
    spoiled, truth = spoil(take, dirt, seed)
    cleaned = cleaned_of(danced, spoiled)
    events = [event for event in cleaned.events if event.kind != "gap"]
    outcomes = []
    explained: set[int] = set()
    for true in truth:
        marker = take.labels.index(true.label)
        end_s = true.end_s if true.kind == "swap" else take.duration_s
        part = slice(round(true.start_s * take.rate_hz) + 1, max(round(end_s * take.rate_hz) - 1, 0))
        was_off = np.linalg.norm(spoiled.positions_m[part, marker] - take.positions_m[part, marker], axis=1)
        if true.kind == "gap" or (true.kind == "swap" and not np.nan_to_num(was_off).any()):
            continue
        same = [i for i, event in enumerate(events) if _same(event, true, tolerance_s)]
        explained.update(same)
        left = np.linalg.norm(cleaned.positions_m[part, marker] - take.positions_m[part, marker], axis=1)
        left_m = float(np.median(left[np.isfinite(left)])) if np.isfinite(left).any() else np.nan
        outcomes.append(Found(true, bool(same), any(events[i].repaired for i in same), left_m))
    return MishapOutcome(tuple(outcomes), tuple(event for i, event in enumerate(events) if i not in explained))


def _same(event: CleaningEvent, true: CleaningEvent, tolerance_s: float) -> bool:
    if event.kind != true.kind or {event.label, event.other} != {true.label, true.other}:
        return False
    if event.kind == "swap":
        return event.start_s < true.end_s and event.end_s > true.start_s
    return abs(event.start_s - true.start_s) <= tolerance_s


def random_swaps(danced: Simulation, seed: int) -> list[Dirt]:
    """Exchanged labels one after the other: of left and right, within a body part, of neighbours; some behind gaps."""
    random = np.random.default_rng(seed)
    take = danced.take
    dirt: list[Dirt] = []
    now_s = _MARGIN_S
    while True:
        marker = int(random.integers(len(take.labels)))
        length_s = float(random.uniform(0.2, 1.5))
        if now_s + length_s > take.duration_s - _MARGIN_S:
            return dirt
        other = _partner(danced, marker, now_s, random)
        pair = (take.labels[marker], take.labels[other])
        dirt.append(Dirt("swap", pair[0], now_s, now_s + length_s, pair[1]))
        if random.random() < 0.4:
            for edge_s in (now_s, now_s + length_s):
                half_s = 0.5 * float(random.uniform(0.03, 0.3))
                dirt += [Dirt("gap", label, edge_s - half_s, edge_s + half_s) for label in pair]
        now_s += length_s + float(random.uniform(0.6, 2.0))


def _partner(danced: Simulation, marker: int, time_s: float, random: np.random.Generator) -> int:
    """Whom a marker is confused with."""
    take, label = danced.take, danced.take.labels[marker]
    kind = int(random.integers(3))
    if kind == 0 and label.endswith(SIDE_SUFFIXES):
        return take.labels.index(label[:-1] + ("R" if label.endswith(".L") else "L"))
    own = [other for other, part in danced.segment_of.items() if part == danced.segment_of[marker] and other != marker]
    if kind == 1 and own:
        return int(random.choice(own))
    frame = take.positions_m[round(time_s * take.rate_hz)]
    return int(np.argsort(np.linalg.norm(frame - frame[marker], axis=1))[int(random.integers(1, 6))])
