"""What the groups of the bench share: the demo takes, a row, how rows are printed, how a time is taken."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from in_the_round.analysis_core.settings import Settings

DATA = Path(__file__).resolve().parent.parent / "demo_data"
TAKE, STATIC = DATA / "careless.c3d", DATA / "static.c3d"
SETTINGS = Settings(static=STATIC)


@dataclass(frozen=True)
class Row:
    """One number beside what it should be. most: the largest value that meets the target; None when there is only a value."""

    what: str
    value: float
    unit: str
    most: float | None = None


def table(rows: Sequence[Row]) -> str:
    """The rows as aligned text."""
    width = max((len(row.what) for row in rows), default=0)
    lines = []
    for row in rows:
        verdict = "" if row.most is None else f"   target ≤ {row.most:g}: {'met' if row.value <= row.most else 'MISSED'}"
        lines.append(f"  {row.what.ljust(width)}  {row.value:9.3f} {row.unit.ljust(4)}{verdict}")
    return "\n".join(lines)


def seconds(work: Callable[[], object], times: int = 3) -> float:
    """The shortest of some runs, after one that warms up: what else the machine does only adds time."""
    work()
    best = float("inf")
    for _ in range(times):
        started = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - started)
    return best
