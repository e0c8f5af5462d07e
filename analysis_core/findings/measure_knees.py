"""Measures of standing knees that are meant to be straight."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..phrase.phase import Balance
from ..take import Floats
from .evidence import Evidence
from .limits import LEGS
from .parts_of_measures import Standing, fully_up, knee_bend
from .reading import HIGHEST, Measure, Told, Window, extreme, over


def _standing_legs(evidence: Evidence) -> Iterator[Standing]:
    """Standing legs of turns while fully up, balances, gestures and stands."""
    turns = fully_up(evidence)
    for phase in evidence.phrase.phases:
        if phase.kind in ("balance", "static", "leg-gesture") or phase.id in turns:
            for side in evidence.supports(phase):
                yield Standing(phase, side, turns.get(phase.id, (phase.start, phase.end)))


_BEYOND = Measure("knee-hyperextends", "beyond", HIGHEST, LEG_JOINTS, knee_bend)


@over(_standing_legs)
def knee_hyperextends(evidence: Evidence, leg: Standing) -> Told:
    """Standing knee beyond its own straight in standing."""
    # Of a standing in the phrase nobody knows whether it was straight.
    doubt = 0.0 if evidence.movement.standing.from_static else LEGS.absolute_knee_deg
    window = Window(-knee_bend(evidence, leg.side), leg.frames, moves=False)
    yield extreme(evidence, _BEYOND.on(leg.side, extra_sd=doubt), leg.phase, window)


def _still_standing(bend: Floats, window: tuple[int, int], rate_hz: float) -> tuple[int, int]:
    """A window without the part at its beginning in which the knee (F,) still stretches, and the part at its end in which it
    already bends for what comes next."""
    part = bend[window[0] : window[1] + 1]
    if part.size < 3 or not np.isfinite(part).all():
        return window
    rate = np.gradient(part) * rate_hz
    stretched, bends = np.flatnonzero(rate > -LEGS.knee_moves_deg_s), np.flatnonzero(rate < LEGS.knee_moves_deg_s)
    if not stretched.size or not bends.size or bends[-1] <= stretched[0]:
        return window
    return window[0] + int(stretched[0]), window[0] + int(bends[-1])


def _straight_legs(evidence: Evidence) -> Iterator[Standing]:
    """Standing legs where a straight one is asked for: turns while fully up, and balances; not those in fondu."""
    held = [Standing(turn.phase, turn.support, (turn.rise, turn.sink)) for turn in evidence.turns]
    for balance in evidence.phrase.of(Balance):
        held += [Standing(balance, side, (balance.start, balance.end)) for side in evidence.supports(balance)]
    for leg in held:
        part = knee_bend(evidence, leg.side)[leg.frames[0] : leg.frames[1] + 1]
        if not (np.isfinite(part).any() and np.nanmedian(part) > LEGS.fondu_deg):
            yield leg


_SUPPORTING = Measure("knee-bends-supporting", "flexion", HIGHEST, LEG_JOINTS, knee_bend)


@over(_straight_legs)
def knee_bends_supporting(evidence: Evidence, leg: Standing) -> Told:
    """Standing knee where a straight leg is asked for: turns while fully up, and balances."""
    bend = knee_bend(evidence, leg.side)
    window = Window(bend, _still_standing(bend, leg.frames, evidence.rate_hz))
    yield extreme(evidence, _SUPPORTING.on(leg.side), leg.phase, window)
