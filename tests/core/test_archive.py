"""The archive: what is found, what is done again and what not, and what survives crashes, kills and a lost engine."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.archive import run as running
from in_the_round.analysis_core.archive import scan as scanning
from in_the_round.analysis_core.archive.ledger import Ledger, only_one
from in_the_round.analysis_core.archive.norms import norms_of, quantile_with_interval, write_norms
from in_the_round.analysis_core.archive.run import Options, Ran, run_archive
from in_the_round.analysis_core.archive.scan import Statics, is_static, scan
from in_the_round.analysis_core.archive.summary import wilson, write_summary
from in_the_round.analysis_core.archive.tables import write_tables
from in_the_round.analysis_core.archive.task import UNFINISHED, Job
from in_the_round.analysis_core.errors import OptionError, OutputError
from in_the_round.analysis_core.findings.catalogue import load_profile
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.wording.names import fault_title

from . import archive_stub as stub

STUB = Path(stub.__file__)


def make_takes(folder: Path, **content: str) -> Path:
    """Files that the stand-in reads: name (with / as __) = content."""
    for name, said in content.items():
        path = folder / (name.replace("__", "/") + ".c3d")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(said, encoding="utf-8")
        long_ago = time.time() - 3600
        os.utime(path, (long_ago, long_ago))
    return folder


class _AtOnce:
    """An engine in this process: for what has nothing to do with processes."""

    workers = 1

    def __init__(self, work: Callable[[Job], Any]) -> None:
        self.work, self.jobs = work, 0

    def submit(self, job: Job) -> tuple[int, Any]:
        self.jobs += 1
        return self.jobs, self.work(job)

    def done(self, tickets: list[Any], seconds: float) -> list[Any]:
        return tickets

    def outcome(self, ticket: tuple[int, Any]) -> Any:
        return ticket[1]


class _Ticket(dict):
    __hash__ = object.__hash__


@pytest.fixture
def archive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """A function that runs the archive of tmp_path/takes in this process, where nobody waits: not for files that are still
    written, and not in work that takes long."""

    @contextmanager
    def engine(plan: Any, note: Any, work: Any) -> Iterator[Any]:
        at_once = _AtOnce(work)
        at_once.submit = lambda job: _Ticket(work(job))
        at_once.outcome = lambda ticket: ticket
        yield at_once

    monkeypatch.setattr(running, "_engine_for", engine)
    monkeypatch.setattr(scanning, "_LOOK_AGAIN_S", 0.0)
    monkeypatch.setattr(stub, "SLOW_S", 0.0)

    def run(**options: Any) -> Ran:
        return run_archive(tmp_path / "takes", tmp_path / "out", Options(**options), work=stub.work)

    return run


def _bytes(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {str(path): (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.rglob("*") if path.is_file()}


def _rows(table: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))


def _states(out: Path) -> dict[str, str]:
    with Ledger(out) as ledger:
        return {path: row["state"] for path, row in ledger.rows().items()}


def _error(out: Path, take: str) -> str:
    with Ledger(out) as ledger:
        return str(ledger.rows()[take]["error"])


def test_only_what_is_missing_or_changed_is_done(tmp_path: Path, archive: Callable[..., Ran]) -> None:
    """Twice: nothing and not a byte changed. Touched: only looked at. A byte, a level, a static take changed: those alone."""
    takes = make_takes(tmp_path / "takes", a__one="one", a__two="two", b__three="three", b__static="still", c="is refused")
    ran = archive()
    assert (ran.takes, ran.reviewed, ran.reused, ran.failed) == (4, 3, 0, 1)
    assert ran.statics == {"b/static.c3d": 1}
    before = _bytes(tmp_path / "out" / "reviews")
    ran = archive()
    assert (ran.reviewed, ran.reused, ran.failed) == (0, 3, 1)
    assert _bytes(tmp_path / "out" / "reviews") == before
    (takes / "a" / "one.c3d").touch()
    assert archive().reviewed == 0
    (takes / "a" / "one.c3d").write_text("ONE", encoding="utf-8")
    assert archive().reviewed == 1
    (takes / "b" / "archive.toml").write_text('level = "advanced"', encoding="utf-8")
    assert archive().reviewed == 1
    (takes / "b" / "static.c3d").write_text("stiller", encoding="utf-8")
    assert archive().reviewed == 1
    assert archive(retry=True).failed == 1
    (takes / "c.c3d").write_text("mended", encoding="utf-8")
    assert (archive().failed, archive().reused) == (0, 4)


def test_killed_between_two_renames(tmp_path: Path, archive: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch) -> None:
    """The earlier review, which holds what the teacher decided, is renamed away when the process dies: it is put back."""
    takes = make_takes(tmp_path / "takes", a__one="one")
    archive()
    review = tmp_path / "out" / "reviews" / "a" / "one"
    (review / "words.txt").write_text("the teacher's", encoding="utf-8")
    rename = Path.rename

    def dies(path: Path, target: Path) -> Path:
        if path.name.startswith(UNFINISHED):
            raise KeyboardInterrupt
        return rename(path, target)

    (takes / "a" / "one.c3d").write_text("changed", encoding="utf-8")
    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", dies)
        with pytest.raises(KeyboardInterrupt):
            archive()
    assert not review.exists()
    (takes / "a" / "one.c3d").write_text("one", encoding="utf-8")
    seen = []

    def look(job: Job) -> Any:
        seen.append((job.review / "words.txt").read_text(encoding="utf-8"))
        return stub.work(job)

    assert run_archive(takes, tmp_path / "out", Options(), work=look).reviewed == 1
    assert seen == ["the teacher's"]
    assert {path.name for path in review.parent.iterdir()} == {"one"}


def test_the_same_content_is_reviewed_once_and_a_renamed_take_is_known(tmp_path: Path, archive: Callable[..., Ran]) -> None:
    takes = make_takes(tmp_path / "takes", one="same", two="same", three="other")
    ran = archive()
    assert (ran.reviewed, ran.reused) == (2, 1)
    assert (tmp_path / "out" / "reviews" / "two" / "review.json").is_file()
    (takes / "three.c3d").rename(takes / "four.c3d")
    ran = archive()
    assert (ran.reviewed, ran.reused, ran.gone) == (0, 3, 1)
    assert _states(tmp_path / "out") == {"four.c3d": "done", "one.c3d": "done", "three.c3d": "gone", "two.c3d": "done"}
    assert not (tmp_path / "out" / "reviews" / "three").exists()
    with Ledger(tmp_path / "out") as ledger:
        write_tables(ledger, tmp_path / "out")
    rows = _rows(tmp_path / "out" / "takes.csv")
    assert [row["file"] for row in rows] == ["four.c3d", "one.c3d", "two.c3d"]
    assert len(_rows(tmp_path / "out" / "findings.csv")) == 3


def test_which_take_is_static(tmp_path: Path) -> None:
    """A word standing alone in the name; of the nearest folder the name most alike; nothing is its own static take."""
    assert [name for name in ("Static.c3d", "anna_cal01.c3d", "ecstatic.c3d", "scale.c3d", "T-pose.c3d") if is_static(name)] == [
        "Static.c3d", "anna_cal01.c3d", "T-pose.c3d",
    ]  # fmt: skip
    statics = Statics(["static.c3d", "a/bo_static.c3d", "a/al_static.c3d", "a/static.bvh"])
    assert statics.serving("a/al_turn.c3d") == "a/al_static.c3d"
    assert statics.serving("a/bo_turn.c3d") == "a/bo_static.c3d"
    assert statics.serving("b/c/turn.c3d") == "static.c3d"
    assert statics.serving("b/turn.bvh") is None
    make_takes(tmp_path / "takes", lonely__static="x", other__turn="y")
    assert [take.path for take in scan(tmp_path / "takes", tmp_path / "out", Settings()).takes] == [
        "other/turn.c3d",
        "lonely/static.c3d",
    ]


def test_what_archive_toml_says(tmp_path: Path) -> None:
    """The nearest above counts, key by key; a wrong key is a sentence."""
    takes = make_takes(tmp_path / "takes", a__b__one="x", a__two="y")
    (takes / "archive.toml").write_text('level = "advanced"\nterm = "spring"', encoding="utf-8")
    (takes / "a" / "b" / "archive.toml").write_text('dancer = "amber-heron"\nlevel = "free style"', encoding="utf-8")
    found = {take.path: take for take in scan(takes, tmp_path / "out", Settings()).takes}
    assert (found["a/b/one.c3d"].settings.level, found["a/b/one.c3d"].dancer, found["a/b/one.c3d"].term) == (
        "free style", "amber-heron", "spring",
    )  # fmt: skip
    assert (found["a/two.c3d"].settings.level, found["a/two.c3d"].dancer) == ("advanced", None)
    (takes / "archive.toml").write_text("lebel = 1", encoding="utf-8")
    with pytest.raises(OptionError, match="lebel"):
        scan(takes, tmp_path / "out", Settings())


def test_two_archives_at_once_and_places_that_cannot_be_used(tmp_path: Path, archive: Callable[..., Ran]) -> None:
    make_takes(tmp_path / "takes", one="one")
    with only_one(tmp_path / "out"), pytest.raises(OutputError, match="under way"):
        archive()
    assert archive().reviewed == 1
    with pytest.raises(OptionError, match="holds no C3D"):
        run_archive(tmp_path / "out" / "reviews" / "one", tmp_path / "other", Options())
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(OutputError):
        run_archive(tmp_path / "takes", tmp_path / "file" / "out", Options())


def _start(folder: Path, out: Path, **options: Any) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": str(STUB.parent)}
    words = [sys.executable, str(STUB), str(folder), str(out), json.dumps(options)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment)


def _outcome(process: subprocess.Popen[str]) -> dict[str, Any]:
    out, error = process.communicate(timeout=300)
    assert process.returncode == 0, error
    found: dict[str, Any] = json.loads(out.splitlines()[-1])
    return found


def _listening(process: int) -> set[str]:
    """Addresses that a process and its children listen on (/proc, little-endian)."""
    inodes = set()
    for one in [process, *_children(process)]:
        for link in Path(f"/proc/{one}/fd").glob("*"):
            try:
                inodes |= set(re.findall(r"socket:\[(\d+)\]", os.readlink(link)))
            except OSError:
                continue
    lines = Path("/proc/net/tcp").read_text(encoding="utf-8").splitlines()[1:]
    rows = [line.split() for line in lines]
    return {row[1].split(":")[0] for row in rows if row[3] == "0A" and row[9] in inodes}


def _children(process: int) -> list[int]:
    found = []
    for child in Path(f"/proc/{process}/task").glob("*/children"):
        for name in child.read_text(encoding="utf-8").split():
            found += [int(name), *_children(int(name))]
    return found


def test_settings_of_the_engine_stay_whole(tmp_path: Path) -> None:
    """After an engine is closed its library still has its own defaults: a second engine of the same process needs them."""
    words = "import dask; from in_the_round.analysis_core.archive.engine import _settings\n"
    words += "with _settings(): pass\nprint(dask.config.get('distributed.comm.timeouts.connect'))"
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=False)
    assert done.stdout.strip(), done.stderr


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")
def test_a_take_that_dies_or_hangs_costs_nobody_else(tmp_path: Path) -> None:
    """Two workers; one take kills its process each time, one hangs and is given up: six are done, all sockets on the loopback.

    Nothing here waits for a time to pass: the hanging one is given up as soon as it runs.
    """
    from in_the_round.analysis_core.archive.engine import _facts, local_engine

    quick = {f"t{number}": f"take {number}" for number in range(6)}
    takes = make_takes(tmp_path / "takes", hanging="hangs", dying="dies", **quick)
    (tmp_path / "run").mkdir()

    def job(path: Path) -> Job:
        return Job(path, tmp_path / "reviews" / path.stem, tmp_path / "run" / path.stem, Settings(), "all")

    with local_engine(2, tmp_path, stub.work) as engine:
        assert [facts["missing"] for facts in engine._client.run(_facts).values()] == [[], []]
        assert _listening(os.getpid()) == {"0100007F"}
        tickets = {name: engine.submit(job(takes / f"{name}.c3d")) for name in ("hanging", "dying", *quick)}
        while not (tmp_path / "run" / "hanging").is_file() or not (tmp_path / "run" / "hanging").read_text(encoding="utf-8"):
            engine.done(list(tickets.values()), 0.2)
        engine.stop(tickets.pop("hanging"), (tmp_path / "run" / "hanging").read_text(encoding="utf-8"))
        found = {}
        while tickets:
            ready = engine.done(list(tickets.values()), 5.0)
            told = {name: engine.outcome(ticket) for name, ticket in tickets.items() if ticket in ready}
            found |= {name: outcome["state"] for name, outcome in told.items() if outcome is not None}
            # An answer that was lost with the dying worker is asked for again, as the archive does.
            again = {name: engine.submit(job(takes / f"{name}.c3d")) for name, outcome in told.items() if outcome is None}
            tickets = {name: ticket for name, ticket in tickets.items() if ticket not in ready} | again
    assert found == {"dying": "crashed", **dict.fromkeys(quick, "done")}


def test_a_take_beyond_its_limit_is_a_row(tmp_path: Path, archive: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine on which one take never ends, and a clock that the test moves: that take is a row, the rest is done."""
    make_takes(tmp_path / "takes", hanging="hangs", one="one", two="two")
    clock, stopped = [1000.0], []

    class Hanging:
        workers = 2

        def submit(self, job: Job) -> Any:
            if job.take.stem == "hanging":
                job.running.write_text("tcp://worker", encoding="utf-8")
                return "hanging"
            return _Ticket(stub.work(job))

        def done(self, tickets: list[Any], seconds: float) -> list[Any]:
            clock[0] += 20.0
            return [ticket for ticket in tickets if ticket != "hanging"]

        def outcome(self, ticket: Any) -> Any:
            return ticket

        def stop(self, ticket: Any, address: str) -> None:
            stopped.append((ticket, address))

    @contextmanager
    def engine(plan: Any, note: Any, work: Any) -> Iterator[Any]:
        yield Hanging()

    monkeypatch.setattr(running, "_engine_for", engine)
    monkeypatch.setattr(running.time, "monotonic", lambda: clock[0])
    ran = archive(limit_s=45.0)
    assert (ran.reviewed, ran.failed, stopped) == (2, 1, [("hanging", "tcp://worker")])
    assert _states(tmp_path / "out")["hanging.c3d"] == "too long"
    assert "after 45 s" in _error(tmp_path / "out", "hanging.c3d")


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="kill -9")
def test_killed_and_run_again(tmp_path: Path, archive: Callable[..., Ran]) -> None:
    """kill -9 after the third take: each review is whole, the next run does the rest only, and nothing unfinished is left."""
    takes = make_takes(tmp_path / "takes", **{f"t{number:02d}": f"take {number} slowly" for number in range(12)})
    process = _start(takes, tmp_path / "out", workers=2)
    assert process.stdout is not None
    for _ in range(3):
        assert process.stdout.readline().startswith("done")
    process.send_signal(signal.SIGKILL)
    process.communicate()
    done = sum(state == "done" for state in _states(tmp_path / "out").values())
    assert done >= 3
    ran = archive()
    assert (ran.reviewed, ran.reused) == (12 - done, done)
    for path in (tmp_path / "out" / "reviews").rglob("review.json"):
        json.loads(path.read_text(encoding="utf-8"))
    assert not list((tmp_path / "out").rglob(f"{UNFINISHED}*"))


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    return port


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="kill -9")
def test_a_running_engine_loses_a_worker(tmp_path: Path) -> None:
    """A scheduler and two workers started by hand on the loopback; one worker is killed: the other one does the rest."""
    takes = make_takes(tmp_path / "takes", **{f"t{number:02d}": f"take {number} slowly" for number in range(10)})
    address = f"tcp://127.0.0.1:{_free_port()}"
    # What the lost worker held is asked for as long as a connection may take: half a minute, unless the engine is told otherwise.
    environment = {**os.environ, "DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT": "5s", "PYTHONPATH": str(STUB.parent)}
    log = (tmp_path / "log").open("w")

    def begin(*words: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen([sys.executable, "-m", "dask", *words], env=environment, stdout=log, stderr=log, cwd=tmp_path)

    engine = [begin("scheduler", "--host", address, "--no-dashboard")]
    engine += [begin("worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard", "--name", name) for name in ("a", "b")]
    try:
        process = _start(takes, tmp_path / "out", scheduler=address)
        assert process.stdout is not None
        assert process.stdout.readline().startswith("done"), process.stderr.read() if process.stderr else ""
        engine[1].send_signal(signal.SIGKILL)
        assert _outcome(process) == {"reviewed": 10, "failed": 0, "waiting": 0, "remarks": []}
    finally:
        for part in reversed(engine):
            part.kill()
            part.wait()
        log.close()


def test_other_machines_need_encryption(tmp_path: Path) -> None:
    """Whoever reaches an open port can run programs: plain addresses of others are refused before anything is sent."""
    from in_the_round.analysis_core.archive.engine import _check_address

    for address in ("tcp://example.org:8786", "example.org", "tls://"):
        with pytest.raises(OptionError):
            _check_address(address, False)
    for address, insecure in (
        ("tcp://127.0.0.1:8786", False),
        ("tls://example.org:8786", False),
        ("tcp://example.org:8786", True),
    ):
        _check_address(address, insecure)


def test_the_interval_of_a_share() -> None:
    """Wilson 1927, worked by hand: 0 of 10 gives 0 to 0.2775, 5 of 10 gives 0.2366 to 0.7634."""
    assert wilson(0, 10) == pytest.approx((0.0, 0.2775), abs=1e-4)
    assert wilson(5, 10) == pytest.approx((0.2366, 0.7634), abs=1e-4)


def test_summary_and_norms(tmp_path: Path, archive: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch) -> None:
    """The page fetches nothing and leads to every review; norms only from ten dancers, as a profile that --level takes."""
    for number in range(12):
        takes = make_takes(tmp_path / "takes", **{f"d{number}__t{number}": "x" * (10 + number)})
        (takes / f"d{number}" / "archive.toml").write_text(
            f'dancer = "dancer-{number}"\nterm = "term {number % 2}"', encoding="utf-8"
        )
    archive()
    with Ledger(tmp_path / "out") as ledger:
        page = write_summary(ledger, tmp_path / "out").read_text(encoding="utf-8")
        (norm,) = norms_of(ledger, "intermediate")
        (profile,) = write_norms(ledger, tmp_path / "norms", overwrite=False)
        ledger.connection.execute("DELETE FROM take WHERE path LIKE 'd1%'")
        assert norms_of(ledger, "intermediate") == []
    assert not re.search(r'(?:src|href)="https?:', page)
    links = re.findall(r'href="(reviews/[^"]+)"', page)
    assert len(links) == 12
    assert all((tmp_path / "out" / link).is_file() for link in links)
    assert page.count("<img alt=") == 2
    assert (norm.fault, norm.dancers) == ("heel-lifts-early", 12)
    assert norm.ok_interval[0] < norm.ok < norm.ok_interval[1]
    limits = load_profile(str(profile)).entries["heel-lifts-early"].measures["height"]
    assert limits.ok[1] == pytest.approx(norm.ok, rel=1e-3)
    text = profile.read_text(encoding="utf-8")
    assert "dancer-" not in text


def test_quantile_interval_covers_the_truth() -> None:
    """The 80 % quantile of a normal distribution (0.8416, tables) lies in 90 % or more of the intervals of 40 dancers."""
    import numpy as np

    chance = np.random.default_rng(3)
    inside = 0
    for _ in range(60):
        _, (low, high) = quantile_with_interval(list(chance.normal(size=40)), 0.8)
        inside += low <= 0.8416 <= high
    assert inside >= 51  # three standard errors below 95 % of 60


def test_into_the_record(tmp_path: Path, archive: Callable[..., Ran]) -> None:
    """Takes of dancers with consent are added, others listed, takes of nobody counted; twice adds nothing."""
    from in_the_round.analysis_core.archive.into_record import add_to_record
    from in_the_round.analysis_core.record.dancers import Given, give_consent
    from in_the_round.analysis_core.record.places import place_of
    from in_the_round.analysis_core.record.store import open_store

    takes = make_takes(tmp_path / "takes", a__one="one", b__two="two", three="three")
    for name, dancer in (("a", "amber-heron"), ("b", "birch-wren")):
        (takes / name / "archive.toml").write_text(f'dancer = "{dancer}"', encoding="utf-8")
    archive()
    today = date.today()
    with open_store(place_of(tmp_path / "record.db"), today=today) as store, Ledger(tmp_path / "out") as ledger:
        with store.begin() as connection:
            give_consent(connection, "amber-heron", Given(today + timedelta(days=9), assent="yes"), today)
        done = add_to_record(ledger, store, takes, tmp_path / "out", today=today)
        assert (done.added, [path for path, _ in done.refused], done.nobody) == (1, ["b/two.c3d"], 1)
        again = add_to_record(ledger, store, takes, tmp_path / "out", today=today)
        assert (again.added, again.there) == (0, 1)


def test_the_ledger_opens_with_other_tools(tmp_path: Path, archive: Callable[..., Ran]) -> None:
    """Plain SQL on the file: as the documentation in its module says."""
    make_takes(tmp_path / "takes", one="one")
    archive()
    with sqlite3.connect(tmp_path / "out" / "archive.sqlite") as looked:
        query = "SELECT take.path, finding.fault FROM take JOIN finding ON finding.take = take.path"
        assert looked.execute(query).fetchall() == [("one.c3d", "heel-lifts-early")]
    looked.close()


@pytest.mark.usefixtures("archive")
def test_every_review_has_a_page_that_is_read(tmp_path: Path, demo_at_60_hz: Path) -> None:
    """A real take: its page says the corrections with numbers, ± and band, the summary leads to it, and nothing is fetched.

    In this process; with a worker of its own a real take goes through the command, among all that write.
    """
    takes = tmp_path / "takes"
    takes.mkdir()
    for name in ("careless", "static"):
        shutil.copy2(demo_at_60_hz / f"{name}.c3d", takes)
    assert run_archive(takes, tmp_path / "out", Options(workers=1)).reviewed == 1
    with Ledger(tmp_path / "out") as ledger:
        summary = write_summary(ledger, tmp_path / "out").read_text(encoding="utf-8")
    (link,) = re.findall(r'href="(reviews/[^"]+)"', summary)
    page = (tmp_path / "out" / link).read_text(encoding="utf-8")
    data = json.loads((tmp_path / "out" / link).with_name("review.json").read_text(encoding="utf-8"))
    assert data["findings"]
    for found in data["findings"]:
        assert fault_title(found["fault"]) in page
    assert page.count("±") >= len({found["fault"] for found in data["findings"]})
    assert "band" in page
    assert "default-src 'none'" in page
    assert str(tmp_path) not in page, "no path of this machine"
