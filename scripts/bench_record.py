"""The bench of the record: times, bytes left, false claims."""

from __future__ import annotations

import json
import math
import os
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from bench_common import Row, seconds
from in_the_round.analysis_core.record import schema
from in_the_round.analysis_core.record import store as stores
from in_the_round.analysis_core.record.claims import Session, change
from in_the_round.analysis_core.record.dancers import Given, dancer_of, find_dancer, give_consent
from in_the_round.analysis_core.record.deletion import delete_dancer, finish_deletions
from in_the_round.analysis_core.record.folders import read_folder
from in_the_round.analysis_core.record.places import place_of
from in_the_round.analysis_core.record.series import progress_of
from in_the_round.analysis_core.record.store import Store, open_store
from in_the_round.analysis_core.record.takes import When, add_take, takes_of
from in_the_round.analysis_core.record.trend import trend_of
from sqlalchemy import func, select

TODAY = date(2027, 3, 1)
_GROUPS = 117  # values that one take of the demo measures
_KILLS, _KILLED_DELETIONS = 100, 30


def _folder(below: Path, number: int) -> Path:
    """A made review of some 117 values and a file of the size that makes 100 of them 100 MB."""
    chance = np.random.default_rng(number)
    faults = [
        {"fault": f"fault-{group % 46}", "measure": "size", "side": "left", "step": f"step {group}", "n": 3,
         "value": float(chance.normal(20, 5)), "worst": float(chance.normal(25, 5)), "sd": 2.5, "unit": "mm", "plus_minus": 4.2,
         "plus_minus_within_take": 3.3, "band": [0.0, 10.0], "outside": 2, "cannot_tell": None}
        for group in range(_GROUPS)
    ]  # fmt: skip
    data = {
        "format": "in-the-round/review", "version": 2, "profile": "intermediate", "measured": faults,
        "findings": [], "phases": [],
        "take": {"file": f"t{number}.c3d", "sha256": secrets.token_hex(32), "kind": "markers", "rate_hz": 240.0, "frames": 4800,
                 "duration_s": 20.0},
        "quality": {"verdict": "good", "markers": []}, "placement": None, "measures_version": "v1",
    }  # fmt: skip
    folder = below / f"t{number}"
    folder.mkdir(parents=True)
    (folder / "review.json").write_text(json.dumps(data), encoding="utf-8")
    return folder


def _add(record: Store, secret: bytes, folder: Path, name: str, day: date) -> None:
    with record.begin() as connection:
        add_take(connection, dancer_of(connection, name), read_folder(folder), When(day), secret=secret, today=TODAY)


def _consent(record: Store, name: str) -> None:
    with record.begin() as connection:
        give_consent(connection, name, Given(TODAY + timedelta(days=300), assent="yes"), TODAY)


def record() -> list[Row]:
    """Adding, showing and deleting, with deletion by zeroes switched off before, as on most systems."""
    below = Path(tempfile.mkdtemp())
    pragmas = stores._PRAGMAS
    try:
        stores._PRAGMAS = tuple(item.replace("secure_delete=on", "secure_delete=off") for item in pragmas)
        with open_store(place_of(below / "record.db"), today=TODAY) as opened:
            return _record_rows(opened, below)
    finally:
        stores._PRAGMAS = pragmas
        shutil.rmtree(below)


