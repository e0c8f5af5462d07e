"""What goes wrong when markers record a dance, one small class for each source of error.

Every source draws what it would have done to other recordings of the same dance: arrays whose first axis counts the recordings,
the first of which is the recording itself and has no error. Vectors are in the axes of the segment that a marker or joint
belongs to, metres. M markers, N frames, J joints.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats
from .anatomy import OTHER_SUFFIX, SIDE_SUFFIXES
from .movement import SEGMENTS, Movement

#: Noise left after smoothing, and what a fast marker adds; metres. Source: catalogue 3.5 (static 0.15 mm, dynamic below 2 mm).
_STILL_NOISE_M, _FAST_NOISE_M, _FAST_M_S = 0.0002, 0.0010, 2.0
#: Bend at which the skin has moved by the table's amount, and the acceleration that shakes it half as much. Proposed defaults.
_FULL_BEND_RAD, _HARD_M_S2 = np.radians(120.0), 40.0
#: A segment that is shaken as hard as that moves its skin by this share of what a full bend does. Proposed default.
_SHAKEN_SHARE = 0.5
#: Over so long an acceleration is taken.
_SHAKE_S = 0.02
#: A marker that disagrees with its segment, or was filled in, is wrong in much the same way so long after. Proposed default.
_SAME_WAY_S = 0.4
#: The segments whose bend against a segment drags its skin along.
_BESIDE = {
    "pelvis": ("thigh.L", "thigh.R"),
    "thorax": ("upper_arm.L", "upper_arm.R", "pelvis"),
    "head": ("thorax",),
    "thigh": ("pelvis", "shank"),
    "shank": ("thigh", "foot"),
    "foot": ("shank",),
    "toes": ("shank",),
    "clavicle": ("thorax", "upper_arm"),
    "upper_arm": ("thorax", "forearm"),
    "forearm": ("upper_arm",),
    "hand": ("forearm",),
}


class Draws:
    """Random vectors for the other recordings; the first is the recording itself, with none.

    Half of the others are the mirror images of the other half, so that a mirrored dance has the same errors on the other side.
    """

    def __init__(self, draws: int, seed: int) -> None:
        self.half = draws // 2
        self.random = np.random.default_rng(seed)

    def of(self, names: Sequence[str], rows: int = 1) -> Floats:
        """Standard normal vectors (draws + 1, rows, len(names), 3) in the axes of the segments that ``names`` belong to."""
        place = {name: i for i, name in enumerate(names)}
        twins = [place.get(name[:-2] + OTHER_SUFFIX.get(name[-2:], name[-2:]), i) for i, name in enumerate(names)]
        drawn = self.random.normal(size=(self.half, rows, len(names), 3))
        # Every direction has exactly the spread that it should have: fewer draws are needed then.
        drawn /= np.sqrt(np.mean(drawn**2, axis=0))
        mirrored = drawn[:, :, twins] * np.array([1.0, 1.0, -1.0])
        return np.concatenate([np.zeros((1, rows, len(names), 3)), drawn, mirrored])


@dataclass(frozen=True)
class Landmarks:
    """Markers that were stuck beside their landmarks, by the same way all through a take. sd_m (M,): in each direction."""

    names: Sequence[str]
    sd_m: Floats

    def drawn(self, draws: Draws) -> Floats:
        """How far beside (K, M, 3)."""
        return draws.of(self.names)[:, 0] * self.sd_m[:, None]


@dataclass(frozen=True)
class Skin:
    """Skin that slides over the bone. sd_m (M,): in each direction in a full bend.

    segments (M,): place of each marker's segment in SEGMENTS. bend, shake (N, M): 0 to 1, how far the joints beside the segment
    are bent and how hard it is shaken; a segment that is shaken fully slides half as far. Half of the way, by its square, the
    markers of a segment have in common.
    """

    names: Sequence[str]
    segments: NDArray[np.int64]
    sd_m: Floats
    bend: Floats
    shake: Floats

    def drawn(self, draws: Draws) -> Floats:
        """How far it has slid (K, N, M, 3)."""
        slid = np.zeros((1, 1, 1, 1))
        for share, amount in ((1.0, self.bend), (_SHAKEN_SHARE, self.shake)):
            direction = np.sqrt(0.5) * (draws.of(SEGMENTS)[:, :, self.segments] + draws.of(self.names))
            slid = slid + share * amount[:, :, None] * self.sd_m[:, None] * direction
        return slid


@dataclass(frozen=True)
class Samples:
    """Noise and filled samples. noise_m (N, M): in each direction, new in every frame; same_way_m (N, M): what errs in the
    same way for a while, where a sample was filled or its segment's markers disagree. time_s (N,): rising."""

    names: Sequence[str]
    time_s: Floats
    noise_m: Floats
    same_way_m: Floats

    def drawn(self, draws: Draws) -> Floats:
        """How far beside (K, N, M, 3)."""
        noise = draws.of(self.names, self.time_s.size) * self.noise_m[:, :, None]
        same_way = lasting_a_while(draws.of(self.names, self.time_s.size), self.time_s)
        each = self.same_way_m[:, :, None]
        return np.asarray(noise + same_way * each)


