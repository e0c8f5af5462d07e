"""Measures of timing and of held balances."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from ..body.movement import SIDES, SUFFIXES
from ..phrase.counts import AND_SHARE, Counts
from ..phrase.phase import Balance, Phase, Plie, Releve, Turn
from ..take import Floats
from ..wording.findings import on_the_and
from .evidence import Evidence
from .limits import HOLDS, STEPS
from .measure_turns import place_mm
from .observation import NotTold, Observation
from .reading import Reading, Window, extreme, placed
from .series import series_of

Told = Iterator[Observation | NotTold | None]

#: Instants that a step is danced to, in words; of a jump one of those below (catalogue, off-the-count).
BEATEN: dict[str, str] = {
    "plie": "pliés", "turn": "ends of turns", "leg-gesture": "peaks of the leg", "step": "steps"
}  # fmt: skip
JUMPED = ("take-offs", "highest points", "landings", "bottoms of jumps")


def _instants(evidence: Evidence) -> Iterator[tuple[str, list[tuple[Phase, float]]]]:
    """Groups of steps that are danced to one kind of instant, in words, with the time of it (s) for every step.

    Of a series of jumps one instant for the whole of it; no pliés of theirs, and none that belong to another step.
    """
    groups: dict[str, list[tuple[Phase, float]]] = {}
    for phase in evidence.phrase.phases:
        if phase.kind not in BEATEN:
            continue
        if isinstance(phase, Plie) and (phase.use not in ("plié", "preparation", None) or not evidence.stands(phase)):
            continue
        if isinstance(phase, Turn) and phase.close_s is None:
            continue
        groups.setdefault(BEATEN[phase.kind], []).append((phase, phase.on_the_count_s))
    yield from groups.items()
    yield from _series(evidence)


def _series(evidence: Evidence) -> Iterator[tuple[str, list[tuple[Phase, float]]]]:
    """Series of jumps, each by the one of take-off, highest point, contact and bottom that fits the counts best (catalogue)."""
    counts = evidence.counts
    assert counts is not None
    lowest = {landing.jump: landing.lowest_s for landing in evidence.landings}
    for jumps in series_of(evidence.jumps):
        choices: dict[str, list[tuple[Phase, float]]] = {}
        instants = [(jump.take_off_s, jump.apex_s, jump.landing_s, lowest.get(jump.id)) for jump in jumps]
        for name, times in zip(JUMPED, zip(*instants, strict=True), strict=True):
            choices[name] = [(jump, time) for jump, time in zip(jumps, times, strict=True) if time is not None]
        told = {name: timed for name, timed in choices.items() if len(timed) >= HOLDS.least_events}
        if told:
            name = min(told, key=lambda key: abs(_lateness(counts, told[key])[0]))
            yield name, told[name]


def _lateness(counts: Counts, timed: list[tuple[Phase, float]]) -> tuple[float, float]:
    """Mean of the times (s) after the nearest count, and its share of agreement, on the circle of one beat (catalogue, M28).

    Instants around the half beat lie on both sides of it: their mean is there, and not on the count.
    """
    turns = np.array([counts.beat(time) for _, time in timed])
    mean = np.exp(2j * np.pi * turns).mean()
    return float(np.angle(mean)) / (2 * np.pi) * 60 / counts.tempo_bpm, float(abs(mean))


def off_the_count(evidence: Evidence) -> Told:
    """Mean and spread of the steps' instants against the nearest count, for every kind of instant that comes often enough.

    Steps that come on the half beat may be danced on the "and": that is said, never left out in silence.
    """
    if evidence.counts is None:
        return
    beat_s = 60 / evidence.counts.tempo_bpm
    for name, timed in _instants(evidence):
        if len(timed) < HOLDS.least_events:
            continue
        late_s, agreement = _lateness(evidence.counts, timed)
        if agreement > HOLDS.together:
            # They all come at the same place in the beat: a spread around it, across the half beat too.
            errors = [(phase, late_s + evidence.counts.beat_error_s(time - late_s)) for phase, time in timed]
            if 0.5 * beat_s - abs(late_s) < HOLDS.on_the_and_s:
                yield NotTold("off-the-count", timed[0][0], on_the_and(len(timed), name, late_s))
            else:
                yield from _timing(errors, name)
            continue
        errors = [(phase, evidence.counts.beat_error_s(time)) for phase, time in timed]
        near = [(phase, error) for phase, error in errors if abs(error) < AND_SHARE * beat_s]
        beside = [(phase, error) for phase, error in errors if abs(error) >= AND_SHARE * beat_s]
        if len(near) >= HOLDS.least_events:
            yield from _timing(near, name)
        if len(beside) >= 2:
            yield NotTold("off-the-count", beside[0][0], on_the_and(len(beside), name, float(np.mean([e for _, e in beside]))))


def _timing(timed: list[tuple[Phase, float]], name: str) -> Told:
    """Mean and spread of the errors of steps of one kind; different kinds have different instants and are not mixed."""
    errors = np.array([error for _, error in timed])
    mean, spread = float(errors.mean()), float(errors.std(ddof=1))
    worst = timed[int(np.argmax(np.abs(errors)))][0]
    told = [("late", mean, spread / np.sqrt(len(errors)), f"{name} late on the count (negative: early)")]
    # Only the same step again has to come the same way.
    if len({phase.same_as for phase, _ in timed}) == 1:
        told.append(("spread", spread, spread / np.sqrt(2 * len(errors)), f"{name} unsteady from count to count"))
    for measure, value, extra, says in told:
        yield Observation(
            "off-the-count",
            measure,
            worst,
            None,
            value,
            timed[0][0].start,
            worst.start,
            timed[-1][0].end,
            (),
            extra_sd=float(extra),
            says=says,
        )


def sway_area_cm2(path: Floats) -> float:
    """Area of the 95 % ellipse of a path (F, 2) in metres, cm²: 18.8 √(λ1 λ2) (catalogue, sway). NaN for fewer than 3 samples."""
    known = path[np.isfinite(path).all(axis=1)]
    if len(known) < 3:
        return float("nan")
    eigenvalues = np.linalg.eigvalsh(np.cov(known.T))
    return float(18.8 * np.sqrt(max(eigenvalues[0], 0.0) * max(eigenvalues[1], 0.0)) * 1e4)


def balance_sways(evidence: Evidence) -> Told:
    """Sway of the centre of mass against the own usual sway in the take's balances on one foot."""
    areas = []
    for balance in evidence.phrase.of(Balance):
        start = balance.start + evidence.samples(HOLDS.settling_s)
        if balance.support not in SIDES or balance.end - start < evidence.samples(HOLDS.sway_s - HOLDS.settling_s):
            continue
        areas.append((balance, start, sway_area_cm2(evidence.movement.centre_of_mass_m[start : balance.end + 1, :2])))
    known = [area for _, _, area in areas if np.isfinite(area)]
    if len(known) < HOLDS.least_balances:
        for balance, _, _ in areas[:1]:
            yield NotTold("balance-sways", balance, f"it needs {HOLDS.least_balances} balances of this dancer to compare with")
        return
    usual = float(np.median(known))
    for balance, start, area in areas:
        # Below a square centimetre marker noise is what sways.
        yield Observation(
            "balance-sways",
            "area",
            balance,
            balance.side,
            area / max(usual, 1.0),
            start,
            (start + balance.end) // 2,
            balance.end,
            ("pelvis",),
        )


