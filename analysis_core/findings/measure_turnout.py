"""Measures of the turnout of both legs in a turn and when it closes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ..body.anatomy import LEG_JOINTS
from ..body.movement import SIDES
from ..take import Floats
from ..wording import findings as say
from .evidence import Evidence, Pirouette
from .limits import LEVERS, READING, STEPS, TURNS
from .measure_preparation import prepared_turns
from .measure_retire import Retire, retires
from .observation import NotTold, Observation
from .parts_of_measures import foot_turnout, turns
from .reading import HIGHEST, Measure, Told, Window, at_an_event_sd, extreme, over

_SUPPORTING = Measure(
    "turnout-lost-supporting", "loss", HIGHEST, ("heel", "toe", "hip"), foot_turnout, lever_m=LEVERS.foot_m
)  # fmt: skip


@over(turns)
def turnout_lost_supporting(evidence: Evidence, turn: Pirouette) -> Told:
    """Azimuth of the standing foot against the pelvis, from full relevé to the start of the way down."""
    turnout = foot_turnout(evidence, turn.support)
    first = evidence.before(turnout, turn.rise, turn.rise + evidence.samples(TURNS.fully_up_s))
    reading = _SUPPORTING.on(turn.support, against=turn.rise)
    yield extreme(evidence, reading, turn.phase, Window(first - turnout, (turn.rise, turn.sink)))


def knee_turnout(evidence: Evidence, side: str) -> Floats:
    """Direction (F,) of a bent knee against the pelvis, degrees."""
    return evidence.degrees("knee_turnout", side)


_WORKING = Measure(
    "turnout-lost-working", "loss", HIGHEST, LEG_JOINTS, knee_turnout, extra_sd=STEPS.noisy_deg
)  # fmt: skip


@over(retires)
def turnout_lost_working(evidence: Evidence, retire: Retire) -> Told:
    """How far the direction of the bent knee falls from its widest while the retiré is there."""
    if retire.there.sum() < evidence.samples(TURNS.least_retire_s):
        return
    turnout = np.where(retire.there, knee_turnout(evidence, retire.working), np.nan)
    part = evidence.steady_part(turnout, *retire.frames)
    if not np.isfinite(part).any():
        return
    widest = int(np.nanargmax(part))
    reading = _WORKING.on(retire.working, against=retire.frames[0] + widest)
    told = extreme(evidence, reading, retire.phase, Window(part[widest] - turnout, retire.frames, retire.there))
    if isinstance(told, Observation):
        told = replace(told, extra_sd=float(np.hypot(told.extra_sd, _comes_to_its_place_sd(evidence, retire, told.value))))
    yield told


def _comes_to_its_place_sd(evidence: Evidence, retire: Retire, loss_deg: float) -> float:
    """What a retiré that is there a little earlier, or for a little longer, may lose more, 1 SD, degrees."""
    around = evidence.samples(READING.event_s + 0.5 * STEPS.steady_s)
    first, last = max(retire.frames[0] - around, 0), min(retire.frames[1] + around, evidence.frames - 1)
    part = knee_turnout(evidence, retire.working)[first : last + 1]
    part = part[np.isfinite(part)]
    return 0.5 * max(float(np.ptp(part)) - loss_deg, 0.0) if part.size else 0.0


_FINISH = Measure("turnout-lost-finish", "loss", HIGHEST, ("heel", "toe"), foot_turnout, lever_m=LEVERS.foot_m)
_SKID = replace(_FINISH, name="skid")


@dataclass(frozen=True)
class Closing:
    """A foot that stands after a turn from the frame ``close`` until ``after``; start: of the turn's plié."""

    turn: Pirouette
    side: str
    start: int
    close: int
    after: int


def _closings(evidence: Evidence) -> Iterator[Closing]:
    """Both feet after turns that are closed, and not stepped out of at once."""
    for prepared in prepared_turns(evidence):
        close = evidence.at(prepared.turn.phase.close_s)
        if close is None:
            continue
        # While both feet stay down; who steps on at once has closed nothing.
        leaves = np.flatnonzero(~evidence.on_both[close + 1 : close + evidence.samples(TURNS.skid_s) + 1])
        after = close + (int(leaves[0]) if leaves.size else evidence.samples(TURNS.skid_s))
        stands = after - close >= 2 * evidence.samples(TURNS.closed_s)
        if after < evidence.frames and stands:
            yield from (Closing(prepared.turn, side, prepared.start, close, after) for side in SIDES)


@over(_closings)
def turnout_lost_finish(evidence: Evidence, closing: Closing) -> Told:
    """Turnout of both feet when the turn closes and just after, against the preparation."""
    turn, side, start, close, after = closing.turn, closing.side, closing.start, closing.close, closing.after
    turnout, brief = foot_turnout(evidence, side), evidence.samples(TURNS.closed_s)
    asked = evidence.before(turnout, start, start + evidence.samples(TURNS.prepared_s))
    arrived = evidence.before(turnout, close, close + brief)
    later = evidence.before(turnout, after - brief, after)
    if not np.isfinite([asked, arrived, later]).all():
        yield NotTold(_FINISH.fault, turn.phase, say.foot_unseen_at_the_end(side))
        return
    frames = (close, close + brief // 2, after)
    doubt = at_an_event_sd(evidence, turnout, close)
    yield _FINISH.on(side, against=start).told(turn.phase, asked - max(arrived, later), frames, extra_sd=doubt)
    # Any skid beyond the band is a fault (catalogue).
    yield _SKID.on(side, against=after).told(turn.phase, later - arrived, frames, beyond_fault=True, extra_sd=doubt)
