"""How much jumping a take holds: how often, how high, and how hard it was stopped. Counts, never a judgement of a body."""

from __future__ import annotations

import numpy as np

from ..phrase.phase import Jump, Landing, Phrase
from ..take import Floats
from ..wording import findings as say
from .finding import PLUS_MINUS
from .jumping import JumpLoad
from .limits import LOAD


def mean_landing_load(fall_m: float, stopping_m: float) -> float:
    """Mean load while a landing is stopped, in body weights: 1 + fall / stopping distance (work and energy, exact)."""
    return 1.0 + fall_m / stopping_m


def landing_load_sd(fall_m: float, stopping_m: float) -> float:
    """1-SD error of ``mean_landing_load``, body weights, from 5 mm on each of the two heights (catalogue M24)."""
    share = mean_landing_load(fall_m, stopping_m) - 1
    return float(share * np.hypot(LOAD.stopping_sd_m / max(fall_m, LOAD.least_fall_m), LOAD.stopping_sd_m / stopping_m))


def _loads(phrase: Phrase) -> tuple[Floats, Floats]:
    """Mean load of every landing that tells it, in body weights, and its 1-SD error."""
    pairs = [(landing.fall_m, landing.stopping_m) for landing in phrase.of(Landing)]
    known = [(f, s) for f, s in pairs if f is not None and s is not None and f > 0 and s > LOAD.stopping_sd_m]
    return np.array([mean_landing_load(*one) for one in known]), np.array([landing_load_sd(*one) for one in known])


def jump_load(phrase: Phrase) -> JumpLoad:
    """Count and load of the jumps of a phrase.

    Source: catalogue 10.4 (count, rate, fading), M23 and M24 (height, mean load). No limit is applied here: how much is right for
    a class is the lesson's question, and no peak force can be told from markers.
    """
    jumps = sorted(phrase.of(Jump), key=lambda jump: jump.start_s)
    heights = np.array([jump.height_m for jump in jumps if jump.height_m is not None and np.isfinite(jump.height_m)])
    loads, errors = _loads(phrase)
    fade = fade_error = None
    if heights.size == len(jumps) >= LOAD.least_series and heights.max() > 0:
        third = max(1, len(jumps) // int(LOAD.parts))
        first, last = heights[:third].mean(), heights[-third:].mean()
        fade = float(1 - last / first)
        fade_error = float(PLUS_MINUS * np.sqrt(2 / third) * LOAD.height_sd_m / first)
    return JumpLoad(
        jumps=len(jumps),
        a_minute=60 * (len(jumps) - 1) / (jumps[-1].start_s - jumps[0].start_s) if len(jumps) > 1 else None,
        height_m=float(heights.mean()) if heights.size else None,
        height_plus_minus_m=PLUS_MINUS * LOAD.height_sd_m / float(np.sqrt(heights.size)) if heights.size else None,
        load_body_weights=float(loads.mean()) if loads.size else None,
        load_plus_minus=PLUS_MINUS * float(np.sqrt(np.mean(errors**2) / errors.size)) if loads.size else None,
        highest_load_body_weights=float(loads.max()) if loads.size else None,
        highest_load_plus_minus=PLUS_MINUS * float(errors[loads.argmax()]) if loads.size else None,
        fade=fade,
        fade_plus_minus=fade_error,
    )


def load_in_words(load: JumpLoad) -> tuple[str, ...]:
    """The load in plain words, with what to do about it."""
    return say.load(load, LOAD.fade)
