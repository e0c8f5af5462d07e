"""How long comparing takes: 20 s against 20 s, and ten minutes against ten."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from bench_common import DATA, SETTINGS, Row


def _later(properties: dict, by_s: float) -> dict:
    """Properties of a phase that comes later."""
    moments = [name for name, value in properties.items() if name.endswith("_s") and isinstance(value, float)]
    return {**properties, **{name: properties[name] + by_s for name in moments if name not in _LENGTHS}}


def _longer(movement, phrase, times: int):
    """The same phrase danced several times without a break, with its phases."""
    frames, length_s = movement.frames, movement.frames / movement.rate_hz
    arrays = {
        name: np.concatenate([value] * times)
        for name, value in vars(movement).items()
        if isinstance(value, np.ndarray) and value.shape[:1] == (frames,)
    }
    arrays["time_s"] = np.arange(frames * times) / movement.rate_hz
    phases = [
        replace(
            phase, id=f"{phase.id}{round_:03d}", start=phase.start + round_ * frames, end=phase.end + round_ * frames,
            start_s=phase.start_s + round_ * length_s, end_s=phase.end_s + round_ * length_s,
            properties=_later(phase.properties, round_ * length_s),
        )
        for round_ in range(times) for phase in phrase.phases
    ]  # fmt: skip
    return replace(movement, recording=None, **arrays), replace(phrase, phases=tuple(phases), contacts=())


#: Properties in seconds that are lengths, not moments.
_LENGTHS = ("flight_s", "hold_s", "swing_s", "height_by_time_m", "beat_error_s")


def compared() -> list[Row]:
    """Seconds on the clock and of the processor."""
    from in_the_round.analysis_core.analyse import analyse
    from in_the_round.analysis_core.compare import compare

    a, b = (analyse(DATA / f"{name}.c3d", SETTINGS) for name in ("careless", "careful"))
    compare(a, b)
    told = []
    for name, times, most in (("20 s", 1, 1.0), ("10 min", 30, 30.0)):
        pair = []
        for review in (a, b):
            movement, phrase = _longer(review.movement, review.phrase, times)
            take = replace(review.take, frames=movement.frames, duration_s=movement.frames / movement.rate_hz)
            pair.append(replace(review, movement=movement, phrase=phrase, take=take))
        start, used = time.perf_counter(), time.process_time()
        compare(*pair)
        passed, used = time.perf_counter() - start, time.process_time() - used
        told.append(Row(f"compare {name} against {name}", passed, "s", most))
        told.append(Row(f"compare {name} against {name}, processor", used, "s"))
    return told
