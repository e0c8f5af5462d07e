"""Differences of shape, where both takes do the same; "different" only beyond what the measurement can show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..review import Review
from ..take import Floats
from .comparison import Alignment, Difference
from .poses import POSES_HZ, leg_length_m
from .quantities import curves, errors, quantities, sampled
from .statistics import looks
from .usual import LEAST_BAND, Band

#: A difference lasts at least about so long, or it is none. Proposed default.
_LASTING_S = 0.1
#: 1-SD error of the alignment: fast movement turns it into a difference of shape. Measured on simulated pairs, rounded up.
_ALIGNED_S = 0.012
#: Of overlapping steps the first of these is said to hold a moment.
_PRECEDENCE = ("turn", "jump", "landing", "balance", "leg-gesture", "plie", "releve", "step", "static")
#: Time beside all steps is looked at in stretches of at least this.
_LEAST_BETWEEN_S = 0.3
_PLUS_MINUS = 1.96


def _parts_of(review: Review, alignment: Alignment, time_s: Floats) -> Iterator[tuple[str | None, NDArray[np.intp]]]:
    """Samples of A by the phase that holds them; every sample belongs to one phase or to None."""
    free = np.ones(time_s.size, dtype=bool)
    matched = [phase for phase in review.phrase.phases if phase.id in alignment.matched]
    for phase in sorted(matched, key=lambda p: (_PRECEDENCE.index(p.kind), p.start_s)):
        inside = free & (time_s >= phase.start_s) & (time_s <= phase.end_s)
        free &= ~inside
        if inside.any():
            yield phase.id, np.flatnonzero(inside)
    rest = np.flatnonzero(free)
    for stretch in np.split(rest, np.flatnonzero(np.diff(rest) > 1) + 1):
        if stretch.size >= _LEAST_BETWEEN_S * POSES_HZ:
            yield None, stretch


def _steady(values: Floats) -> Floats:
    """Moving mean (K, Q) over _LASTING_S; the ends repeated; NaN beside unknown samples."""
    half = round(_LASTING_S * POSES_HZ) // 2
    if half == 0 or len(values) <= 2 * half:
        return values
    padded = np.concatenate([values[:1].repeat(half, axis=0), values, values[-1:].repeat(half, axis=0)])
    count = 2 * half + 1
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, count, axis=0).mean(axis=-1))


def find_differences(a: Review, b: Review, alignment: Alignment, *, same_markers: bool) -> tuple[Difference, ...]:
    """Of every quantity and matched phase the largest lasting difference against what can be shown; those within ± are left out.

    Lengths are as they would be with A's legs. Sorted: the largest against the smallest that can be shown first.
    """
    made = _curves(a, b)
    held = _Held(a, b, alignment, made, same_markers=same_markers)
    found: list[Difference] = []
    for piece in alignment.pieces:
        apart, sd = held.apart(piece)
        for name, holding, samples in held.parts:
            if holding is piece:
                found += _in_part(name, samples, piece, apart, sd, held.beyond)
    found.sort(key=lambda difference: -abs(difference.value) / difference.least)
    return _with_usual(found, a, b, alignment, made)


def excess(a: Review, b: Review, alignment: Alignment, *, same_markers: bool) -> tuple[Floats, Floats]:
    """How large the differences are at every aligned moment: times of A (K,), and (K, Q) the size of each quantity's lasting
    difference against the smallest that can be shown there. Above 1 is beyond measurement; NaN where it is not known."""
    held = _Held(a, b, alignment, _curves(a, b), same_markers=same_markers)
    times, sizes = [np.empty(0)], [np.empty((0, len(quantities())))]
    for piece in alignment.pieces:
        apart, sd = held.apart(piece)
        times.append(piece[0])
        sizes.append(np.abs(apart) / (held.beyond * sd))
    return np.concatenate(times), np.concatenate(sizes)


def _curves(a: Review, b: Review) -> list[Floats]:
    """The quantities of both takes; lengths as they would be with A's legs."""
    leg = leg_length_m(a.movement)
    return [curves(review.movement, leg) for review in (a, b)]


class _Held:
    """One take held against another. parts: phase, piece and its samples; beyond: how many SD can be shown, looking at as many
    numbers as are looked at."""

    def __init__(self, a: Review, b: Review, alignment: Alignment, made: list[Floats], *, same_markers: bool) -> None:
        self.made, self.rates = made, (a.movement.rate_hz, b.movement.rate_hz)
        self.off = [errors(review.movement, within=same_markers) for review in (a, b)]
        self.parts = [(name, piece, samples) for piece in alignment.pieces for name, samples in _parts_of(a, alignment, piece[0])]
        self.beyond = looks(len(self.parts) * len(quantities()))

    def apart(self, piece: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
        """Lasting differences (K, Q) in a piece, B minus A, and their 1-SD errors."""
        values, own = (
            [sampled(one, rate, times) for one, rate, times in zip(rows, self.rates, piece, strict=True)]
            for rows in (self.made, self.off)
        )
        rate = np.maximum(*(np.abs(np.gradient(value, piece[0], axis=0)) for value in values))
        sd = np.sqrt(own[0] ** 2 + own[1] ** 2 + (_ALIGNED_S * np.nan_to_num(rate)) ** 2)
        return _steady(values[1] - values[0]), sd


def _in_part(
    phase: str | None, samples: NDArray[np.intp], piece: tuple[Floats, Floats], apart: Floats, sd: Floats, beyond: float
) -> Iterator[Difference]:
    part, error = apart[samples], sd[samples]
    size = np.where(np.isfinite(part), np.abs(part) / error, -1.0)
    for column, quantity in enumerate(quantities()):
        peak = int(size[:, column].argmax())
        if size[peak, column] <= _PLUS_MINUS:
            continue
        known = part[np.isfinite(part[:, column]), column]
        value, one_sd = float(part[peak, column]), float(error[peak, column])
        yield Difference(
            quantity.name,
            phase,
            float(piece[0][samples[peak]]),
            float(piece[1][samples[peak]]),
            value,
            quantity.unit,
            _PLUS_MINUS * one_sd,
            beyond * one_sd,
            bool(abs(value) > beyond * one_sd),
            float(np.sqrt(np.mean(known**2))),
        )


def _with_usual(
    found: list[Difference], a: Review, b: Review, alignment: Alignment, made: list[Floats]
) -> tuple[Difference, ...]:
    """The same with the band of the step's repetitions in A, where it is danced often enough."""
    phases = {phase.id: phase for phase in a.phrase.phases}
    others = {phase.id: phase for phase in b.phrase.phases}
    columns = {quantity.name: column for column, quantity in enumerate(quantities())}
    bands: dict[str, tuple[Band, Band] | None] = {}
    result = []
    for difference in found:
        phase = phases.get(difference.phase or "")
        if phase is None:
            result.append(difference)
            continue
        group = phase.same_as
        if group not in bands:
            steps = a.phrase.same_steps(phase), b.phrase.same_steps(others[alignment.matched[phase.id]])
            pair = (Band(steps[0], made[0], a.movement.rate_hz), Band(steps[1], made[1], b.movement.rate_hz))
            bands[group] = pair if len(steps[0]) >= LEAST_BAND else None
        known = bands[group]
        if known is not None:
            column = columns[difference.quantity]
            value_b = float(sampled(made[1], b.movement.rate_hz, np.array([difference.b_s]))[0, column])
            difference = replace(difference, usual=known[0].usual(column, phase, difference.a_s, value_b, known[1]))
        result.append(difference)
    return tuple(result)
