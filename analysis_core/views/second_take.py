"""A second take beside the first: which of its moments is seen when, where it stands, and where it differs how much."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..body.geometry import UP, interpolated
from ..body.movement import SEGMENTS, Movement
from ..compare.comparison import Alignment, Comparison
from ..compare.differences import excess
from ..compare.quantities import quantities
from ..review import Review
from ..take import Floats

Place = Literal["ghost", "beside"]
#: How far beside the first dancer the second stands, metres. Proposed default.
BESIDE_M = 1.6
#: In so long at its start a step says where its dancer is, and in so long before it the second take is taken there, s. Proposed
#: default.
_SETTLE_S = 0.3
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


def standing_by_step(a: Review, b: Movement, step: InStep) -> tuple[Floats, Floats]:
    """Put the second take where the first is at the start of every step: what travels differently is seen within the step and is
    not carried on into the next. By heading and place only, as ``standing``.

    Returns the turn about the vertical (F,), radians, and the shift over the floor (F, 3), for the frames of the first take.
    """
    movement, frames = a.movement, np.arange(a.movement.frames)
    whole = standing(movement, b, step, "ghost")
    blend = max(round(_SETTLE_S * movement.rate_hz), 1)
    starts = _starts(a, blend)
    placed = [_at_the_start(movement, b, step, frames[start : start + blend]) or whole for start in starts]
    turns = np.unwrap([one.turn_rad for one in placed])
    # Held through the step; before the next one begins it is taken there.
    at = np.concatenate([[0], *((max(start - blend, 0), start) for start in starts[1:]), [movement.frames]])
    which = np.concatenate([[0], *((index, index + 1) for index in range(len(starts) - 1)), [len(starts) - 1]])
    turn = np.interp(frames, at, turns[which])
    # Turned about where the dancer is, and not about the middle of the room.
    rows = step.samples.round().astype(np.int64)
    # Where it is not known nothing is shown.
    other = np.nan_to_num(b.joint("pelvis")[rows])
    centres = np.array([other[start : start + blend].mean(axis=0) for start in starts])
    aims = np.array([one.of(centre) for one, centre in zip(placed, centres, strict=True)])
    centre, aim = (interpolated(frames, at, one[which]) for one in (centres, aims))
    cosine, sine = np.cos(turn), np.sin(turn)
    x, y = centre[:, 0], centre[:, 1]
    turned = np.stack([cosine * x - sine * y, sine * x + cosine * y], axis=1)
    shift = np.zeros_like(other)
    shift[:, :2] = aim[:, :2] - turned
    return turn, shift


def _starts(a: Review, blend: int) -> list[int]:
    """First frames of the steps of a take, far enough apart to settle in between; the first frame of the take is one.

    A turn or a jump is one step, whatever begins within it.
    """
    whole = [(phase.start, phase.end) for phase in a.phrase.phases if phase.kind in ("turn", "jump")]
    starts = [0]
    for start in sorted(phase.start for phase in a.phrase.phases):
        inside = any(first < start <= last for first, last in whole)
        if not inside and start - starts[-1] >= 2 * blend and start + blend <= a.movement.frames:
            starts.append(start)
    return starts


def _at_the_start(a: Movement, b: Movement, step: InStep, frames: NDArray[np.int64]) -> Standing | None:
    """Where the second take is put by a few frames alone; None where nothing answers there."""
    known = step.shown[frames] & np.isfinite(a.joint("pelvis")[frames]).all(axis=1)
    if not known.any():
        return None
    only = np.zeros(a.frames, dtype=bool)
    only[frames] = True
    return standing(a, b, InStep(step.samples, step.shown & only), "ghost")


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
