"""Measures of timing and of held balances."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..body.movement import SIDES
from ..phrase.counts import AND_SHARE, Counts
from ..phrase.phase import Balance, Phase, Plie, Releve, Turn
from ..runs import runs
from ..take import Floats
from ..wording import findings as say
from ..wording.names import part_on
from .evidence import OTHER, Evidence
from .limits import HOLDS, READING, STEPS, TURNS
from .observation import NotTold, Observation
from .parts_of_measures import Standing, place_mm
from .reading import FURTHEST, HIGHEST, Measure, Reading, Told, Window, extreme, over, placed
from .series import series_of

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
    for name, timed in _instants(evidence) if evidence.counts is not None else ():
        if len(timed) >= HOLDS.least_events:
            assert evidence.counts is not None
            late_s, agreement = _lateness(evidence.counts, timed)
            yield from (
                _together(evidence.counts, timed, name, late_s)
                if agreement > HOLDS.together
                else _apart(evidence.counts, timed, name)
            )


def _together(counts: Counts, timed: list[tuple[Phase, float]], name: str, late_s: float) -> Told:
    """Instants that all come at the same place in the beat: a spread around it, across the half beat too."""
    if 0.5 * 60 / counts.tempo_bpm - abs(late_s) < HOLDS.on_the_and_s:
        yield NotTold(_LATE.fault, timed[0][0], say.on_the_and(len(timed), name, late_s))
    else:
        yield from _timing([(phase, late_s + counts.beat_error_s(time - late_s)) for phase, time in timed], name)


def _apart(counts: Counts, timed: list[tuple[Phase, float]], name: str) -> Told:
    """Instants at different places in the beat: those near the counts are told, and that there are others beside them."""
    edge_s = AND_SHARE * 60 / counts.tempo_bpm
    errors = [(phase, counts.beat_error_s(time)) for phase, time in timed]
    near = [(phase, error) for phase, error in errors if abs(error) < edge_s]
    beside = [(phase, error) for phase, error in errors if abs(error) >= edge_s]
    if len(near) >= HOLDS.least_events:
        yield from _timing(near, name)
    if len(beside) >= 2:
        yield NotTold(_LATE.fault, beside[0][0], say.on_the_and(len(beside), name, float(np.mean([e for _, e in beside]))))


_LATE = Measure("off-the-count", "late", FURTHEST, (), sided=False)
_SPREAD = replace(_LATE, name="spread")


def _timing(timed: list[tuple[Phase, float]], name: str) -> Told:
    """Mean and spread of the errors of steps of one kind; different kinds have different instants and are not mixed."""
    errors = np.array([error for _, error in timed])
    mean, spread = float(errors.mean()), float(errors.std(ddof=1))
    worst = timed[int(np.argmax(np.abs(errors)))][0]
    frames = (timed[0][0].start, worst.start, timed[-1][0].end)
    yield _LATE.on().told(worst, mean, frames, extra_sd=float(spread / np.sqrt(len(errors))), says=say.late_on_the_count(name))
    # Only the same step again has to come the same way.
    if len({phase.same_as for phase, _ in timed}) == 1:
        doubt = float(spread / np.sqrt(2 * len(errors)))
        yield _SPREAD.on().told(worst, spread, frames, extra_sd=doubt, says=say.unsteady_on_the_count(name))


def sway_area_cm2(path: Floats) -> float:
    """Area of the 95 % ellipse of a path (F, 2) in metres, cm²: 18.8 √(λ1 λ2) (catalogue, sway). NaN for fewer than 3 samples."""
    known = path[np.isfinite(path).all(axis=1)]
    if len(known) < 3:
        return float("nan")
    eigenvalues = np.linalg.eigvalsh(np.cov(known.T))
    return float(18.8 * np.sqrt(max(eigenvalues[0], 0.0) * max(eigenvalues[1], 0.0)) * 1e4)


_AREA = Measure("balance-sways", "area", HIGHEST, ("pelvis",), sided=False)


def balance_sways(evidence: Evidence) -> Told:
    """Sway of the centre of mass against the own usual sway in the take's balances on one foot."""
    areas = [
        (held, sway_area_cm2(evidence.movement.centre_of_mass_m[held.frames[0] : held.frames[1] + 1, :2]))
        for held in _swaying(evidence)
    ]
    known = [area for _, area in areas if np.isfinite(area)]
    if len(known) < HOLDS.least_balances:
        for balance in [held.phase for held, _ in areas[:1]]:
            yield NotTold(_AREA.fault, balance, say.needs_balances(int(HOLDS.least_balances)))
        return
    # Below a square centimetre marker noise is what sways.
    usual = max(float(np.median(known)), HOLDS.least_sway_cm2)
    for held, area in areas:
        start, end = held.frames
        yield _AREA.on(held.side).told(held.phase, area / usual, (start, (start + end) // 2, end))


def _swaying(evidence: Evidence) -> Iterator[Standing]:
    """Balances on one foot that are held for long enough, with the frames from where they have settled.

    A leg that goes somewhere carries its mass there, and whether the body makes up for it depends on what the leg is taken to
    weigh: only where it stays is what moves a sway.
    """
    for balance in evidence.phrase.of(Balance):
        if balance.support in SIDES:
            side = str(balance.support)
            lifted = evidence.steady_part(evidence.degrees("leg_elevation", OTHER[side]), balance.start, balance.end)
            moves = np.abs(np.gradient(lifted)) * evidence.rate_hz if lifted.size > 1 else np.zeros(lifted.size)
            first, stop = max(runs(~(moves > HOLDS.leg_moves_deg_s)), key=lambda run: run[1] - run[0], default=(0, 0))
            start, end = balance.start + first + evidence.samples(HOLDS.settling_s), balance.start + stop - 1
            if end - start >= evidence.samples(HOLDS.sway_s - HOLDS.settling_s):
                yield Standing(balance, side, (start, end))


def _change_within(curve: Floats, samples: int) -> Floats:
    """Size of the change of a curve (F, K) over so many frames around every frame; NaN at the ends."""
    half = max(1, samples // 2)
    change = np.full(curve.shape[0], np.nan)
    if curve.shape[0] > 2 * half:
        difference = curve[2 * half :] - curve[: -2 * half]
        change[half:-half] = np.linalg.norm(difference, axis=1)
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


def _holds(evidence: Evidence) -> Iterator[Standing]:
    """Balances, and relevés on one foot outside turns, with the standing foot and the frames in which it stands."""
    margin = evidence.samples(HOLDS.shift_within_s)
    for balance in evidence.phrase.of(Balance):
        # The hop itself ends the stillness by which the hold was found.
        yield from (Standing(balance, side, _standing(evidence, balance, side, margin)) for side in evidence.supports(balance))
    turns = evidence.phrase.of(Turn)
    for releve in evidence.phrase.of(Releve):
        if (
            releve.support in SIDES
            and evidence.stands_up(releve)
            and not any(turn.start <= releve.end and releve.start <= turn.end for turn in turns)
        ):
            heel = evidence.heel_mm(str(releve.support))[releve.start : releve.end + 1]
            up = np.flatnonzero(np.nan_to_num(heel) > STEPS.fully_up * np.nanmax(np.append(heel, 0.0)))
            if up.size and (up[-1] - up[0]) >= evidence.samples(HOLDS.least_hold_s):
                yield Standing(releve, str(releve.support), (releve.start + int(up[0]), releve.start + int(up[-1])))


def _over_the_shift(evidence: Evidence, told: Observation | NotTold | None) -> Observation | NotTold | None:
    """A change around the decisive frame, which is one from the time before it."""
    if not isinstance(told, Observation):
        return told
    return replace(told, against=max(told.peak - evidence.samples(HOLDS.shift_within_s), 0))


_SHIFT = Measure("balance-hops", "shift", HIGHEST, ("toe", "heel"), place_mm, extra_sd=STEPS.noisy_mm, path=True)
# A change between two directions, each of a line between two points, all with their noise.
_TURN = replace(
    _SHIFT, name="turn", curve=Evidence.foot_heading_deg, extra_sd=STEPS.noise_of_a_turn * STEPS.noisy_deg, path=False
)


@over(_holds)
def balance_hops(evidence: Evidence, hold: Standing) -> Told:
    """Moves of the standing foot in a hold: sliding or turning within a fifth of a second."""
    side, around = hold.side, slice(hold.frames[0], hold.frames[1] + 1)
    if np.isnan(evidence.movement.angle("pelvis_yaw")[around]).mean() > 1 - READING.least_known:
        # On one raised foot a turn and a foot that slips under a still body look alike from the foot alone.
        yield NotTold(_SHIFT.fault, hold.phase, say.TURNING_UNSEEN)
        return
    yield _greatest_change(evidence, _SHIFT.on(side, point="ball"), hold, 1000 * evidence.ball(side)[around, :2])
    # On a high relevé heel and ball lie above each other and their line has no direction on the floor.
    line = evidence.movement.foot_line(side)[around]
    flat = np.linalg.norm(line[:, :2], axis=1) > HOLDS.flat_share * np.linalg.norm(line, axis=1)
    told = _greatest_change(evidence, _TURN.on(side), hold, evidence.foot_heading_deg(side)[around, None], flat)
    yield told if isinstance(told, Observation) else None


def _greatest_change(
    evidence: Evidence, reading: Reading, hold: Standing, part: Floats, asked: NDArray[np.bool_] | None = None
) -> Observation | NotTold | None:
    """The greatest change within a short time of a curve (n, K) of the frames of a hold, counted from the time before it."""
    change = _change_within(part, evidence.samples(HOLDS.shift_within_s))
    change = placed(change if asked is None else np.where(asked, change, np.nan), hold.frames[0], evidence.frames)
    return _over_the_shift(evidence, extreme(evidence, reading, hold.phase, Window(change, hold.frames, moves=False)))


_SINKS = Measure("balance-heel-sinks", "sink", HIGHEST, ("heel",), Evidence.heel_mm)


def _balanced(evidence: Evidence) -> Iterator[Standing]:
    """Standing legs of balances."""
    for balance in evidence.phrase.of(Balance):
        yield from (Standing(balance, side, (balance.start, balance.end)) for side in evidence.supports(balance))


@over(_balanced)
def balance_heel_sinks(evidence: Evidence, hold: Standing) -> Told:
    """How far the heel sinks over a hold on relevé, by the line through its heights."""
    (start, end), reading = _before_it_comes_down(evidence, hold), _SINKS.on(hold.side, against=hold.frames[0])
    heel = evidence.heel_mm(hold.side)[start : end + 1]
    known = np.isfinite(heel)
    if known.mean() < READING.least_known:
        yield reading.unseen(hold.phase, part_on("heel", hold.side))
        return
    if np.median(heel[known]) < STEPS.risen_mm:
        return
    sunk = _sunk_mm(heel)
    # When a hold begins and ends is known to about this: a heel that still comes up, or already goes down, counts in the line.
    later = evidence.samples(HOLDS.begun_s)
    shorter = [_sunk_mm(part) for part in (heel[later:], heel[:-later]) if part.size > later]
    doubt = max((abs(other - sunk) for other in shorter if np.isfinite(other)), default=0.0)
    curve = evidence.before(heel, 0, later) - heel
    yield reading.told(hold.phase, sunk, (start, end, end), curve, extra_sd=doubt)


def _before_it_comes_down(evidence: Evidence, hold: Standing) -> tuple[int, int]:
    """The frames of a hold without the way down to the flat foot, by which it was left: so slow that it still seemed held."""
    start, end = hold.frames
    heel = np.nan_to_num(evidence.heel_mm(hold.side)[start : end + 1])
    plateau = float(np.quantile(heel, TURNS.plateau))
    top = start + int(np.flatnonzero(heel >= plateau)[-1])
    down = evidence.way_begins(hold.side, plateau, top, end + 1)
    return start, end if down is None else max(down, start)


def _sunk_mm(heel: Floats) -> float:
    """How far the line through some heights (K,) goes down from first to last; NaN with fewer than two that are known."""
    known = np.flatnonzero(np.isfinite(heel))
    return -float(np.polyfit(known, heel[known], 1)[0]) * (heel.size - 1) if known.size > 1 else float("nan")