def _change_within(curve: Floats, samples: int) -> Floats:
    """Size of the change of a curve (F, ...) over so many frames around every frame; NaN at the ends."""
    half = max(1, samples // 2)
    change = np.full(curve.shape[0], np.nan)
    if curve.shape[0] > 2 * half:
        difference = curve[2 * half :] - curve[: -2 * half]
        change[half:-half] = np.abs(difference) if curve.ndim == 1 else np.linalg.norm(difference, axis=1)
    return change


def _standing(evidence: Evidence, balance: Phase, side: str, margin: int) -> tuple[int, int]:
    """Frames of a hold, a little longer where the foot stays up on the same relevé or flat."""
    heel = evidence.heel_mm(side)
    level = evidence.before(heel, balance.start, balance.end)
    start, end = balance.start, balance.end
    while start > max(0, balance.start - margin) and abs(heel[start - 1] - level) < HOLDS.same_level_mm:
        start -= 1
    while end < min(evidence.frames - 1, balance.end + margin) and abs(heel[end + 1] - level) < HOLDS.same_level_mm:
        end += 1
    return start, end


def _holds(evidence: Evidence) -> Iterator[tuple[Phase, str, tuple[int, int]]]:
    """Balances, and relevés on one foot outside turns, with the standing foot and the frames in which it stands."""
    margin = evidence.samples(HOLDS.shift_within_s)
    for balance in evidence.phrase.of(Balance):
        for side in evidence.supports(balance):
            # The hop itself ends the stillness by which the hold was found.
            yield balance, side, _standing(evidence, balance, side, margin)
    turns = evidence.phrase.of(Turn)
    for releve in evidence.phrase.of(Releve):
        side = str(releve.support)
        if side not in SIDES or any(turn.start <= releve.end and releve.start <= turn.end for turn in turns):
            continue
        heel = evidence.heel_mm(side)[releve.start : releve.end + 1]
        up = np.flatnonzero(np.nan_to_num(heel) > 0.9 * np.nanmax(np.append(heel, 0.0)))
        if up.size and (up[-1] - up[0]) >= evidence.samples(HOLDS.least_hold_s):
            yield releve, side, (releve.start + int(up[0]), releve.start + int(up[-1]))


def _over_the_shift(evidence: Evidence, told: Observation | NotTold | None) -> Observation | NotTold | None:
    """A change around the decisive frame, which is one from the time before it."""
    if not isinstance(told, Observation):
        return told
    return replace(told, against=max(told.peak - evidence.samples(HOLDS.shift_within_s), 0))


def balance_hops(evidence: Evidence) -> Told:
    """Moves of the standing foot in a hold: sliding or turning within a fifth of a second."""
    for phase, side, window in _holds(evidence):
        joints = ("toe" + SUFFIXES[side], "heel" + SUFFIXES[side])
        around = slice(window[0], window[1] + 1)
        if np.isnan(evidence.movement.angle("pelvis_yaw")[around]).mean() > 0.5:
            # On one raised foot a turn and a foot that slips under a still body look alike from the foot alone.
            yield NotTold("balance-hops", phase, "whether the body turns could not be seen")
            continue
        moves = 1000 * _change_within(evidence.ball(side)[around, :2], evidence.samples(HOLDS.shift_within_s))
        told = extreme(
            evidence,
            Reading(
                "balance-hops",
                "shift",
                1,
                joints=joints,
                side=side,
                extra_sd=STEPS.noisy_mm,
                made_of=partial(place_mm, side=side, point="ball"),
            ),
            phase,
            Window(placed(moves, window[0], evidence.frames), window, moves=False),
        )
        yield _over_the_shift(evidence, told)
        turns = _change_within(evidence.foot_heading_deg(side)[around], evidence.samples(HOLDS.shift_within_s))
        # On a high relevé heel and ball lie above each other and their line has no direction on the floor.
        line = evidence.movement.foot_line(side)[around]
        flat = np.linalg.norm(line[:, :2], axis=1) > 0.5 * np.linalg.norm(line, axis=1)
        turned = np.where(flat, turns, np.nan)
        told = extreme(
            evidence,
            Reading(
                "balance-hops",
                "turn",
                1,
                joints=joints,
                side=side,
                # A change between two directions, each of a line between two points, all with their noise.
                extra_sd=2.0 * STEPS.noisy_deg,
                made_of=partial(Evidence.foot_heading_deg, side=side),
            ),
            phase,
            Window(placed(turned, window[0], evidence.frames), window, moves=False),
        )
        if isinstance(told, Observation):
            yield _over_the_shift(evidence, told)


def balance_heel_sinks(evidence: Evidence) -> Told:
    """How far the heel sinks over a hold on relevé, by the line through its heights."""
    for balance in evidence.phrase.of(Balance):
        for side in evidence.supports(balance):
            heel = evidence.heel_mm(side)[balance.start : balance.end + 1]
            known = np.isfinite(heel)
            if known.mean() < 0.5:
                yield NotTold("balance-heel-sinks", balance, f"the {side} heel could not be seen for long enough")
                continue
            if np.median(heel[known]) < STEPS.risen_mm:
                continue
            time = np.arange(heel.size)[known] / evidence.rate_hz
            slope = float(np.polyfit(time, heel[known], 1)[0])
            sunk = -slope * (balance.end - balance.start) / evidence.rate_hz
            curve = evidence.before(heel, 0, evidence.samples(0.1)) - heel
            yield Observation(
                "balance-heel-sinks",
                "sink",
                balance,
                side,
                sunk,
                balance.start,
                balance.end,
                balance.end,
                ("heel" + SUFFIXES[side],),
                curve,
                made_of=partial(Evidence.heel_mm, side=side),
                against=balance.start,
            )
