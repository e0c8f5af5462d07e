"""One run of an archive: what is there, what is to do, done by workers, and kept take by take."""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import OptionError, ReviewError
from ..settings import Settings
from ..wording import archive as words
from .ledger import Ledger, only_one
from .scan import STATIC_WORDS, Found, Scan, scan
from .task import EARLIER, UNFINISHED, Job, Keep, put_back, replace_folder, review_take
from .versions import key_of

if TYPE_CHECKING:
    from ..review.decisions import Decisions
    from .engine import Engine

REVIEWS, RUNNING = "reviews", ".running"
#: Time limit of a take, seconds: some to begin with, and this much for each second of it; a recording of many markers has about
#: so many bytes a second. Proposed defaults: far above what any take has needed.
_LIMIT_S, _LIMIT_PER_S, _BYTES_PER_S = 60.0, 30.0, 150e3
#: Takes handed out beyond those that are being done, for each worker.
_AHEAD = 3
_LOOK_S = 1.0
#: So often an answer may be lost with a worker that died before the engine itself counts as gone. Proposed default.
_MOST_LOST = 3
#: Outcomes that stay until the take, its settings or the program change.
FINAL = ("done", "refused", "crashed", "too long", "failed")


@dataclass(frozen=True)
class Options:
    """What a run is told. workers: None = as many as fit. limit_s: time limit of each take. retry: failed takes once more."""

    settings: Settings = field(default_factory=Settings)
    static_words: Sequence[str] = STATIC_WORDS
    keep: Keep = "all"
    workers: int | None = None
    scheduler: str | None = None
    insecure: bool = False
    limit_s: float | None = None
    retry: bool = False


@dataclass(frozen=True)
class Progress:
    """How far a run is. left_s: None until it can be told."""

    done: int
    all: int
    left_s: float | None


@dataclass(frozen=True)
class Ran:
    """What came of a run. reviewed: takes worked on now and done; reused: done without work; failed: rows with an error.

    waiting: not done, since the engine went away or files are still written; gone: known takes that are no longer there.
    """

    takes: int
    reviewed: int
    reused: int
    failed: int
    waiting: int
    gone: int
    statics: Mapping[str, int]
    workers: int
    seconds: float
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class _Todo:
    """A take to be reviewed, and those with the same content that share its review."""

    found: Found
    key: str
    limit_s: float
    same: tuple[Found, ...] = ()


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class _Hashes:
    """Content hashes; a file whose size and time are known is not read again."""

    def __init__(self, folder: Path, known: Mapping[str, sqlite3.Row]) -> None:
        self._folder, self._known = folder, known
        self._by_path: dict[str, str] = {}

    def of_take(self, found: Found) -> str | None:
        """None when the file cannot be read, which its review will say."""
        row = self._known.get(found.path)
        if row is not None and row["sha256"] and (row["size"], row["mtime_ns"]) == (found.size, found.mtime_ns):
            return str(row["sha256"])
        try:
            return _sha256(self._folder / found.path)
        except OSError:
            return None

    def of(self, path: str) -> str:
        if path not in self._by_path:
            try:
                self._by_path[path] = _sha256(self._folder / path)
            except OSError as error:
                raise OptionError(f"{self._folder / path} cannot be read: {error.strerror}.") from error
        return self._by_path[path]


def _review_places(takes: Sequence[Found]) -> dict[str, str]:
    """The folder of each take's review: its path without the ending, with it where two takes differ by nothing else."""
    stems: dict[str, int] = {}
    for take in takes:
        stems[take.stem.lower()] = stems.get(take.stem.lower(), 0) + 1
    return {take.path: take.stem if stems[take.stem.lower()] == 1 else take.path for take in takes}


