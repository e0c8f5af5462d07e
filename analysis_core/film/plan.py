"""The plan of a film: which moment of each take every picture shows, how far the stages are turned, what is told and heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..compare.comparison import Comparison
from ..findings.finding import Finding
from ..review import Review
from ..take import Floats
from .modes import speed_of
from .shown import Shown, answering

#: Proposed defaults, as all here. All round one hold takes this share of its passage, and between so many seconds: a turn that
#: the eye can follow.
_HOLD_SHARE, _SHORTEST_HOLD_S, _LONGEST_HOLD_S = 0.42, 2.4, 6.0
#: What a hold with its way in and out needs at least, seconds; where nothing was kept there is one hold for so many seconds.
_PASSAGE_S, _SECONDS_PER_HOLD = 3.6, 8.0
#: Of what is played round a hold, this share comes before it; so long, seconds, it slows down and gathers speed again.
_BEFORE, _RAMP_S = 0.6, 0.9
#: A way that is longer than what is left to play by at most this factor is played so much faster instead of being cut.
_FASTER = 1.2
#: While it plays the stage turns once in so many seconds, in whole turns.
_TURN_S = 8.0
#: Words are seen for at least so many seconds; corrections nearer than this to another one are not told beside it.
_TOLD_S = 2.2
#: On both sides of a moment that two takes show together, they come back into step within so many seconds.
_NEAR_S = 0.8
#: Music shorter than this is a click, seconds.
_LEAST_SOUND_S = 0.5


@dataclass(frozen=True)
class Stop:
    """Something that is told. finding: None where a take has nothing to correct. first, last: pictures in which it is told.
    held: whether the film stands still meanwhile."""

    finding: Finding | None
    first: int
    last: int
    held: bool


@dataclass(frozen=True)
class Sound:
    """A stretch in the dancer's own time: pictures [first, last] show the take from time_s on at speed 1."""

    first: int
    last: int
    time_s: float


@dataclass(frozen=True)
class FilmPlan:
    """What every picture shows.

    frames (K, takes): the sample of each take. shown (K, takes): False where a take dances nothing that answers.
    time_s (K,): of the first take. turned_rad (K,): how far the stages are turned. stops: what is told, in order.
    sounds: where music may be heard. left_out: corrections that found no room.
    """

    frames: NDArray[np.int64]
    turned_rad: Floats
    stops: tuple[Stop, ...]
    shown: NDArray[np.bool_] = field(default_factory=lambda: np.ones((0, 0), dtype=bool))
    time_s: Floats = field(default_factory=lambda: np.zeros(0))
    sounds: tuple[Sound, ...] = ()
    left_out: tuple[Finding, ...] = ()


def _smooth(share: Floats) -> Floats:
    """From 0 to 1, gently at both ends."""
    return np.asarray(share * share * (3.0 - 2.0 * share))


def _way(pictures: int, slow: float, fps: float) -> Floats:
    """Seconds of the take (pictures,) that lie between each picture of a way in and the hold it leads to: the last is nearest."""
    if pictures == 0:
        return np.zeros(0)
    left_s = np.arange(pictures, 0, -1) / fps
    # Slow at the hold, the dancer's own speed from the ramp's end on.
    speed = slow + (1.0 - slow) * _smooth(np.clip(left_s / min(_RAMP_S, pictures / fps), 0.0, 1.0))
    return np.asarray(np.cumsum(speed[::-1])[::-1] / fps)


@dataclass(frozen=True)
class _Passage:
    """Pictures of one hold: so many on the way in, standing, and on the way out."""

    before: int
    held: int
    after: int


