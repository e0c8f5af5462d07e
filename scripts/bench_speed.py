"""How fast the analysis is, beside reading the same file with ezc3d and filtering it once with scipy."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from bench_common import SETTINGS, STATIC, TAKE, Row, seconds
from in_the_round.analysis_core.analyse import analyse, analyse_take
from in_the_round.analysis_core.capture import check
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.review import write_review
from in_the_round.analysis_core.settings import Settings
from yardstick import read_and_filter

TEN_MINUTES_S = 600.0


def verdict() -> list[Row]:
    """The capture verdict from file."""
    return [Row("capture verdict of the demo take, warm", seconds(lambda: check(TAKE, Settings())), "s", 1.0)]


def review() -> list[Row]:
    """The whole review, from file to files."""
    with tempfile.TemporaryDirectory() as folder:
        whole = seconds(lambda: write_review(analyse(TAKE, SETTINGS), Path(folder), overwrite=True))
    yardstick = seconds(lambda: read_and_filter(TAKE))
    return [
        Row("full review of the demo take, warm", whole, "s", 1.0),
        Row("yardstick: ezc3d reads it, scipy filters it once", yardstick, "s"),
        Row("review / yardstick", whole / yardstick, "×", 6.0),
    ]


def _processor_s(words: Sequence[str], times: int = 5) -> float:
    """The least processor time that a whole process of Python takes, of some runs: what else the machine does only adds to it."""
    import resource

    best = float("inf")
    for _ in range(times):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        best = min(best, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return best


def whole_processes() -> list[Row]:
    """Commands from start to end, beside a process that only reads the file and filters it once."""
    command = ("-m", "in_the_round.command_line")
    yardstick = _processor_s((str(Path(__file__).parent / "yardstick.py"), str(TAKE)))
    with tempfile.TemporaryDirectory() as folder:
        words = ("review", str(TAKE), "--static", str(STATIC), "--out", folder, "--force")
        whole = _processor_s((*command, *words))
    return [
        Row("help, processor", _processor_s((*command, "--help")), "s", 0.2),
        Row("yardstick: a process with ezc3d and scipy, processor", yardstick, "s"),
        Row("check / yardstick", _processor_s((*command, "check", str(TAKE))) / yardstick, "×", 1.3),
        Row("review / yardstick", whole / yardstick, "×", 2.0),
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