class _Plan:
    """Decides take by take what is to be done, and keeps that in the ledger."""

    def __init__(self, folder: Path, out: Path, ledger: Ledger, found: Scan, options: Options) -> None:
        self.folder, self.out, self.ledger, self.options = folder, out, ledger, options
        self.known = ledger.rows()
        self.found = found
        self.places = _review_places(found.takes)
        self.todo: list[_Todo] = []
        self.reused = 0
        here = {take.path for take in found.takes}
        self.gone = {path for path in self.known if path not in here}
        self._hashes = _Hashes(folder, self.known)
        self._done_by_key = {
            row["key"]: path for path, row in self.known.items() if row["state"] in ("done", "gone") and row["review"]
        }

    def decide(self) -> None:
        """Fill ``todo``; enter what is new."""
        shared: dict[str, list[Found]] = {}
        with self.ledger.whole():
            for path in self.gone:
                if self.known[path]["state"] != "gone":
                    self.ledger.enter(path, {"state": "gone", "size": 0, "mtime_ns": 0})
            for take in self.found.takes:
                key = self._enter(take)
                if key is not None:
                    shared.setdefault(key, []).append(take)
        for key, takes in shared.items():
            first, *same = takes
            limit = self.options.limit_s or _LIMIT_S + _LIMIT_PER_S * first.size / _BYTES_PER_S
            self.todo.append(_Todo(first, key, limit, tuple(same)))
        # The longest first, so that a take of ten minutes does not end alone (Graham 1969, SIAM J Appl Math 17:416).
        self.todo.sort(key=lambda item: -item.found.size)

    def _enter(self, take: Found) -> str | None:
        """The key of a take that is to be reviewed; None when its review is there."""
        sha256 = self._hashes.of_take(take)
        static = self._hashes.of(take.static) if take.static is not None else None
        key = key_of(sha256 or f"{take.path} {take.mtime_ns}", static, take.settings, self.options.keep)
        facts = {
            "size": take.size, "mtime_ns": take.mtime_ns, "sha256": sha256, "static": take.static, "static_sha256": static,
            "dancer": take.dancer, "term": take.term, "phrase": take.phrase, "level": take.settings.level,
        }  # fmt: skip
        row = self.known.get(take.path)
        if row is not None and row["key"] == key and row["state"] in FINAL:
            again = self.options.retry and row["state"] != "done"
            if not again and (row["state"] != "done" or os.path.isfile(f"{self.out}/{REVIEWS}/{row['review']}/review.json")):
                if any(row[name] != value for name, value in facts.items()):
                    self.ledger.enter(take.path, {**facts, "state": row["state"]})
                self.reused += row["state"] == "done"
                return None
        other = self._done_by_key.get(key)
        if other is not None and other != take.path and self._share(take.path, other, {**facts, "key": key}):
            self.reused += 1
            return None
        self.ledger.enter(take.path, {**facts, "state": "waiting", "error": None, "key": key})
        return key

    def _share(self, path: str, other: str, facts: Mapping[str, Any]) -> bool:
        """Give a take the review of another one with the same content: moved where that one is gone, else laid beside it."""
        source = self.out / REVIEWS / self.known[other]["review"]
        target = self.out / REVIEWS / self.places[path]
        if not (source / "review.json").is_file() or source == target:
            return False
        gone = other in self.gone
        share_review(source, target, move=gone)
        row = dict(self.known[other])
        keep = ("tries", "seconds", "verdict", "rate_hz", "duration_s", "findings", "measures_version", "finished_at")
        same = None if gone else other
        self.ledger.enter(path, {**facts, **{name: row[name] for name in keep}, "state": "done", "error": None, "same_as": same})
        self.ledger.enter(
            path, {"review": self.places[path], "state": "done", "size": facts["size"], "mtime_ns": facts["mtime_ns"]}
        )
        self.ledger.copy_outcome(other, path)
        if gone:
            self.ledger.enter(other, {"state": "gone", "size": 0, "mtime_ns": 0, "review": None})
        return True


def share_review(source: Path, target: Path, *, move: bool) -> None:
    """Lay a review at another place, too; the same bytes on disk where the file system can.

    That is safe since each file is later replaced whole, never written into. What was decided at that place stays decided.
    """
    from ..review import save_decisions
    from ..review.decisions import Decisions

    target.parent.mkdir(parents=True, exist_ok=True)
    put_back(target)
    theirs = _decided_at(target)

    def link(one: str, other: str) -> str:
        try:
            os.link(one, other)
        except OSError:
            shutil.copy2(one, other)
        return other

    # Under a name that the next run takes away when this one is killed.
    folder = target.with_name(f"{UNFINISHED}{secrets.token_hex(6)}")
    shutil.copytree(source, folder, copy_function=link)
    if theirs != Decisions():
        save_decisions(folder, Decisions(), theirs)
    replace_folder(folder, target)
    if move:
        shutil.rmtree(source)