def _passages(moments: list[float], pictures: int, slow: float, fps: float, duration_s: float) -> list[_Passage]:
    """Share the pictures of a film among its holds; what the take does not have before its first or after its last is held."""
    count = len(moments)
    each = [pictures // count + (index < pictures % count) for index in range(count)]
    result = []
    for index, (moment, whole) in enumerate(zip(moments, each, strict=True)):
        held = round(np.clip(_HOLD_SHARE * whole / fps, min(_SHORTEST_HOLD_S, 0.8 * whole / fps), _LONGEST_HOLD_S) * fps)
        held = min(max(held, 1), whole)
        before = round(_BEFORE * (whole - held))
        after = whole - held - before
        fits_before = int((_way(before, slow, fps) <= moment).sum()) if index == 0 else before
        fits_after = int((_way(after, slow, fps) <= duration_s - moment).sum()) if index == count - 1 else after
        # What there is no room for on one side is played on the other, as far as that has room.
        more = before - fits_before
        if more and index == count - 1:
            fits_after = int((_way(after + more, slow, fps) <= duration_s - moment).sum())
        more = after - fits_after
        if more > 0 and index == 0:
            fits_before = int((_way(before + more, slow, fps) <= moment).sum())
        result.append(_Passage(fits_before, whole - fits_before - fits_after, fits_after))
    return result


def _holding(moments: list[float], pictures: int, slow: float, fps: float, duration_s: float) -> tuple[Floats, Floats, list[int]]:
    """Times of the take for each picture, how far the stage is turned, and [first, last, first, last, …] of the holds."""
    passages = _passages(moments, pictures, slow, fps, duration_s)
    ways_in = [_way(p.before, slow, fps) for p in passages]
    ways_out = [_way(p.after, slow, fps)[::-1] for p in passages]
    for index in range(len(moments) - 1):
        between = moments[index + 1] - moments[index]
        played = float(ways_out[index][-1:].sum() + ways_in[index + 1][:1].sum())
        # Twice the same would be seen where two ways overlap: both are played slower; a small gap is played a little faster.
        if played > 0 and between < _FASTER * played:
            ways_out[index] = ways_out[index] * between / played
            ways_in[index + 1] = ways_in[index + 1] * between / played
    times: list[Floats] = []
    turned: list[Floats] = []
    edges: list[int] = []
    for moment, passage, way_in, way_out in zip(moments, passages, ways_in, ways_out, strict=True):
        begin = sum(len(part) for part in times) + passage.before
        edges += [begin, begin + passage.held - 1]
        times.append(np.concatenate([moment - way_in, np.full(passage.held, moment), moment + way_out]))
        round_ = 2 * np.pi * _smooth(np.linspace(0.0, 1.0, passage.held))
        turned.append(np.concatenate([np.zeros(passage.before), round_, np.zeros(passage.after)]))
    return np.concatenate(times), np.concatenate(turned), edges


def _playing(moment: float, pictures: int, speed: float, fps: float, duration_s: float) -> Floats:
    """Times of the take for each picture: it plays, and where the film is longer than the take, the last pose stays."""
    length = pictures / fps * speed
    start = float(np.clip(moment - _BEFORE * length, 0.0, max(duration_s - length, 0.0)))
    return np.minimum(start + np.arange(pictures) / fps * speed, duration_s)


def _told(chosen: Sequence[Finding], moments: Mapping[str, Shown], time_s: Floats, fps: float) -> list[Stop]:
    """What is told while it plays: each in its own time, worst first; none beside another."""
    stops: list[Stop] = []
    long = round(_TOLD_S * fps)
    for finding in chosen:
        at = moments[finding.id].time_s
        near = np.flatnonzero((time_s >= min(finding.start_s, at)) & (time_s <= max(finding.end_s, at)))
        if not near.size or not time_s[0] <= at <= time_s[-1]:
            continue
        first, last = int(near[0]), int(near[-1])
        first = max(min(first, last - long // 4), 0)
        last = min(max(last, first + long), len(time_s) - 1)
        if all(last < other.first or first > other.last for other in stops):
            stops.append(Stop(finding, first, last, False))
    return sorted(stops, key=lambda stop: stop.first)


def _sounds(time_s: Floats, fps: float) -> tuple[Sound, ...]:
    """Stretches of pictures in which the take runs in its own time."""
    own = np.isclose(np.diff(time_s), 1.0 / fps, atol=1e-6 + 1e-4 / fps)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], own, [False]]).astype(np.int8)))
    spans = [(int(first), int(last)) for first, last in zip(edges[::2], edges[1::2], strict=True)]
    return tuple(Sound(first, last, float(time_s[first])) for first, last in spans if (last - first) / fps >= _LEAST_SOUND_S)


