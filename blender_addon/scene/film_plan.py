"""The plan of a film: which moment of each take every picture shows, and how far the stage is turned. No bpy here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..analysis_core.findings.finding import Finding
from ..analysis_core.phrase.phase import Phase
from ..analysis_core.review import Review
from ..analysis_core.take import Floats

#: A hold takes this share of the film, and no longer than the time: a full turn that the eye can follow. Proposed defaults.
_HOLD_SHARE, _LONGEST_HOLD_S = 0.38, 6.0
#: A film longer than this has a second hold for every so many seconds more.
_SECONDS_PER_HOLD = 16.0
#: Two holds lie at least this far apart in the take.
_APART_S = 1.0
#: Of what is played before and after the holds, this share comes before.
_BEFORE = 0.6


@dataclass(frozen=True)
class Hold:
    """One stop of the film. finding: None where a take has nothing to stop for. first, last: pictures of the stop."""

    finding: Finding | None
    first: int
    last: int


@dataclass(frozen=True)
class FilmPlan:
    """What every picture shows.

    frames (K, takes): the sample of each take. turned_rad (K,): how far the stages are turned, one full turn in every hold.
    holds: the stops, in order.
    """

    frames: np.ndarray
    turned_rad: Floats
    holds: tuple[Hold, ...]


def _open(review: Review) -> list[Finding]:
    """Findings that the teacher has not set aside, first what is worst and has led to most."""
    open_ones = (f for f in review.findings if f.decision != "set aside")
    return sorted(open_ones, key=lambda f: (-f.severity - 0.25 * len(f.may_have_led_to), f.peak_s))


def _stops(review: Review, count: int, play_s: float) -> list[tuple[float, Finding | None]]:
    """Times at which the film holds, in order: the worst findings that fit into what is played."""
    chosen: list[Finding] = []
    for finding in _open(review):
        near = [abs(finding.peak_s - other.peak_s) for other in chosen]
        if len(chosen) < count and all(distance >= _APART_S for distance in near) and all(d <= 0.7 * play_s for d in near):
            chosen.append(finding)
    if chosen:
        return sorted(((f.peak_s, f) for f in chosen), key=lambda stop: stop[0])
    steps = [p for p in review.phrase.phases if p.kind in ("turn", "jump", "balance")] or list(review.phrase.phases)
    middle = 0.5 * (steps[0].start_s + steps[0].end_s) if steps else 0.5 * review.take.duration_s
    return [(middle, None)]


def same_step(phase: Phase | None, other: Review) -> Phase | None:
    """The step of another take that answers to a step of this one: the same kind and side, the same number among its kind."""
    if phase is None:
        return None
    kind, _, number = phase.id.rpartition("-")
    alike = [p for p in other.phrase.phases if p.id == phase.id and p.kind == phase.kind and p.side == phase.side]
    if alike:
        return alike[0]
    of_kind = [p for p in other.phrase.phases if p.kind == phase.kind and p.side == phase.side]
    place = int(number) - 1 if kind and number.isdecimal() else 0
    return of_kind[min(place, len(of_kind) - 1)] if of_kind else None


def _answering_time(time_s: float, review: Review, other: Review, finding: Finding | None) -> float:
    """The moment of another take that answers to a moment of this one: the same share of the same step."""
    phases = {phase.id: phase for phase in review.phrase.phases}
    phase = phases.get(finding.phase) if finding else None
    twin = same_step(phase, other)
    if phase is None or twin is None:
        return time_s * other.take.duration_s / max(review.take.duration_s, 1e-6) if finding is None else time_s
    share = (time_s - phase.start_s) / max(phase.end_s - phase.start_s, 1e-3)
    return twin.start_s + float(np.clip(share, -1.0, 2.0)) * (twin.end_s - twin.start_s)


def plan_film(reviews: list[Review], fps: int, seconds: float) -> FilmPlan:
    """Play, hold at the worst corrections and turn all round them, go on; ``seconds`` × ``fps`` pictures in all.

    The first take leads; the second one is held at the answering moment of its own phrase.
    """
    pictures = max(1, round(seconds * fps))
    count = max(1, int(seconds // _SECONDS_PER_HOLD))
    hold = max(1, min(round(_HOLD_SHARE * pictures / count), round(_LONGEST_HOLD_S * fps)))
    leader = reviews[0]
    play_s = (pictures - count * hold) / fps
    stops = _stops(leader, count, play_s)
    if stops[0][1] is None and len(reviews) > 1 and _open(reviews[1]):
        # Nothing to stop for in the first take: the second one leads to its worst moment.
        finding = _open(reviews[1])[0]
        stops = [(_answering_time(finding.peak_s, reviews[1], leader, finding), None)]
    played = pictures - len(stops) * hold
    times, holding = _course([time for time, _ in stops], played, hold, fps, leader.take.duration_s)
    turned = np.zeros(pictures)
    holds = []
    for index, (_, found) in enumerate(stops):
        inside = np.flatnonzero(holding == index)
        if inside.size:
            share = np.linspace(0.0, 1.0, inside.size)
            # Starts and ends gently; a whole turn stands where it began.
            turned[inside] = 2 * np.pi * share * share * (3.0 - 2.0 * share)
            holds.append(Hold(found, int(inside[0]), int(inside[-1])))
    frames = [_samples(times, leader)]
    for other in reviews[1:]:
        answers = [_answering_time(time, leader, other, found) for time, found in stops]
        shifts = np.array(answers) - np.array([time for time, _ in stops])
        frames.append(_samples(times + np.interp(times, [time for time, _ in stops], shifts), other))
    return FilmPlan(np.stack(frames, axis=1), turned, tuple(holds))


def _course(stops: list[float], played: int, hold: int, fps: int, duration_s: float) -> tuple[Floats, np.ndarray]:
    """Time of the take for every picture, and the number of the hold it belongs to (-1 while playing)."""
    between = stops[-1] - stops[0]
    span = played / fps
    # A take shorter than what is played is played slower.
    speed = min(1.0, duration_s / span) if span > 0 else 1.0
    start = stops[0] - _BEFORE * max(span * speed - between, 0.0)
    start = float(np.clip(start, 0.0, max(duration_s - span * speed, 0.0)))
    times: list[float] = []
    number: list[int] = []
    pending = list(enumerate(stops))
    for picture in range(played):
        now = start + picture * speed / fps
        while pending and now >= pending[0][1]:
            times += [pending[0][1]] * hold
            number += [pending[0][0]] * hold
            pending.pop(0)
        times.append(now)
        number.append(-1)
    for index, stop in pending:
        times += [stop] * hold
        number += [index] * hold
    return np.array(times), np.array(number)


def _samples(times: Floats, review: Review) -> np.ndarray:
    return np.clip(np.round(times * review.take.rate_hz), 0, review.take.frames - 1).astype(np.int64)
