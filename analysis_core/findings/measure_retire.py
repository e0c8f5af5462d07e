"""The retiré of turns and balances: when it is there, and how high."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import LEG_JOINTS
from ..body.geometry import unit
from ..body.movement import SIDES, SUFFIXES
from ..phrase.course import BODY_WINDOW_S
from ..phrase.phase import Balance, Phase
from ..phrase.signals import derivative, lasting
from ..take import Floats
from .evidence import OTHER, Evidence, made_once
from .limits import STEPS, TURNS
from .observation import Observation
from .reading import HIGHEST, LOWEST, Measure, Told, over


@made_once
def _toe_on_the_leg(evidence: Evidence, working: str, support: str) -> Floats:
    """Place (F, 2) of the working toe against the standing leg: along it from the ankle, and away from it, metres."""
    toe, hip, ankle = (evidence.joint(*at) for at in (("toe", working), ("hip", support), ("ankle", support)))
    along = unit(hip - ankle)
    height = ((toe - ankle) * along).sum(axis=1)
    return np.stack([height, np.linalg.norm(toe - ankle - height[:, None] * along, axis=1)], axis=1)


def _in_retire(evidence: Evidence, working: str, support: str, window: tuple[int, int]) -> NDArray[np.bool_]:
    """Frames (F, 2) of a window in which the retiré is there: the working leg bent, its toe near the standing leg, in its place,
    and in that or any other place in which it stays for a while; neither the way up nor the way down. None where the pose is
    another one.
    """
    there = np.zeros((evidence.frames, 2), dtype=bool)
    part = slice(window[0], window[1] + 1)
    bend, place = evidence.degrees("knee_flexion", working)[part], _toe_on_the_leg(evidence, working, support)[part]
    near = (bend > STEPS.retire_deg) & (place[:, 1] < TURNS.at_the_leg_m)
    known = np.isfinite(bend) & np.isfinite(place).all(axis=1)
    if known.any() and near.sum() > TURNS.mostly * known.sum():
        own = np.median(place[near], axis=0)
        in_place = near & (np.linalg.norm(place - own, axis=1) < TURNS.in_place_m)
        there[part] = np.stack([in_place, in_place | (near & _toe_stays(evidence, place, int(near.sum())))], axis=1)
    return there


def _toe_stays(evidence: Evidence, place: Floats, frames: int) -> NDArray[np.bool_]:
    """Frames (K,) in which a toe stays in a place (K, 2) on the leg, high enough for a retiré, of a pose of so many frames.

    A toe that is low for one half of a turn and drawn up in the other has two places, and its median place may be neither.
    """
    long = max(TURNS.least_retire_s, TURNS.stays_share * frames / evidence.rate_hz)
    speed = np.linalg.norm(derivative(place, evidence.rate_hz, 1, BODY_WINDOW_S), axis=1)
    high = place[:, 0] > TURNS.least_retire * evidence.movement.standing.shank_length_m
    return lasting((speed < TURNS.in_place_m / long) & high, evidence.samples(TURNS.least_retire_s))


@dataclass(frozen=True)
class Retire:
    """A step in retiré. frames: the first and the last in which it is there, in any place; there (F,): all in its own place."""

    phase: Phase
    working: str
    support: str
    frames: tuple[int, int]
    there: NDArray[np.bool_]


def retires(evidence: Evidence) -> Iterator[Retire]:
    """Turns and balances on one foot in which a retiré is there for long enough."""
    held: list[tuple[Phase, str, tuple[int, int]]] = [
        (turn.phase, turn.support, (turn.alone, turn.close)) for turn in evidence.turns
    ]
    held += [(b, str(b.support), (b.start, b.end)) for b in evidence.phrase.of(Balance) if b.support in SIDES]
    for phase, support, window in held:
        there, anywhere = _in_retire(evidence, OTHER[support], support, window).T
        frames = np.flatnonzero(anywhere)
        if frames.size >= evidence.samples(TURNS.least_retire_s):
            yield Retire(phase, OTHER[support], support, (int(frames[0]), int(frames[-1])), there)


@made_once
def retire_height(evidence: Evidence, side: str, support: str) -> Floats:
    """Height (F,) of the toe of the working side along the standing shank, as a share of it."""
    ankle, knee = evidence.joint("ankle", support)[:, 2], evidence.joint("knee", support)[:, 2]
    return np.asarray((evidence.joint("toe", side)[:, 2] - ankle) / (knee - ankle))


@made_once
def toe_off_leg_mm(evidence: Evidence, side: str, support: str) -> Floats:
    """Distance (F,) of the toe of the working side from the axis of the standing thigh or shank, whichever is nearer, mm."""
    toe = evidence.joint("toe", side)
    hip, knee, ankle = (evidence.joint(name, support) for name in LEG_JOINTS)
    return np.asarray(1000 * np.minimum(_off_segment(toe, hip, knee), _off_segment(toe, knee, ankle)))


def _off_segment(place: Floats, first: Floats, last: Floats) -> Floats:
    """Distance (F,) of points (F, 3) from a segment between two others (F, 3)."""
    along = last - first
    share = np.clip(((place - first) * along).sum(axis=1) / (along * along).sum(axis=1), 0.0, 1.0)
    return np.asarray(np.linalg.norm(place - first - share[:, None] * along, axis=1))


# Two places at a leg.
_GAP = Measure("low-retire", "gap", HIGHEST, ("toe",), toe_off_leg_mm, extra_sd=1000 * TURNS.thickness_m * STEPS.noise_of_a_way)


@made_once
def _touching(evidence: Evidence, working: str, support: str) -> Floats:
    """Frame (1,) of all retirés of a leg in which its toe is nearest to the other one: as far as the take shows, it touches."""
    distance = evidence.steady(toe_off_leg_mm(evidence, working, support))
    frames = [np.arange(other.frames[0], other.frames[1] + 1) for other in retires(evidence) if other.working == working]
    known = np.concatenate(frames)
    known = known[np.isfinite(distance[known])]
    return np.array([known[np.argmin(distance[known])] if known.size else np.nan], dtype=np.float64)


def _gap(evidence: Evidence, retire: Retire, later: int) -> Observation | None:
    """How far the toe comes off the leg for a while, against where it was nearest in this take: at least so much."""
    working, support = retire.working, retire.support
    touching = float(_touching(evidence, working, support)[0])
    if not np.isfinite(touching):
        return None
    distance, nearest = toe_off_leg_mm(evidence, working, support), int(touching)
    off = distance[later : retire.frames[1] + 1] - evidence.steady_part(distance, nearest, nearest)[0]
    if not np.isfinite(off).any():
        return None
    value = float(np.quantile(off[np.isfinite(off)], 1.0 - TURNS.low_for))
    joints = ("toe" + SUFFIXES[working], *(name + SUFFIXES[support] for name in LEG_JOINTS))
    frames = (later, later + int(np.nanargmin(np.abs(off - value))), retire.frames[1])
    return _GAP.on(working, joints=joints, support=support, against=nearest).told(retire.phase, value, frames, off)


_RETIRE = Measure("low-retire", "height", LOWEST, ("toe",), retire_height)


@over(retires)
def low_retire(evidence: Evidence, retire: Retire) -> Told:
    """Height of the toe along the standing shank in the retiré, and how far it comes off the leg."""
    (first, last), working, support = retire.frames, retire.working, retire.support
    later = first + int((last - first) * TURNS.first_of_retire)
    height = retire_height(evidence, side=working, support=support)[later : last + 1]
    known = height[np.isfinite(height)]
    # A toe below the middle of the shank is another place of the foot, not a low retiré.
    if not known.size or np.median(known) < TURNS.least_retire:
        return
    # A toe that comes up late, or sinks before the closing, was low for that while.
    value = float(np.quantile(known, TURNS.low_for))
    joints = ("toe" + SUFFIXES[working], "knee" + SUFFIXES[support], "ankle" + SUFFIXES[support])
    doubt = float(TURNS.toe_m / evidence.movement.standing.shank_length_m)
    frames = (later, later + int(np.nanargmin(np.abs(height - value))), last)
    yield _RETIRE.on(working, joints=joints, support=support, extra_sd=doubt).told(retire.phase, value, frames, height)
    yield _gap(evidence, retire, later)
