"""Balances and the music (catalogue 5.5, 5.6)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..score import Step
from .dance import Dance, TrueValue, support_of

#: A shift or turn of the foot counts within this time.
_AT_ONCE_S = 0.2


def balances(dance: Dance) -> Iterator[TrueValue | None]:
    """Standing foot and heel over the hold."""
    for step in dance.of_kind("balance"):
        stands, _ = support_of(step)
        hold = dance.frames(step.start_s, step.end_s)
        place, heading = dance.support(stands), dance.foot_heading(stands)
        back = np.maximum(np.searchsorted(dance.time_s, dance.time_s - _AT_ONCE_S), hold[0])
        shift = np.linalg.norm(place - place[back], axis=1)
        yield dance.value("balance-hops", "shift", step, stands, shift, hold)
        yield dance.value("balance-hops", "turn", step, stands, np.abs(heading - heading[back]), hold)
        if step.facts["demi_pointe"] == "yes":
            fit = np.polyfit(dance.time_s[hold], dance.heel(stands)[hold], 1)
            sink = -float(fit[0]) * (step.end_s - step.start_s)
            yield TrueValue("balance-heel-sinks", "sink", step.id, "balance", stands, step.start_s, step.end_s, step.end_s, sink)


def telling_instants(dance: Dance) -> list[float]:
    """The instants that should fall on counts: arrival of pliés, the instant on the count of jump series."""
    preparations = [s.moments["low_s"] for s in dance.of_kind("turn")]
    pliés = [s for s in dance.of_kind("plie") if "position" in s.facts]
    return sorted([s.moments["bottom_s"] for s in pliés] + preparations)


def lateness(dance: Dance, step: Step) -> float:
    """Of one plié's arrival on the nearest count, seconds, late positive."""
    beat = 60.0 / dance.simulation.tempo_bpm
    count = (step.moments["bottom_s"] - dance.simulation.offset_s) / beat
    return float((count - np.round(count)) * beat)
