"""How fast the analysis is, beside reading the same file with ezc3d and filtering it once with scipy."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import ezc3d
import numpy as np
from bench_common import SETTINGS, TAKE, Row, seconds
from in_the_round.analysis_core.analyse import analyse, analyse_take
from in_the_round.analysis_core.capture import check
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.review import write_review
from in_the_round.analysis_core.settings import Settings
from scipy import signal

TEN_MINUTES_S = 600.0


def _read_and_filter() -> None:
    """The yardstick: the least that any analysis of this file would do."""
    points = ezc3d.c3d(str(TAKE))["data"]["points"][:3].transpose(2, 1, 0)
    b, a = signal.butter(4, 6.0 / 120.0)
    signal.filtfilt(b, a, np.nan_to_num(points), axis=0)


def verdict() -> list[Row]:
    """The capture verdict from file."""
    return [Row("capture verdict of the demo take, warm", seconds(lambda: check(TAKE, Settings())), "s", 1.0)]


def review() -> list[Row]:
    """The whole review, from file to files."""
    with tempfile.TemporaryDirectory() as folder:
        whole = seconds(lambda: write_review(analyse(TAKE, SETTINGS), Path(folder), overwrite=True))
    yardstick = seconds(_read_and_filter)
    return [
        Row("full review of the demo take, warm", whole, "s", 1.0),
        Row("yardstick: ezc3d reads it, scipy filters it once", yardstick, "s"),
        Row("review / yardstick", whole / yardstick, "×", 10.0),
    ]


def _repeated(duration_s: float) -> tuple[float, float, float]:
    """Analyse the demo take, repeated up to a length: seconds, MB of the raw array, peak MB above the start of the process."""
    import resource

    take = read_take(TAKE, SETTINGS)
    times = max(1, round(duration_s / take.duration_s))
    longer = replace(take, positions_m=np.tile(take.positions_m, (times, 1, 1)), force_plates=(), events=())
    analyse_take(take, SETTINGS)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    started = time.perf_counter()
    analyse_take(longer, SETTINGS)
    took = time.perf_counter() - started
    # Kilobytes on Linux, bytes on macOS.
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return took, longer.positions_m.nbytes / 1e6, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / unit


def _in_a_process(duration_s: float) -> tuple[float, float, float]:
    """The same in a process of its own, since the peak of memory never falls."""
    words = [sys.executable, __file__, str(duration_s)]
    took, raw, peak = json.loads(subprocess.run(words, capture_output=True, text=True, check=True).stdout.splitlines()[-1])
    return took, raw, peak


def ten_minutes() -> list[Row]:
    """Growth of time and memory with the length of a take."""
    short, _, _ = _in_a_process(20.0)
    long, raw, peak = _in_a_process(TEN_MINUTES_S)
    return [
        Row("analysis of ten minutes", long, "s"),
        Row("time per frame, ten minutes / twenty seconds", long / short / (TEN_MINUTES_S / 20.0), "×", 1.0),
        Row("peak memory", peak, "MB", 8.0 * raw + 250.0),
    ]


if __name__ == "__main__":
    print(json.dumps(_repeated(float(sys.argv[1]))))
