"""Steps that loop: where the dancer comes back to the pose that she left, how well that closes, and the seam closed.

Distance of poses after Kovar, Gleicher and Pighin 2002 (motion graphs): joints seen from the heading of the pelvis, with the way
they are going, over a short window.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from ..body.rotations import turned_by, vectors_of
from ..phrase.signals import derivative
from ..smoothed import least_around, mean
from ..take import Floats
from .limits import limits
from .rig import Rig, rig_of
from .skeleton import Skeleton
from .timing import cut
from .wishes import Root

#: Accelerations that differ by less are alike: a perfect repeat has the same at its seam as in the take.
_ALIKE = 1.001
#: Gaps around a gap decide where it is alike: they count so little, and none more than this, metres. Proposed defaults.
_TIE, _FAR_M = 0.002, 0.2

Closes = Literal["closes", "look first"]


@dataclass(frozen=True)
class Loop:
    """A proposal: frames start ≤ t < stop of the take, of which frame ``stop`` is like ``start``.

    gap_m: root mean square of the joints between both ends, with 0.1 s of where they are going. turn_rad, travel_m (2,): how far
    a cycle turns about the vertical and travels forward and to the left, seen from the start. seam, usual: greatest acceleration
    of a joint within the closed seam, and the loop's own 99 % or, if higher, what it was at both ends, m/s². closed: its frames
    with the seam closed, ``stop`` included. accepted: whether the seam stays below that.
    """

    start: int
    stop: int
    gap_m: float
    turn_rad: float
    travel_m: Floats
    seam_m_s2: float
    usual_m_s2: float
    closed: Skeleton

    @property
    def closes(self) -> Closes:
        """How well, in a word."""
        return "closes" if self.gap_m <= limits()["loops"]["offer_m"] else "look first"

    @property
    def accepted(self) -> bool:
        """Whether the closed seam is no jerkier than the step itself."""
        return self.seam_m_s2 <= self.usual_m_s2 * _ALIKE


def loops_told(loops: Sequence[Loop], rate_hz: float) -> list[dict[str, Any]]:
    """What the note says of loops; only those whose seam is accepted have a name, that of their clip."""
    accepted = [loop for loop in loops if loop.accepted]
    return [
        {
            "name": f"loop-{accepted.index(loop) + 1}" if loop.accepted else None,
            "start_s": loop.start / rate_hz,
            "end_s": loop.stop / rate_hz,
            "closes": loop.closes,
            "gap_mm": 1000 * loop.gap_m,
            "turn_deg": float(np.degrees(loop.turn_rad)),
            "travel_mm": {"forward": 1000 * float(loop.travel_m[0]), "left": 1000 * float(loop.travel_m[1])},
            "seam_m_s2": loop.seam_m_s2,
            "usual_m_s2": loop.usual_m_s2,
        }
        for loop in loops
    ]


def clips_of(loops: Sequence[Loop], root: Root) -> tuple[tuple[str, Rig], ...]:
    """The accepted loops with their seams closed, each named, as rigs whose last frame is the first (but for turn and travel)."""
    accepted = [loop for loop in loops if loop.accepted]
    return tuple((f"loop-{number}", rig_of(loop.closed, root)) for number, loop in enumerate(accepted, 1))


def _headings(skeleton: Skeleton, rows: slice = slice(None)) -> Floats:
    """Where the pelvis heads (F,), radians, without jumps."""
    forward = skeleton.turned[rows, 0] @ np.array([0.0, -1.0, 0.0])
    headings: Floats = np.unwrap(np.arctan2(forward[:, 0], -forward[:, 1]))
    return headings


def _features(skeleton: Skeleton, rate_hz: float) -> Floats:
    """Poses (F, J·3) from the heading of the pelvis, its place on the floor off, with what they do within the foresight."""
    heads = skeleton.heads_m
    local = heads - skeleton.pelvis_m[:, None] * [1.0, 1.0, 0.0]
    back = turned_by(-_headings(skeleton)[:, None] * [0.0, 0.0, 1.0])
    local = np.einsum("fij,fsj->fsi", back, local)
    flat = local.reshape(len(local), -1)
    ahead: Floats = flat + limits()["loops"]["foresight_s"] * derivative(flat, rate_hz, 1, 0.1)
    return ahead


def _distances(features: Floats, lag: int, half: int) -> Floats:
    """Root mean square per joint between poses a lag apart, averaged over ``half`` frames before and behind along the diagonal:
    for (F − lag − 2 · half,) frames from ``half`` on."""
    apart = features[lag:] - features[:-lag]
    squares = np.einsum("fc,fc->f", apart, apart) / (features.shape[1] // 3)
    return np.convolve(np.sqrt(squares), np.full(2 * half + 1, 1.0 / (2 * half + 1)), "valid")


def find_loops(skeleton: Skeleton) -> tuple[Loop, ...]:
    """Proposals in order of how well they close, none overlapping a better one; contacts alike at both ends, and the body moves.

    What never comes back to its pose gets none. Only where every joint is known.
    """
    limit = limits()["loops"]
    step = max(1, round(skeleton.rate_hz / limit["search_hz"]))
    coarse = replace(
        skeleton, turned=skeleton.turned[::step], pelvis_m=skeleton.pelvis_m[::step], rate_hz=skeleton.rate_hz / step,
        known=skeleton.known[::step], on_floor=skeleton.on_floor[::step],
    )  # fmt: skip
    rate, features = coarse.rate_hz, _features(coarse, coarse.rate_hz)
    half = max(1, round(limit["window_s"] * rate))
    speed = np.linalg.norm(derivative(coarse.heads_m, rate, 1, 0.1), axis=2).mean(axis=1)
    moved = np.concatenate([[0.0], np.cumsum(np.nan_to_num(speed))])
    unknown = np.concatenate([[0], np.cumsum(~coarse.known.all(axis=1))])
    # Of the longest that fits into the take, one is left to begin with.
    longest = min(round(limit["longest_s"] * rate), coarse.frames - 2 * half - 1)
    lags = np.arange(round(limit["shortest_s"] * rate), longest + 1)
    if not lags.size:
        return ()
    gaps = np.full((len(lags), coarse.frames), np.inf)
    for row, lag in enumerate(lags.tolist()):
        begin, end = slice(half, coarse.frames - lag - half), slice(half + lag, coarse.frames - half)
        alike = (coarse.on_floor[begin] == coarse.on_floor[end]).all(axis=1)
        moving = (moved[end] - moved[begin]) / lag >= limit["moving_m_s"]
        known = unknown[half + lag + 1 : coarse.frames - half + 1] == unknown[begin]
        gaps[row, begin] = np.where(alike & moving & known, _distances(features, lag, half), np.inf)
    # The best of their neighbours in start and in length. Out of a pose that is held, lengths off the beat close as well as the
    # one on it: where gaps are alike that length is better which closes from more beginnings.
    around = mean(np.minimum(gaps, _FAR_M).T, 2 * round(limit["around_s"] * rate) + 1).T
    gaps_on_beat = np.maximum(gaps, limit["alike_m"]) + _TIE * around
    rows, starts = np.nonzero((gaps <= limit["look_m"]) & (gaps_on_beat <= least_around(gaps_on_beat, half)))
    found = [(float(gaps[r, i]), int(i) * step, int(i + lags[r]) * step) for r, i in zip(rows, starts, strict=True)]
    chosen: list[Loop] = []
    accelerations = _accelerations(skeleton) if found else np.empty(0)
    # Two rounds close as well as one: of loops that close alike the shorter goes first.
    for gap, start, stop in sorted(found, key=lambda one: (round(one[0] / limit["alike_m"]), one[2] - one[1], one[0])):
        if all(stop <= other.start or start >= other.stop for other in chosen):
            chosen.append(_told(skeleton, accelerations, start, stop, gap))
    return tuple(chosen)


def _window_s(rate_hz: float) -> float:
    """The window of accelerations, seconds."""
    return max(0.03, 5.0 / rate_hz)


def _accelerations(skeleton: Skeleton) -> Floats:
    """The greatest acceleration of a joint (F,), m/s²."""
    vectors = derivative(skeleton.heads_m, skeleton.rate_hz, 2, _window_s(skeleton.rate_hz))
    greatest: Floats = np.linalg.norm(vectors, axis=2).max(axis=1)
    return greatest


def _told(skeleton: Skeleton, accelerations: Floats, start: int, stop: int, gap: float) -> Loop:
    """A proposal with its seam. accelerations (F,): those of the take."""
    headings = _headings(skeleton, slice(start, stop + 1))
    turn = float(headings[-1] - headings[0])
    ahead = turned_by(np.array([0.0, 0.0, -headings[0]])) @ (skeleton.pelvis_m[stop] - skeleton.pelvis_m[start])
    closed = close_loop(skeleton, start, stop)
    length, near = stop - start, max(2, round(_window_s(skeleton.rate_hz) * skeleton.rate_hz))
    # The frames around the seam, with what accelerations there are made of.
    reach = min(length, 3 * near)
    around = _accelerations(over_the_seam(closed, turn, reach))
    seam, *ends = (
        float(values[max(0, place - near) : place + near + 1].max())
        for values, place in ((around, reach), (accelerations, start), (accelerations, stop))
    )
    # Where the dancer herself is at her quickest, at both ends, a seam may be as quick: a perfect repeat is.
    usual = max(float(np.quantile(accelerations[start:stop], 0.99)), min(ends))
    # Forward is −Y at rest, left +X.
    return Loop(start, stop, gap, turn, np.array([-ahead[1], ahead[0]]), seam, usual, closed)


def _fade(frames: int, count: int) -> tuple[Floats, Floats]:
    """Two quintics (frames,) over the first ``count`` frames: from a value of one, and from a slope of one a frame, to nothing
    with nothing left of slope and bend."""
    share = np.clip(np.arange(frames) / count, 0.0, 1.0)
    value = 1.0 - share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
    slope = count * (share - 6.0 * share**3 + 8.0 * share**4 - 3.0 * share**5)
    return value, slope


def _corrections(frames: int, count: int, gap: Floats, speed: Floats) -> tuple[Floats, Floats]:
    """What is added (frames, C) after the beginning and before the end, so that half of the gap (C,) between them and half of the
    gap of their speeds goes to either side of the seam and fades."""
    value, slope = (one[:, None] for one in _fade(frames, count))
    return 0.5 * (value * gap + slope * speed), 0.5 * (slope[::-1] * speed - value[::-1] * gap)


def _alike_steps(start: int, stop: int, frames: int) -> tuple[int, int]:
    """Frames from which a step to the next is taken at the beginning and at the end of a loop: both after, or both before it.

    A step after the one and before the other would differ by what the movement gains in a frame, and a perfect repeat be bent.
    """
    if stop + 1 < frames:
        return start, stop
    return max(start - 1, 0), stop - 1


def _step(skeleton: Skeleton, frame: int) -> tuple[Floats, Floats]:
    """What a frame brings to the next: turns (S, 3), rotation vectors in the world, and travel of the pelvis (3,)."""
    before, after = skeleton.turned[frame], skeleton.turned[frame + 1]
    turns: Floats = vectors_of(after @ np.swapaxes(before, -1, -2))
    return turns, skeleton.pelvis_m[frame + 1] - skeleton.pelvis_m[frame]


def close_loop(skeleton: Skeleton, start: int, stop: int) -> Skeleton:
    """Frames start ≤ t ≤ stop with the end brought onto the beginning (but for its turn and travel): the last frame is the first.

    The gap goes half before and half after the seam, each by a quintic that takes the gap and its speed to nothing.
    """
    own = cut(skeleton, start, stop + 1)
    headings = _headings(own)
    turn = headings[-1] - headings[0]
    back = turned_by(np.array([0.0, 0.0, -turn]))
    count = min(round(limits()["loops"]["closing_s"] * skeleton.rate_hz), (stop - start) // 2)
    # Rotations of the end against those of the beginning, seen without the turn of a cycle, as vectors: the gap is small.
    gap = vectors_of(back @ own.turned[-1] @ np.swapaxes(own.turned[0], -1, -2))
    (spun, gone), (spun_last, gone_last) = (_step(skeleton, frame) for frame in _alike_steps(start, stop, skeleton.frames))
    speed = spun_last @ back.T - spun
    early, late = _corrections(own.frames, count, gap.ravel(), speed.ravel())
    turned = own.turned.copy()
    # Between the two nothing is turned.
    turned[:count] = _matrices(early[:count]) @ turned[:count]
    turned[-count:] = back.T @ _matrices(late[-count:]) @ back @ turned[-count:]
    # The travel of a cycle stays; height and speed are made to agree.
    lift = (own.pelvis_m[-1] - own.pelvis_m[0]) * [0.0, 0.0, 1.0]
    first, last = _corrections(own.frames, count, lift, back @ gone_last - gone)
    return replace(own, turned=turned, pelvis_m=own.pelvis_m + first + last @ back)


def _matrices(turns: Floats) -> Floats:
    """Rotations (F, S, 3, 3) of rotation vectors (F, S · 3)."""
    matrices: Floats = turned_by(turns.reshape(-1, 3)).reshape(len(turns), -1, 3, 3)
    return matrices


def over_the_seam(closed: Skeleton, turn: float, reach: int) -> Skeleton:
    """The last ``reach`` frames of a closed loop and the first of its next round, which goes on where that one came to, turned by
    the turn of a cycle."""
    last, first = cut(closed, closed.frames - 1 - reach, closed.frames - 1), cut(closed, 0, reach)
    spin = turned_by(np.array([0.0, 0.0, turn]))
    return replace(
        closed,
        turned=np.concatenate([last.turned, spin @ first.turned]),
        pelvis_m=np.concatenate([last.pelvis_m, closed.pelvis_m[-1] + (first.pelvis_m - closed.pelvis_m[0]) @ spin.T]),
        known=np.concatenate([last.known, first.known]),
        on_floor=np.concatenate([last.on_floor, first.on_floor]),
    )
