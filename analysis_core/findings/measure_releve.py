"""Measures of the standing heel in turns and balances on one foot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..body.movement import SIDES
from ..phrase.phase import Balance, Phase
from ..take import Floats
from ..wording import findings as say
from ..wording.names import part_on
from .evidence import Evidence, Pirouette
from .limits import STEPS, TURNS
from .observation import NotTold, Observation
from .reading import HIGHEST, LOWEST, Measure, Told, Window, extreme, over


@dataclass(frozen=True)
class Raised:
    """A step on one foot on relevé. frames: those that were looked at; heel (F,): above its flat height while the forefoot is
    down, mm; part: the same, steady, in those frames; plateau_mm: the height it comes to; turn: where it is one."""

    phase: Phase
    support: str
    frames: tuple[int, int]
    heel: Floats
    part: Floats
    plateau_mm: float
    turn: Pirouette | None


def heel_share(evidence: Evidence, side: str, own_mm: float) -> Floats:
    """Height (F,) of a heel as a share of the own highest relevé."""
    return evidence.heel_mm(side) / own_mm


def _shows_releve(evidence: Evidence, side: str, own_mm: float, peak: int) -> int | None:
    """Frame in which a standing foot shows the own highest relevé, the furthest in time from ``peak``; None where none does."""
    shows = np.abs(evidence.heel_mm(side) - own_mm) < TURNS.shows_own_mm
    frames = np.flatnonzero(shows & evidence.forefoot_down(side) & evidence.on(side))
    frames = frames[frames != peak]
    return int(frames[np.argmax(np.abs(frames - peak))]) if frames.size else None


_SHARE = Measure("low-releve", "share", LOWEST, ("heel", "toe"), heel_share, extra_sd=TURNS.own_releve_share)
_SINK = Measure(
    "low-releve", "sink", HIGHEST, ("heel", "toe"), Evidence.heel_mm, extra_sd=TURNS.noise_of_a_mean * STEPS.noisy_mm
)  # fmt: skip


def _on_one_foot(evidence: Evidence) -> Iterator[Raised]:
    """Turns and balances on one foot, with the way of the standing heel."""
    # Until the turning ends: who rises to close has turned on a low relevé.
    held: list[tuple[Phase, str, tuple[int, int], Pirouette | None]] = [
        (turn.phase, turn.support, (turn.alone, max(min(turn.close, turn.phase.end), turn.rise)), turn) for turn in evidence.turns
    ]
    # On one foot (catalogue): who holds on two need not come as high.
    held += [(b, str(b.support), (b.start, b.end), None) for b in evidence.phrase.of(Balance) if b.support in SIDES]
    for phase, support, frames, turn in held:
        heel = np.where(evidence.forefoot_down(support), evidence.heel_mm(support), np.nan)
        part = evidence.steady_part(heel, *frames)
        plateau = float(np.nanquantile(part, TURNS.plateau)) if np.isfinite(part).any() else float("nan")
        yield Raised(phase, support, frames, heel, part, plateau, turn)


@over(_on_one_foot)
def low_releve(evidence: Evidence, raised: Raised) -> Told:
    """Heel against the own highest relevé, and how far it sinks before the turning ends."""
    if np.isnan(raised.plateau_mm):
        yield NotTold(_SHARE.fault, raised.phase, say.not_seen(part_on("heel", raised.support)))
    flat = raised.turn is not None and raised.turn.leave is None
    if flat or not raised.plateau_mm >= STEPS.risen_mm:
        return
    peak = raised.frames[0] + int(np.nanargmin(np.abs(raised.part - raised.plateau_mm)))
    yield _share_of_own(evidence, raised, peak)
    if raised.turn is not None:
        yield _sinks(evidence, raised, raised.turn, peak)


def _share_of_own(evidence: Evidence, raised: Raised, peak: int) -> Observation | None:
    """The height that a heel comes to against the own highest; None where that is not known."""
    own = 1000 * float(evidence.movement.standing.releve_m[SIDES.index(raised.support)])
    if not (np.isfinite(own) and own > STEPS.risen_mm):
        return None
    up = raised.frames[0] + np.flatnonzero(np.nan_to_num(raised.part) > TURNS.half_up * raised.plateau_mm)
    start, end = int(up[0]), int(up[-1])
    # A heel marker that sits elsewhere is as far off in the own highest relevé: one is told against the other.
    shown = _shows_releve(evidence, raised.support, own, peak)
    reading = _SHARE.on(raised.support, lever_m=own / 1000, against=shown, own_mm=own)
    return reading.told(raised.phase, raised.plateau_mm / own, (start, peak, end), raised.heel[start : end + 1] / own)


def _sinks(evidence: Evidence, raised: Raised, turn: Pirouette, peak: int) -> Observation | NotTold | None:
    """How far a heel sinks from the first frame at its height until the turning ends."""
    top = raised.frames[0] + int(np.flatnonzero(np.nan_to_num(raised.part) >= raised.plateau_mm)[0])
    first = max(turn.rise, top)
    end = min(turn.sink, turn.phase.end, turn.close - evidence.samples(TURNS.before_closing_s))
    if end <= first:
        return None
    window = Window(raised.plateau_mm - raised.heel, (first, end), evidence.forefoot_down(raised.support))
    return extreme(evidence, _SINK.on(raised.support, against=peak), raised.phase, window)
