"""Which jumps of a phrase are judged as jumps: small ones between steps are hops, unless they are a series of their own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..phrase.phase import Jump
from ..units import GRAVITY

#: Jumps that follow each other within this are a series. Proposed default.
SERIES_S = 1.5
#: A jump that rises less than this is a hop between steps; from both feet to both, less than the second. Proposed defaults.
HOP_RISE_M, SMALLEST_JUMP_M = 0.08, 0.045
#: However small they are, jumps from both feet to both are jumps where so many follow each other evenly and in their place: the
#: times between take-offs within the second (share) of the usual, none further over the floor than the third. Four, as for
#: the music: three times that agree. Proposed defaults; in the open recordings of dance a small hop of both feet is alone.
LEAST_OF_SERIES, EVEN_SHARE, IN_PLACE_M = 4, 0.2, 0.15


def series_of(jumps: Sequence[Jump]) -> list[list[Jump]]:
    """Jumps in the order of time, those that follow each other within SERIES_S together."""
    series: list[list[Jump]] = []
    for jump in jumps:
        if series and jump.start_s - series[-1][-1].end_s < SERIES_S:
            series[-1].append(jump)
        else:
            series.append([jump])
    return series


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
    return rise < (SMALLEST_JUMP_M if _from_both_to_both(jump) else HOP_RISE_M)


def _even_series(jumps: Sequence[Jump]) -> list[list[Jump]]:
    """Longest even runs of jumps in their place from both feet to both, as long as a series is; any other jump ends one."""
    found: list[list[Jump]] = []
    run: list[Jump] = []
    for jump in jumps:
        stays = _from_both_to_both(jump) and jump.travel_m is not None and jump.travel_m <= IN_PLACE_M
        goes_on = bool(run) and jump.start_s - run[-1].end_s < SERIES_S and _is_even([*run, jump])
        if stays and goes_on:
            run.append(jump)
            continue
        found.append(run)
        # An interval of another length may be the first of the next series.
        follows = stays and bool(run) and jump.start_s - run[-1].end_s < SERIES_S
        run = [run[-1], jump] if follows else [jump] if stays else []
    found.append(run)
    return [part for part in found if len(part) >= LEAST_OF_SERIES]


def _is_even(jumps: Sequence[Jump]) -> bool:
    """Whether the times from take-off to take-off are alike."""
    apart = np.diff([jump.take_off_s for jump in jumps])
    usual = float(np.median(apart))
    return bool((np.abs(apart - usual) <= EVEN_SHARE * usual).all())
