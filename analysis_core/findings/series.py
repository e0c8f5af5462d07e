"""Which jumps of a phrase are judged as jumps: small ones between steps are hops, unless they are a series of their own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..phrase.phase import Jump, Landing, Phase, Phrase
from ..units import GRAVITY
from .limits import SERIES


def series_of(jumps: Sequence[Jump]) -> list[list[Jump]]:
    """Jumps in the order of time, those that follow each other within SERIES.series_s together."""
    series: list[list[Jump]] = []
    for jump in jumps:
        if series and jump.start_s - series[-1][-1].end_s < SERIES.series_s:
            series[-1].append(jump)
        else:
            series.append([jump])
    return series


def same_again(phase: Phase, phrase: Phrase, jumps: Sequence[Jump]) -> tuple[Phase, ...]:
    """The steps in which a step of a phrase comes again, itself among them, in order of time.

    Those of the same shape and, of jumps (in the order of time) and their landings, those from and to the same feet in one
    unbroken series: a fault that changes the shape of a jump makes no other step of it.
    """
    jump_id = phase.jump if isinstance(phase, Landing) else phase.id
    own = next((jump for jump in jumps if jump.id == jump_id), None)
    series = [part for part in series_of(jumps) if own in part]
    feet = None if own is None else (own.take_off_feet, own.landing_feet)
    ids = {jump.id for part in series for jump in part if (jump.take_off_feet, jump.landing_feet) == feet}
    alike = {other.id for other in phrase.same_steps(phase)}
    return tuple(
        other
        for other in phrase.of_kind(phase.kind)
        if other.id in alike or (other.jump if isinstance(other, Landing) else other.id) in ids
    )


def hops(jumps: Sequence[Jump]) -> frozenset[str]:
    """Ids of the jumps (in the order of time) that are hops in a chain of steps."""
    danced = {jump.id for part in _even_series(jumps) for jump in part}
    return frozenset(jump.id for jump in jumps if _is_small(jump) and jump.id not in danced)


def _from_both_to_both(jump: Jump) -> bool:
    return jump.take_off_feet == jump.landing_feet == "both"


def _is_small(jump: Jump) -> bool:
    """A small jump; it rises no higher than its time in the air allows."""
    rise = GRAVITY * jump.flight_s**2 / 8
    # fmin: what is not known of the two does not count.
    rise = rise if jump.height_m is None else float(np.fmin(rise, jump.height_m))
    stays = jump.travel_m is None or jump.travel_m <= SERIES.in_place_m
    faces = jump.turned_deg is None or abs(jump.turned_deg) <= SERIES.hop_turns_deg
    in_place = _from_both_to_both(jump) and stays and faces
    return rise < (SERIES.smallest_jump_m if in_place else SERIES.hop_rise_m)


def _even_series(jumps: Sequence[Jump]) -> list[list[Jump]]:
    """Longest even runs of jumps in their place from both feet to both, as long as a series is; any other jump ends one."""
    found: list[list[Jump]] = []
    run: list[Jump] = []
    for jump in jumps:
        # A foot that comes late may have been meant to land with the other: what is not jumped from both feet again ends the run.
        stays = jump.take_off_feet == "both" and jump.travel_m is not None and jump.travel_m <= SERIES.in_place_m
        goes_on = bool(run) and jump.start_s - run[-1].end_s < SERIES.rebound_s and _is_even([*run, jump])
        if stays and goes_on:
            run.append(jump)
            continue
        found.append(run)
        # An interval of another length may be the first of the next series.
        follows = stays and bool(run) and jump.start_s - run[-1].end_s < SERIES.rebound_s
        run = [run[-1], jump] if follows else [jump] if stays else []
    found.append(run)
    found = [part[:-1] if part and not _from_both_to_both(part[-1]) else part for part in found]
    return [part for part in found if len(part) >= SERIES.least_of_series]


def _is_even(jumps: Sequence[Jump]) -> bool:
    """Whether the times from take-off to take-off are alike."""
    apart = np.diff([jump.take_off_s for jump in jumps])
    usual = float(np.median(apart))
    return bool((np.abs(apart - usual) <= SERIES.even_share * usual).all())
