"""How long comparing takes: 20 s against 20 s, and ten minutes against ten."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from bench_common import DATA, SETTINGS, Row


def _later(phase, id: str, by_frames: int, by_s: float):
    """The same phase later in the phrase."""
    told = {name: value for name, value in vars(phase).items() if name.endswith("_s") and isinstance(value, float)}
    moments = {name: value + by_s for name, value in told.items() if name not in _LENGTHS}
    return replace(phase, id=id, start=phase.start + by_frames, end=phase.end + by_frames, **moments)


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
        _later(phase, f"{phase.id}{round_:03d}", round_ * frames, round_ * length_s)
        for round_ in range(times) for phase in phrase.phases
    ]  # fmt: skip
    return replace(movement.alone(), **arrays), replace(phrase, phases=tuple(phases), contacts=())


#: Fields in seconds that are lengths, not moments; and a speed.
_LENGTHS = ("flight_s", "hold_s", "swing_s", "peak_rate_deg_s")


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