@dataclass(frozen=True)
class Centres:
    """Joint centres, or the centre of mass, that lie elsewhere than where they are taken to be. sd_m (J,): in each direction."""

    names: Sequence[str]
    sd_m: Floats

    def drawn(self, draws: Draws) -> Floats:
        """How far elsewhere (K, J, 3)."""
        return draws.of(self.names)[:, 0] * self.sd_m[:, None]


def lasting_a_while(drawn: Floats, time_s: Floats) -> Floats:
    """Independent vectors (K, N, M, 3) made alike over _SAME_WAY_S, at rising times (N,): each is led on from the one before."""
    led_on = np.exp(-np.diff(time_s) / _SAME_WAY_S)
    result = drawn.copy()
    for i, share in enumerate(led_on, start=1):
        result[:, i] = share * result[:, i - 1] + np.sqrt(1 - share**2) * drawn[:, i]
    return result


def noise_left_m(smooth_m: Floats, frames: NDArray[np.int64], rate_hz: float) -> Floats:
    """Noise of the markers in some frames (N, M) in each direction, metres: what smoothing leaves, more where one is fast."""
    fast = np.tanh(speeds(smooth_m, frames, rate_hz) / _FAST_M_S)
    return np.asarray(np.hypot(_STILL_NOISE_M, _FAST_NOISE_M * fast) / np.sqrt(3.0))


def bends(rotations: Floats, standing: Floats) -> dict[str, Floats]:
    """How far (N,) each segment's joints are bent from standing, in full bends; rotations (N, S, 3, 3), standing (S, 3, 3).

    Turning about the long axis drags little skin along and does not count; of several joints the one that is bent most does.
    """

    def between(first: str, second: str) -> Floats:
        i, j = SEGMENTS.index(first), SEGMENTS.index(second)
        now = np.einsum("ni,ni->n", rotations[:, i, :, 1], rotations[:, j, :, 1])
        stood = standing[i, :, 1] @ standing[j, :, 1]
        return np.asarray(np.abs(np.arccos(np.clip(now, -1.0, 1.0)) - np.arccos(np.clip(stood, -1.0, 1.0))))

    result = {}
    for stem, others in _BESIDE.items():
        for suffix in ("",) if stem in ("pelvis", "thorax", "head") else SIDE_SUFFIXES:
            names = [o if o in SEGMENTS else o + suffix for o in others]
            angle = np.max([np.nan_to_num(between(name, stem + suffix)) for name in names], axis=0)
            result[stem + suffix] = np.tanh(angle / _FULL_BEND_RAD)
    return result


def shakes(movement: Movement, frames: NDArray[np.int64]) -> Floats:
    """How hard (N, S) each segment is shaken, 0 to 1."""
    away = max(1, round(_SHAKE_S * movement.rate_hz))
    inside = np.clip(frames, away, max(movement.frames - 1 - away, away))
    if movement.frames <= 2 * away:
        return np.zeros((frames.size, len(SEGMENTS)))
    origins = movement.segment_origins_m
    second = origins[inside + away] - 2 * origins[inside] + origins[inside - away]
    acceleration = np.linalg.norm(second, axis=2) * (movement.rate_hz / away) ** 2
    return np.asarray(np.tanh(np.nan_to_num(acceleration) / _HARD_M_S2))


def speeds(smooth: Floats, frames: NDArray[np.int64], rate_hz: float) -> Floats:
    """Speed (N, M) of the markers, m/s."""
    last = smooth.shape[0] - 1
    after, before = np.minimum(frames + 1, last), np.maximum(frames - 1, 0)
    apart = np.maximum(after - before, 1)[:, None] / rate_hz
    return np.asarray(np.nan_to_num(np.linalg.norm(smooth[after] - smooth[before], axis=2) / apart))