def _record_rows(opened: Store, below: Path) -> list[Row]:
    _consent(opened, "amber-heron")
    _consent(opened, "birch-wren")
    secret = opened.secret()
    folders = [_folder(below, number) for number in range(200)]
    command = [sys.executable, "-m", "in_the_round.command_line", "record", "add", str(_folder(below, 999)), "--no-minor"]
    command += ["--dancer", "cold-start", "--database", str(below / "cold.db")]
    started = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    cold = time.perf_counter() - started
    started = time.perf_counter()
    for number, folder in enumerate(folders):
        _add(opened, secret, folder, "amber-heron", TODAY - timedelta(days=number // 10))
    warm = (time.perf_counter() - started) / len(folders)
    for number in range(300, 400):
        _add(opened, secret, _folder(below, number), "birch-wren", TODAY)

    def show() -> None:
        with opened.read() as connection:
            takes_of(connection, dancer_of(connection, "amber-heron").id)

    def progress() -> None:
        with opened.read() as connection:
            progress_of(connection, dancer_of(connection, "amber-heron").id)

    shown, told = seconds(show), seconds(progress, 1)
    needles = _needles(opened)
    started = time.perf_counter()
    done = delete_dancer(opened, "birch-wren", reason="bench", today=TODAY)
    deleted = time.perf_counter() - started
    left = sum(needle in data for data in _files(below) for needle in needles)
    return [
        Row("record add of one take, from cold start", cold, "s", 1.5),
        Row("record add of one take, warm", 1000 * warm, "ms", 20),
        Row("a dancer's 200 takes", shown, "s", 1.0),
        Row("progress over 200 takes (117 series)", told, "s"),
        Row("delete 100 takes, with proof", deleted, "s", 15),
        Row("of it searched", done.proof.searched / 1e6, "MB"),
        Row("traces left by bytes.find", left, "", 0),
    ]


def _needles(opened: Store) -> list[bytes]:
    with opened.read() as connection:
        takes = takes_of(connection, dancer_of(connection, "birch-wren").id)
    return [b"birch-wren", *(take.sha256.encode() for take in takes)]


def _files(below: Path) -> list[bytes]:
    return [path.read_bytes() for path in below.glob("record*") if path.is_file()]


def _child(work: Callable[[Callable[[str], None]], None], pause_s: float) -> list[str]:
    """What a child said before it was killed (kill -9): it says "begun" first, and the pause counts from there."""
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reads)
        try:
            work(lambda line: os.write(writes, f"{line}\n".encode()))
        finally:
            os._exit(0)
    os.close(writes)
    with os.fdopen(reads, encoding="utf-8") as said:
        said.readline()
        time.sleep(pause_s)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return said.read().split()


def kills() -> list[Row]:
    """A hundred writers killed in the middle of adding, and thirty in the middle of deleting: what was lost, and what was left of
    a dancer who was told as deleted."""
    below, chance = Path(tempfile.mkdtemp()), np.random.default_rng(4)
    place, lost, torn, added = place_of(below / "record.db"), 0, 0, 0
    try:
        folders = [_folder(below, number) for number in range(300)]
        with open_store(place, today=TODAY) as opened:
            _consent(opened, "amber-heron")
        for _ in range(_KILLS):

            def add(tell: Callable[[str], None], begin: int = added) -> None:
                with open_store(place, today=TODAY) as opened:
                    secret = opened.secret()
                    tell("begun")
                    for number in range(begin, len(folders)):
                        _add(opened, secret, folders[number], "amber-heron", TODAY)
                        tell(str(number))

            said = _child(add, float(chance.uniform(0.0, 0.5)))
            with open_store(place, today=TODAY) as opened, opened.read() as connection:
                takes = takes_of(connection, dancer_of(connection, "amber-heron").id)
            lost += max(added + len(said) - len(takes), 0)
            torn += sum(take.measured != _GROUPS for take in takes)
            added = len(takes)
        outcomes = [_killed_deletion(below / f"{number}", float(chance.uniform(0.0, 0.5))) for number in range(_KILLED_DELETIONS)]
    finally:
        shutil.rmtree(below)
    return [
        Row(f"takes lost that were told as added, {_KILLS} x kill -9 ({added} takes)", lost, "", 0),
        Row("takes with a part of their values", torn, "", 0),
        Row(f"dancers half-deleted, {_KILLED_DELETIONS} x kill -9", outcomes.count("half"), "", 0),
        Row("of them killed before anything was deleted", outcomes.count("there"), ""),
    ]


def _killed_deletion(below: Path, pause_s: float) -> str:
    """What a deletion that was killed came to: deleted, there, or half: rows without their dancer, or traces once finished."""
    place = place_of(below / "record.db")
    with open_store(place, today=TODAY) as opened:
        _consent(opened, "birch-wren")
        for number in range(6):
            _add(opened, opened.secret(), _folder(below / "reviews", number), "birch-wren", TODAY)
        needles = _needles(opened)

    def delete(tell: Callable[[str], None]) -> None:
        with open_store(place, today=TODAY) as opened:
            tell("begun")
            delete_dancer(opened, "birch-wren", reason="bench", today=TODAY)
            tell("deleted")

    told = _child(delete, pause_s)
    with open_store(place, today=TODAY) as opened:
        finish_deletions(opened, TODAY)
        with opened.read() as connection:
            here = find_dancer(connection, "birch-wren")
            takes = 0 if here is None else len(takes_of(connection, here.id))
            rows = connection.execute(select(func.count()).select_from(schema.measured)).scalar_one()
    if here is None:
        left = rows or any(needle in data for data in _files(below) for needle in needles)
        return "half" if left else "deleted"
    return "half" if told or takes != 6 or rows != 6 * _GROUPS else "there"


def claims() -> list[Row]:
    """False "improved" and coverage of trends on simulated dancers who do not change, or change by a known slope."""
    chance = np.random.default_rng(11)
    noise, placement = 3.3 / 1.96, math.sqrt((4.2 / 1.96) ** 2 - (3.3 / 1.96) ** 2)
    false, improved = [], []
    for spread in (0.0, noise, 3 * noise):
        values = chance.normal(20, math.hypot(spread, noise), (4000, 2, 4)) + chance.normal(0, placement, (4000, 2, 1))
        found = [
            change(*(Session(TODAY, 4, float(v.mean()), float(v.std(ddof=1)), 4.2, 3.3, 0.0, 10.0, 4) for v in pair))
            for pair in values
        ]
        false.append(100 * float(np.mean([item.beyond for item in found])))
        improved.append(100 * float(np.mean([item.beyond and item.value < 0 for item in found])))
    days = np.array([0, 14, 35, 49, 70])
    covered = []
    for _ in range(2000):
        means = 30 - 4.0 * days / 30 + chance.normal(0, 2.2, 5)
        trend = trend_of(list(days), list(means), 2.2)
        covered.append(trend is not None and abs(trend.per_month + 4.0) <= trend.plus_minus)
    return [
        Row("false changes, worst of three spreads of the dancer", max(false), "%", 5.5),
        Row('false "improved", worst of three spreads', max(improved), "%", 5.0),
        Row("trends whose interval misses the truth", 100 - 100 * float(np.mean(covered)), "%", 5),
    ]
