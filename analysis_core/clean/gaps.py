"""Gaps in marker paths: where they are, and the short ones closed from the path itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import CleaningEvent, Floats, Source
from .smoothing import runs

#: Up to this length the marker's own path closes a gap better than anything else. Source: catalogue 3.3 (open comparison 2021).
SHORT_GAP_S = 0.1
#: Stretch on each side of a short gap that the curve is fitted to; at least this many frames where there are any.
_BESIDE_S = 0.06
_FRAMES_BESIDE = 5
#: Order of the curve through both sides: a quintic, one degree per value, speed and acceleration at either end.
_ORDER = 5


@dataclass(frozen=True)
class Gap:
    """Missing samples of one marker: frames ``start`` to ``end`` (not included)."""

    marker: int
    start: int
    end: int


def present(positions: Floats) -> NDArray[np.bool_]:
    """Which samples (F, N) of positions (F, N, 3) are there."""
    return np.asarray(np.isfinite(positions).all(axis=2))


def find_gaps(positions: Floats) -> list[Gap]:
    """Every stretch of missing samples, also at the beginning and the end of the take, by marker and time."""
    missing = ~present(positions)
    return [Gap(int(marker), *run) for marker in np.flatnonzero(missing.any(axis=0)) for run in runs(missing[:, marker])]


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


def close_short(positions: Floats, gap: Gap, rate_hz: float) -> Floats | None:
    """Samples (gap, 3) of a short gap from a quintic fitted to both sides and led to the ends, or None.

    None when the gap is longer than SHORT_GAP_S, touches an end of the take, or has fewer than five frames in a row beside it.
    """
    length = gap.end - gap.start
    if length > round(SHORT_GAP_S * rate_hz) + 1 or gap.start == 0 or gap.end == positions.shape[0]:
        return None
    reach = max(_FRAMES_BESIDE, round(_BESIDE_S * rate_hz))
    path = positions[:, gap.marker]
    there = np.isfinite(path[:, 0])
    before = np.arange(gap.start - _in_a_row(there[: gap.start][::-1][:reach]), gap.start)
    after = np.arange(gap.end, gap.end + _in_a_row(there[gap.end :][:reach]))
    if min(before.size, after.size) < _FRAMES_BESIDE:
        return None
    frames = np.concatenate([before, after])
    middle, half = 0.5 * (before[0] + after[-1]), 0.5 * (after[-1] - before[0])
    powers = np.arange(_ORDER + 1)
    known = path[frames]
    fitted, *_ = np.linalg.lstsq(((frames - middle) / half)[:, None] ** powers, known, rcond=None)
    inside = np.arange(gap.start, gap.end)
    return np.asarray(((inside - middle) / half)[:, None] ** powers @ fitted)


def _in_a_row(there: NDArray[np.bool_]) -> int:
    """How many samples (K,) from the first on are there without a break."""
    return int(there.size if there.all() else np.argmin(there))
