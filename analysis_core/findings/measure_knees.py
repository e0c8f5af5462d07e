"""Measures of standing knees that are meant to be straight."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..phrase.phase import Balance
from ..take import Floats
from .evidence import Evidence
from .finding import PLUS_MINUS
from .limits import LEGS
from .parts_of_measures import Standing, fully_up, knee_bend, without_ways
from .reading import HIGHEST, Measure, Told, Window, extreme, over


def _standing_legs(evidence: Evidence) -> Iterator[Standing]:
    """Standing legs of turns while fully up, balances, gestures and stands."""
    turns = fully_up(evidence)
    for phase in evidence.phrase.phases:
        if phase.kind in ("balance", "static", "leg-gesture") or phase.id in turns:
            for side in evidence.supports(phase):
                yield Standing(phase, side, turns.get(phase.id, (phase.start, phase.end)))


def _past_straight(evidence: Evidence, side: str) -> Floats:
    """How far (F,) a knee is stretched past its own straight, degrees.

    That is how it stood, but never a bend that is surely one: who stands with soft knees is no more than straight again when she
    stretches them.
    """
    bend, stood = evidence.degrees("knee_flexion", side), evidence.degrees("knee_flexion", side) - knee_bend(evidence, side)
    surely_bent = PLUS_MINUS * LEGS.absolute_knee_deg
    return np.asarray(np.minimum(stood, surely_bent) - bend)


_BEYOND = Measure("knee-hyperextends", "beyond", HIGHEST, LEG_JOINTS, _past_straight)


@over(_standing_legs)
def knee_hyperextends(evidence: Evidence, leg: Standing) -> Told:
    """Standing knee beyond its own straight in standing."""
    # Of a standing in the phrase nobody knows whether it was straight.
    doubt = 0.0 if evidence.movement.standing.from_static else LEGS.absolute_knee_deg
    window = Window(_past_straight(evidence, leg.side), leg.frames, moves=False)
    yield extreme(evidence, _BEYOND.on(leg.side, extra_sd=doubt), leg.phase, window)


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
    window = Window(bend, without_ways(bend, leg.frames, evidence.rate_hz))
    yield extreme(evidence, _SUPPORTING.on(leg.side), leg.phase, window)
