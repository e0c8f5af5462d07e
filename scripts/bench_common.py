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
    """One number beside what it should be. most, least: the end that meets the target; None when there is only a value."""

    what: str
    value: float
    unit: str
    most: float | None = None
    least: float | None = None

    @property
    def verdict(self) -> str:
        """Whether the target is met; empty without one."""
        if self.most is not None:
            return f"target ≤ {self.most:g}: {'met' if self.value <= self.most else 'MISSED'}"
        if self.least is not None:
            return f"target ≥ {self.least:g}: {'met' if self.value >= self.least else 'MISSED'}"
        return ""


def table(rows: Sequence[Row]) -> str:
    """The rows as aligned text."""
    width = max((len(row.what) for row in rows), default=0)
    lines = (f"  {row.what.ljust(width)}  {row.value:9.3f} {row.unit.ljust(4)}   {row.verdict}".rstrip() for row in rows)
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