def _decided_at(place: Path) -> Decisions:
    """The teacher's decisions at a place; a review that cannot be read is put aside, whole, under another name."""
    from ..review import read_decisions
    from ..review.decisions import Decisions

    try:
        return read_decisions(place)
    except ReviewError:
        place.rename(place.with_name(f"damaged {place.name} {secrets.token_hex(3)}"))
        return Decisions()


def _sweep(plan: _Plan) -> None:
    """Take away what a killed run left unfinished: it lies beside reviews, never in one."""
    reviews = plan.out / REVIEWS
    known = [row["review"] for row in plan.known.values() if row["review"]]
    for place in {place.rpartition("/")[0] for place in (*plan.places.values(), *known)}:
        for left in (reviews / place).glob(f"{UNFINISHED}*"):
            shutil.rmtree(left, ignore_errors=True)
        for left in (reviews / place).glob(f"{EARLIER}*"):
            put_back(left.with_name(left.name.removeprefix(EARLIER)))
    shutil.rmtree(plan.out / RUNNING, ignore_errors=True)
    (plan.out / RUNNING).mkdir(parents=True, exist_ok=True)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


class _Work:
    """Hands takes to the engine, a few at a time, and keeps each outcome as it comes."""

    def __init__(self, plan: _Plan, engine: Engine, watch: Callable[[Progress], None]) -> None:
        self._plan, self._engine, self._watch = plan, engine, watch
        self._open: dict[Any, tuple[_Todo, Path]] = {}
        self._began: dict[Path, float] = {}
        self.reviewed = self.done = 0
        self._bytes_all = sum(item.found.size + 1 for item in plan.todo)
        self._bytes_done = 0
        self._started = time.monotonic()
        self._times_lost: dict[str, int] = {}

    def run(self) -> None:
        """Do all that is to do. Raises EngineGone; what is kept by then stays kept."""
        waiting = list(reversed(self._plan.todo))
        while waiting or self._open:
            most = max(self._engine.workers, 1) * (1 + _AHEAD)
            while waiting and len(self._open) < most:
                self._hand_out(waiting.pop())
            for ticket in self._engine.done(list(self._open), _LOOK_S):
                todo, running = self._open.pop(ticket)
                outcome = self._engine.outcome(ticket)
                if outcome is None:
                    self._lost(todo, waiting)
                else:
                    self._keep(todo, outcome)
                self._began.pop(running, None)
            self._stop_what_hangs()

    def _lost(self, todo: _Todo, waiting: list[_Todo]) -> None:
        """Do a take again whose answer was lost with its worker; an engine that loses it again and again is gone."""
        from .engine import EngineGone

        path = todo.found.path
        self._times_lost[path] = self._times_lost.get(path, 0) + 1
        if self._times_lost[path] > _MOST_LOST:
            raise EngineGone
        waiting.append(todo)

    def _hand_out(self, todo: _Todo) -> None:
        plan, found = self._plan, todo.found
        running = plan.out / RUNNING / hashlib.sha256(found.path.encode()).hexdigest()[:24]
        review = plan.out / REVIEWS / plan.places[found.path]
        job = Job(plan.folder / found.path, review, running, found.settings, plan.options.keep)
        self._open[self._engine.submit(job)] = (todo, running)

    def _stop_what_hangs(self) -> None:
        now = time.monotonic()
        for ticket, (todo, running) in list(self._open.items()):
            try:
                address = running.read_text(encoding="utf-8")
            except OSError:
                continue
            # From when it was first seen running: clocks of other machines may differ.
            if now - self._began.setdefault(running, now) > todo.limit_s:
                self._engine.stop(ticket, address)
                del self._open[ticket]
                running.unlink(missing_ok=True)
                self._keep(todo, {"state": "too long", "error": words.stopped_after(todo.limit_s)})

    def _keep(self, todo: _Todo, outcome: Mapping[str, Any]) -> None:
        plan, path = self._plan, todo.found.path
        row = plan.known.get(path)
        done = outcome["state"] == "done"
        values = {
            "state": outcome["state"], "error": outcome.get("error"), "key": todo.key, "same_as": None, "finished_at": _now(),
            "tries": (row["tries"] if row else 0) + (2 if outcome["state"] == "crashed" else 1),
            "review": plan.places[path] if done else None, "findings": len(outcome.get("findings", ())) if done else None,
            **{name: outcome.get(name) for name in (
                "seconds", "cpu_s", "peak_mb", "worker", "verdict", "rate_hz", "duration_s", "measures_version")},
            "size": todo.found.size, "mtime_ns": todo.found.mtime_ns,
        }  # fmt: skip
        plan.ledger.finish(path, values, outcome.get("findings", ()), outcome.get("measured", ()))
        for other in todo.same:
            if done:
                share_review(plan.out / REVIEWS / plan.places[path], plan.out / REVIEWS / plan.places[other.path], move=False)
            with plan.ledger.whole():
                mine = {"size": other.size, "mtime_ns": other.mtime_ns, "review": plan.places[other.path] if done else None}
                plan.ledger.enter(other.path, {**values, **mine, "same_as": path, "tries": 0})
                plan.ledger.copy_outcome(path, other.path)
        self.reviewed += done
        plan.reused += len(todo.same) if done else 0
        self.done += 1
        self._bytes_done += todo.found.size + 1
        spent = time.monotonic() - self._started
        left = spent / self._bytes_done * (self._bytes_all - self._bytes_done) if self.done > 1 else None
        self._watch(Progress(self.done, len(plan.todo), left))


