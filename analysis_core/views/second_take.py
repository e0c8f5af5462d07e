"""A second take beside the first: which of its moments is seen when, where it stands, and where it differs how much."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import UP
from ..body.movement import SEGMENTS, Movement
from ..compare.comparison import Alignment, Comparison
from ..compare.differences import excess
from ..compare.quantities import quantities
from ..review import Review
from ..take import Floats

Place = Literal["ghost", "beside"]
#: How far beside the first dancer the second stands, metres. Proposed default.
BESIDE_M = 1.6
#: Sizes against the smallest difference that can be shown, and their level between calm (0) and the worst (1): from watch at the
#: edge to the worst at four times as much. Proposed default.
_SIZES, _LEVELS = (1.0, 1.1, 4.0), (0.0, 0.35, 1.0)


@dataclass(frozen=True)
class InStep:
    """samples (F,): of the second take for every frame of the first, between two of its own. shown (F,): False where the second
    does nothing that answers."""

    samples: Floats
    shown: NDArray[np.bool_]


def in_step(alignment: Alignment, a: Movement, b: Movement) -> InStep:
    """In step by what both dance."""
    return _at(alignment.to_b(a.time_s), b)


def by_the_music(a: Movement, b: Movement, first_count_a_s: float, first_count_b_s: float) -> InStep:
    """In step by the music that both were danced to: count 1 together."""
    return _at(a.time_s - first_count_a_s + first_count_b_s, b)


def _at(time_s: Floats, b: Movement) -> InStep:
    samples = time_s * b.rate_hz
    shown = np.isfinite(samples) & (samples > -0.5) & (samples < b.frames - 0.5)
    return InStep(np.clip(np.nan_to_num(samples), 0, b.frames - 1), shown)


@dataclass(frozen=True)
class Standing:
    """Where a take is put: turned about the vertical, then moved over the floor (3,)."""

    turn_rad: float
    shift_m: Floats

    def of(self, points: Floats) -> Floats:
        """Places (…, 3) of the second take in the room of the first."""
        cosine, sine = np.cos(self.turn_rad), np.sin(self.turn_rad)
        return np.asarray(points @ np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]]) + self.shift_m)


def standing(a: Movement, b: Movement, step: InStep, place: Place) -> Standing:
    """Put the whole second take where the first is, by heading and place only: no height, no leaning is taken away.

    The mean over all that answers; beside: so far to the first dancer's right as she faces at the start.
    """
    rows = step.samples.round().astype(np.int64)
    yaw = a.angle("pelvis_yaw") - b.angle("pelvis_yaw")[rows]
    centres = a.joint("pelvis"), b.joint("pelvis")[rows]
    known = step.shown & np.isfinite(yaw) & np.isfinite(centres[0]).all(axis=1) & np.isfinite(centres[1]).all(axis=1)
    if not known.any():
        return Standing(0.0, _beside(a, place))
    turn = float(np.arctan2(np.sin(yaw[known]).mean(), np.cos(yaw[known]).mean()))
    apart = (centres[0] - Standing(turn, np.zeros(3)).of(centres[1]))[known].mean(axis=0)
    return Standing(turn, apart * [1.0, 1.0, 0.0] + _beside(a, place))


def _beside(a: Movement, place: Place) -> Floats:
    forward = a.segment("pelvis")[:, :, 0]
    known = np.isfinite(forward).all(axis=1)
    if place == "ghost" or not known.any():
        return np.zeros(3)
    right = np.cross(forward[known][0], UP) * [1.0, 1.0, 0.0]
    return np.asarray(BESIDE_M * right / max(float(np.linalg.norm(right)), 1e-9))


def levels_of_differences(a: Review, b: Review, comparison: Comparison) -> Floats:
    """Levels (F, S) of SEGMENTS, for the frames of A: how far each part of B is beyond what measurement can show, 0 within."""
    time_s, sizes = excess(a, b, comparison.alignment, same_markers=comparison.same_markers)
    levels = np.zeros((a.movement.frames, len(SEGMENTS)))
    if not time_s.size:
        return levels
    told = np.interp(np.nan_to_num(sizes), _SIZES, _LEVELS)
    answered = np.isfinite(comparison.alignment.to_b(a.movement.time_s))
    for column, quantity in enumerate(quantities()):
        course = np.interp(a.movement.time_s, time_s, told[:, column]) * answered
        for part in quantity.parts:
            index = SEGMENTS.index(part)
            levels[:, index] = np.maximum(levels[:, index], course)
    return levels
