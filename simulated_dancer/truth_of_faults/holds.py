"""Balances and the music (catalogue 5.5, 5.6)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .dance import Dance, TrueValue, support_of

#: A shift or turn of the foot counts within this time.
_AT_ONCE_S = 0.2
#: Fewer instants are no music to be late for.
_LEAST_EVENTS = 3


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


def lateness(dance: Dance, time_s: float) -> float:
    """Of an instant against the nearest count, seconds, late positive."""
    beat = 60.0 / dance.simulation.tempo_bpm
    count = (time_s - dance.simulation.offset_s) / beat
    return float((count - np.round(count)) * beat)


def music(dance: Dance) -> Iterator[TrueValue | None]:
    """Lateness on the counts: of pliés their arrival, of a series of jumps the one kind of instant that fits best."""
    if not dance.simulation.to_music:
        return
    errors = [lateness(dance, step.moments["bottom_s"]) for step in dance.of_kind("plie") if "position" in step.facts]
    jumps = dance.of_kind("jump")
    if jumps:
        kinds = [[lateness(dance, jump.moments[name]) for jump in jumps] for name in ("take_off_s", "apex_s", "landing_s")]
        errors += kinds[int(np.argmin(np.abs(kinds).mean(axis=1)))]
    if len(errors) >= _LEAST_EVENTS:
        ends = float(dance.time_s[-1])
        for measure, value in (("late", np.mean(errors)), ("spread", np.std(errors))):
            yield TrueValue("off-the-count", measure, "phrase", "phrase", None, 0.0, 0.0, ends, float(value))