def _without_correction(reviews: Sequence[Review]) -> float:
    """Where a film goes in a take with nothing to correct: the middle of a step."""
    phases = reviews[0].phrase.phases
    steps = [p for p in phases if p.kind in ("turn", "jump", "balance")] or list(phases)
    return 0.5 * (steps[0].start_s + steps[0].end_s) if steps else 0.5 * reviews[0].take.duration_s


def how_many(kept: bool, wanted: int, seconds: float) -> int:
    """How many corrections a film of so many seconds holds at."""
    room = int(seconds / (_PASSAGE_S if kept else _SECONDS_PER_HOLD) + 1e-9)
    return max(1, min(wanted, room))


def seconds_for(kept: int) -> float:
    """So long is a film that holds at so many kept corrections, at least."""
    return _PASSAGE_S * kept


def plan_film(
    reviews: Sequence[Review],
    fps: float,
    seconds: float,
    *,
    wanted: Sequence[Finding],
    moments: Mapping[str, Shown],
    mode: str = "hold",
    slow: float | None = None,
    comparison: Comparison | None = None,
    answers: Mapping[str, Shown] | None = None,
) -> FilmPlan:
    """``seconds`` × ``fps`` pictures in all. The first take leads; a second one is in step with it by their comparison.

    wanted: what it may stop for, most wanted first (``to_stop_at``); moments: what the first take shows of each, and answers:
    what the second one shows, by their ids. slow: share of the dancer's own speed, near holds or, while it plays, throughout.
    Raises OptionError.
    """
    speed = speed_of(slow, mode)
    pictures = max(1, round(seconds * fps))
    duration_s = reviews[0].take.duration_s
    kept = any(finding.decision == "kept" for finding in wanted)
    if mode == "hold":
        chosen = sorted(wanted[: how_many(kept, len(wanted), seconds)], key=lambda f: moments[f.id].time_s)
        at = [moments[finding.id].time_s for finding in chosen] or [_without_correction(reviews)]
        time_s, turned, edges = _holding(at, pictures, speed, fps, duration_s)
        told_at: list[Finding | None] = [*chosen] if chosen else [None]
        stops = [Stop(f, first, last, True) for f, first, last in zip(told_at, edges[::2], edges[1::2], strict=True)]
    else:
        moment = moments[wanted[0].id].time_s if wanted else _without_correction(reviews)
        time_s = _playing(moment, pictures, speed, fps, duration_s)
        stops = _told(wanted, moments, time_s, fps)
        turns = max(1, round(seconds / _TURN_S)) if mode == "play" else 0
        turned = np.arange(pictures) / pictures * turns * 2 * np.pi
    told = {stop.finding.id for stop in stops if stop.finding is not None}
    time_s = np.clip(time_s, 0.0, duration_s)
    times = [time_s]
    if comparison is not None and len(reviews) > 1:
        meet = [(moments[key].time_s, answers[key].time_s) for key in told] if answers else []
        times.append(answering(time_s, meet, comparison, _NEAR_S))
    samples = [
        np.clip(np.round(np.nan_to_num(t) * r.take.rate_hz), 0, r.take.frames - 1) for t, r in zip(times, reviews, strict=True)
    ]
    return FilmPlan(
        np.stack(samples, axis=1).astype(np.int64),
        turned,
        tuple(stops),
        np.stack([np.isfinite(t) for t in times], axis=1),
        time_s,
        _sounds(time_s, fps),
        tuple(f for f in wanted if kept and f.id not in told),
    )
