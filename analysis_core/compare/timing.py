"""Differences of time: when B comes to each landmark, counted from the first, and where the time went."""

from __future__ import annotations

import numpy as np

from .comparison import Landmark, Timing
from .statistics import looks

#: 1-SD error of an event's time, or half a sample where that is more. Source: catalogue 3.6 (10 to 20 ms).
_EVENT_S = 0.015
_PLUS_MINUS = 1.96


def find_timing(landmarks: tuple[Landmark, ...], rate_a_hz: float, rate_b_hz: float) -> tuple[Timing, ...]:
    """Timing of every landmark; + = later than in A."""
    if not landmarks:
        return ()
    a_s, b_s = np.array([each.a_s for each in landmarks]), np.array([each.b_s for each in landmarks])
    events = [max(_EVENT_S, 0.5 / rate) for rate in (rate_a_hz, rate_b_hz)]
    # Both ends of a stretch of time have an error, in both takes.
    sd = float(np.sqrt(2 * (events[0] ** 2 + events[1] ** 2)))
    least = looks(len(landmarks)) * sd
    value = (b_s - b_s[0]) - (a_s - a_s[0])
    since = np.diff(value, prepend=0.0)
    return tuple(
        Timing(
            landmark.name,
            float(value[place]),
            _PLUS_MINUS * sd,
            bool(abs(value[place]) > least),
            float(since[place]),
            bool(abs(since[place]) > least),
        )
        for place, landmark in enumerate(landmarks)
    )
