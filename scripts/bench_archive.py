"""The bench of the archive: what a second worker gains, and the bookkeeping of ten thousand takes."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench_common import STATIC, TAKE, Row
from in_the_round.analysis_core.archive import run as running
from in_the_round.analysis_core.archive.ledger import Ledger
from in_the_round.analysis_core.archive.run import Options, run_archive
from in_the_round.analysis_core.archive.summary import write_summary
from in_the_round.analysis_core.archive.tables import write_tables

_TAKES, _TAKE_S = 18, 20.0
_ONE_PROCESS = """
import sys, time
from pathlib import Path
from in_the_round.analysis_core.archive.task import Job, review_take
from in_the_round.analysis_core.settings import Settings
takes, out = Path(sys.argv[1]), Path(sys.argv[2])
jobs = [Job(take, out / take.stem, out / "running", Settings(static=takes / "static.c3d"), "all")
        for take in sorted(takes.glob("t*.c3d"))]
out.mkdir()
review_take(jobs[0])
wall, cpu = time.perf_counter(), time.process_time()
for job in jobs[1:]:
    assert review_take(job)["state"] == "done"
print((time.perf_counter() - wall) / (len(jobs) - 1), (time.process_time() - cpu) / (len(jobs) - 1))
"""


def _takes_of_one_length(folder: Path) -> None:
    """Takes of one length, each of other content, and their static take."""
    import ezc3d

    folder.mkdir()
    shutil.copy(STATIC, folder / "static.c3d")
    file = ezc3d.c3d(str(TAKE))
    frames = int(_TAKE_S * file["header"]["points"]["frame_rate"])
    del file["data"]["meta_points"]
    file["data"]["points"] = file["data"]["points"][:, :, :frames]
    file["data"]["analogs"] = file["data"]["analogs"][:, :, :0]
    file.write(str(folder / "t00.c3d"))
    content = (folder / "t00.c3d").read_bytes()
    for number in range(1, _TAKES):
        # Bytes beyond the data make another content of the same take.
        (folder / f"t{number:02d}.c3d").write_bytes(content + bytes([number]))


def archive() -> list[Row]:
    """Gain of two workers against one plain process, work alone: the same takes. Its time on the clock wants an idle machine.

    The gain by CPU seconds is what two workers would gain on two cores that do nothing else: it holds on a busy machine, too.
    """
    below = Path(tempfile.mkdtemp())
    try:
        takes, out = below / "takes", below / "two"
        _takes_of_one_length(takes)
        plain = [sys.executable, "-c", _ONE_PROCESS, str(takes), str(below / "one")]
        threads = {name: "1" for name in ("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS")}
        said = subprocess.run(plain, check=True, capture_output=True, text=True, env={**os.environ, **threads}).stdout
        one, one_cpu = map(float, said.split())
        ticks: list[float] = []
        begun = time.perf_counter()
        ran = run_archive(takes, out, Options(workers=2), watch=lambda _: ticks.append(time.perf_counter()))
        assert (ran.reviewed, ran.failed) == (_TAKES, 0), ran
        # From the first take of each worker on: the start is told apart.
        two = (ticks[-1] - ticks[1]) / (_TAKES - 2)
        with Ledger(out) as ledger:
            (two_cpu,) = ledger.connection.execute("SELECT avg(cpu_s) FROM take").fetchone()
        return [
            Row(f"one process, a take of {_TAKE_S:g} s", one, "s"),
            Row("its CPU", one_cpu, "s"),
            Row("two workers, a take", two, "s"),
            Row("its CPU", two_cpu, "s"),
            Row("gain of two workers by the clock", one / two, "×", least=1.8),
            Row("gain by CPU seconds, were both cores idle", 2 * one_cpu / two_cpu, "×", least=1.8),
            Row("from the start of the program's run to the first result", ticks[0] - begun, "s", 5.0),
        ]
    finally:
        shutil.rmtree(below)


def bookkeeping() -> list[Row]:
    """10,000 takes that are known: entering, deciding, tables and summary, without any review. CPU seconds."""
    below = Path(tempfile.mkdtemp())
    try:
        out, takes = below / "out", below / "takes"
        old = time.time() - 3600
        for number in range(10_000):
            path = takes / f"class {number // 100}" / f"t{number}.c3d"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(b"%d" % number)
            os.utime(path, (old, old))
        return _bookkeeping_rows(takes, out)
    finally:
        shutil.rmtree(below)


def _cpu(work: Callable[[], Any]) -> float:
    started = time.process_time()
    work()
    return time.process_time() - started


def _bookkeeping_rows(takes: Path, out: Path) -> list[Row]:
    finding = {"fault": "low-jump", "measure": "height", "phase": "jump-1", "grade": "watch", "value": 0.2, "unit": "m"}
    outcome = {"state": "done", "verdict": "good", "duration_s": 20.0, "cpu_s": 0.9, "seconds": 0.9, "review": None}
    stub = {**outcome, "findings": [{**finding, "id": f"f{number}"} for number in range(12)], "measured": []}
    with running.only_one(out), Ledger(out) as ledger:
        found = running.scan(takes, out, Options().settings)
        plan = running._Plan(takes, out, ledger, found, Options())
        entered = _cpu(plan.decide)
        work = running._Work(plan, None, lambda _: None)
        kept = _cpu(lambda: [work._keep(todo, stub) for todo in plan.todo])
        for place in plan.places.values():
            (out / "reviews" / place).mkdir(parents=True, exist_ok=True)
            (out / "reviews" / place / "review.json").touch()
    resumed = _cpu(lambda: _nothing_to_do(takes, out))
    with Ledger(out) as ledger:
        summed, tabled = _cpu(lambda: write_summary(ledger, out)), _cpu(lambda: write_tables(ledger, out))
    return [
        Row("start: 10,000 new takes entered", entered, "s"),
        Row("10,000 outcomes of 12 findings kept", kept, "s"),
        Row("run again: 10,000 known takes, nothing to do", resumed, "s", 1.0),
        Row("summary", summed, "s", 1.0),
        Row("takes.csv and findings.csv", tabled, "s"),
    ]


def _nothing_to_do(takes: Path, out: Path) -> None:
    ran = run_archive(takes, out, Options())
    assert (ran.reviewed, ran.reused) == (0, 10_000), ran