@contextmanager
def _engine_for(
    plan: _Plan, note: Callable[[str], None], work: Callable[[Job], Mapping[str, Any]]
) -> Iterator[Engine]:  # fmt: skip
    from .engine import local_engine, running_engine, workers_that_fit

    options = plan.options
    engine: AbstractContextManager[Engine]
    if options.scheduler:
        engine = running_engine(options.scheduler, plan.out, insecure=options.insecure, note=note, work=work)
    else:
        fit = workers_that_fit(plan.todo[0].found.size)
        engine = local_engine(min(options.workers or fit, len(plan.todo)), plan.out, work)
    with engine as ready:
        yield ready


def run_archive(
    folder: Path,
    out: Path,
    options: Options,
    *,
    watch: Callable[[Progress], None] = lambda progress: None,
    note: Callable[[str], None] = lambda text: None,
    work: Callable[[Job], Mapping[str, Any]] = review_take,
) -> Ran:
    """Review what is missing or changed below a folder, and keep it in ``out``.

    watch: told how far it is; note: told what is worth knowing; work: what a worker does with a take. Raises OptionError or
    OutputError before anything is done; what becomes of single takes is in the ledger.
    """
    began = time.monotonic()
    found = scan(folder, out, options.settings, options.static_words)
    if not found.takes and not found.writing:
        raise OptionError(f"{folder} holds no C3D or BVH file, nor do the folders in it.")
    with only_one(out), Ledger(out) as ledger:
        plan = _Plan(folder.absolute(), out.absolute(), ledger, found, options)
        _sweep(plan)
        plan.decide()
        workers, reviewed, remarks = 0, 0, []
        if plan.todo:
            note(words.to_do(len(plan.todo), len(found.takes)))
            started = _now()
            workers, reviewed, remark = _do(plan, note, watch, work)
            remarks += [remark] if remark else []
            with ledger.whole():
                ledger.connection.execute(
                    "INSERT INTO run VALUES (?, ?, ?, ?, ?, ?)",
                    [started, _now(), len(found.takes), reviewed, workers, options.scheduler or words.THIS_MACHINE],
                )
        remarks += [words.still_written(path) for path in found.writing]
        states = [row["state"] for path, row in ledger.rows().items() if path not in plan.gone]
        shutil.rmtree(plan.out / RUNNING, ignore_errors=True)
        return Ran(
            takes=len(found.takes),
            reviewed=reviewed,
            reused=plan.reused,
            failed=sum(state in FINAL and state != "done" for state in states),
            waiting=states.count("waiting") + len(found.writing),
            gone=len(plan.gone),
            statics=found.statics,
            workers=workers,
            seconds=time.monotonic() - began,
            remarks=tuple(remarks),
        )


def _do(
    plan: _Plan, note: Callable[[str], None], watch: Callable[[Progress], None], work: Callable[[Job], Mapping[str, Any]]
) -> tuple[int, int, str | None]:
    """Workers, takes reviewed, and a remark when the engine went away."""
    from .engine import EngineGone

    done: _Work | None = None
    workers = 0
    try:
        with _engine_for(plan, note, work) as engine:
            workers = engine.workers
            done = _Work(plan, engine, watch)
            done.run()
    except EngineGone:
        gone = words.engine_gone(plan.options.scheduler or words.THIS_MACHINE)
        return workers, done.reviewed if done else 0, gone
    return workers, done.reviewed if done else 0, None
