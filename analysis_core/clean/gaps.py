"""Gaps in marker paths: where they are, and short ones closed from the path itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..runs import runs
from ..take import CleaningEvent, Floats, Source

#: Up to this length the marker's own path may close a gap. Source: catalogue 3.3 (open comparison 2021).
SHORT_GAP_S = 0.1
#: Stretch on each side of a short gap that the curve is fitted to; at least so many frames.
_BESIDE_S = 0.06
_FRAMES_BESIDE = 5
#: Among other gaps so many known ones are looked for no further away than this. Proposed default.
_FURTHEST_S = 0.2
#: Order of the curve through both sides: a quintic, one degree per place, speed and acceleration at either end.
_ORDER = 5


@dataclass(frozen=True)
class Gap:
    """Missing samples of one marker: frames ``start`` to ``end`` (not included)."""

    marker: int
    start: int
    end: int

    @property
    def length(self) -> int:
        """Number of missing samples."""
        return self.end - self.start


def present(positions: Floats) -> NDArray[np.bool_]:
    """Which samples (F, ...) of positions (F, ..., 3) are there."""
    finite = np.isfinite(positions)
    # Column by column: asked for all of three numbers at a time it takes several times as long.
    return np.asarray(finite[..., 0] & finite[..., 1] & finite[..., 2])


def find_gaps(there: NDArray[np.bool_]) -> list[Gap]:
    """Every stretch of samples that are not there (F, N), also at the ends of the take, by marker and time."""
    return [Gap(int(marker), *run) for marker in np.flatnonzero(~there.all(axis=0)) for run in runs(~there[:, marker])]


def gap_events(gaps: list[Gap], labels: tuple[str, ...], source: NDArray[np.uint8], rate_hz: float) -> tuple[CleaningEvent, ...]:
    """Gaps as events; repaired where no sample of the gap is left open. Times of the first and last missing sample."""
    return tuple(
        CleaningEvent(
            "gap",
            labels[gap.marker],
            None,
            gap.start / rate_hz,
            (gap.end - 1) / rate_hz,
            bool((source[gap.start : gap.end, gap.marker] != Source.NONE).all()),
        )
        for gap in gaps
    )


def is_short(length: int, rate_hz: float) -> bool:
    """Whether a gap of so many samples may be closed by its own path; one that begins and ends on 0.1 s still may."""
    return length <= round(SHORT_GAP_S * rate_hz) + 1


def frames_beside(length: int, rate_hz: float) -> NDArray[np.int64]:
    """Frames on both sides, counted from the first missing sample, that a short gap of so many samples is closed from."""
    reach = max(_FRAMES_BESIDE, round(_BESIDE_S * rate_hz))
    return np.concatenate([np.arange(-reach, 0), np.arange(length, length + reach)])


def closing_weights(frames: NDArray[np.int64], length: int) -> Floats:
    """Weights (length, K) that make the missing samples 0 … length − 1 of a path from its samples in ``frames`` (K,)."""
    middle, half = 0.5 * (frames[0] + frames[-1]), 0.5 * (frames[-1] - frames[0])
    powers = np.arange(_ORDER + 1)
    known = ((frames - middle) / half)[:, None] ** powers
    inside = ((np.arange(length) - middle) / half)[:, None] ** powers
    return np.asarray(inside @ np.linalg.pinv(known))


def close_short(path: Floats, gap: Gap, rate_hz: float) -> Floats | None:
    """Samples (n, 3) of a short gap in a path (F, 3) from a quintic fitted to what is known close by on both sides, or None.

    None when the gap is not short, touches an end of the take, or has fewer than five known samples close by on one side.
    """
    if not is_short(gap.length, rate_hz):
        return None
    frames = _in_a_row(path, gap, rate_hz)
    if frames is None:
        frames = _scattered(path, gap, rate_hz)
    return None if frames is None else np.asarray(closing_weights(frames - gap.start, gap.length) @ path[frames])


def _in_a_row(path: Floats, gap: Gap, rate_hz: float) -> NDArray[np.int64] | None:
    """Known frames up to the next gap on either side; None where they are too few."""
    frames = frames_beside(gap.length, rate_hz) + gap.start
    frames = frames[(frames >= 0) & (frames < path.shape[0])]
    there = np.isfinite(path[frames, 0])
    before, after = frames < gap.start, frames >= gap.end
    near = np.where(before, np.cumprod((there | ~before)[::-1])[::-1], np.cumprod(there | ~after)).astype(bool)
    if min((near & before).sum(), (near & after).sum()) < _FRAMES_BESIDE:
        return None
    return np.asarray(frames[near], dtype=np.int64)


def _scattered(path: Floats, gap: Gap, rate_hz: float) -> NDArray[np.int64] | None:
    """Known frames among other gaps, as where samples are lost at random: those near by, or the nearest few a little further."""
    furthest, near = round(_FURTHEST_S * rate_hz), int(frames_beside(0, rate_hz)[-1]) + 1
    before, after = (
        start + np.flatnonzero(np.isfinite(path[start:stop, 0]))
        for start, stop in ((max(0, gap.start - furthest), gap.start), (gap.end, gap.end + furthest))
    )
    if min(before.size, after.size) < _FRAMES_BESIDE:
        return None
    left = max(_FRAMES_BESIDE, int((before >= gap.start - near).sum()))
    right = max(_FRAMES_BESIDE, int((after < gap.end + near).sum()))
    return np.concatenate([before[-left:], after[:right]], dtype=np.int64)
