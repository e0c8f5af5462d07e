"""Work that takes a while, while Blender stays usable: a state that always ends, with a sentence."""

from __future__ import annotations

import contextlib
import json
import queue
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Callable, Generator
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Literal

from . import analysis_core
from .analysis_core.errors import InTheRoundError, OutputError
from .analysis_core.hand_over.formats import WITH_BLENDER
from .analysis_core.review import MOVEMENT_FILE, REVIEW_FILE
from .analysis_core.settings import Settings, settings_to_json
from .analysis_core.wording import doing, jobs
from .analysis_core.write.files import sweep

if TYPE_CHECKING:
    from .analysis_core.film.wish import Wish
    from .analysis_core.take import Take

#: What is under way, so that panels can show it and no second one begins.
running: list[Job] = []

#: So long a poll may work before Blender gets its turn again, seconds.
_TURN_S = 0.08
#: A process that was told to end is waited for at most so long, seconds; one that hangs in a drive is left to a thread.
_END_S = 0.5
#: Of what a process complains about, so many lines are kept.
_COMPLAINTS = 50

State = Literal["running", "done", "cancelled", "failed"]


class Job:
    """Something under way. ``poll`` from a timer until it is ``finished``; ``cancel`` ends it; ``check`` raises what went wrong.

    However it goes, it ends: a defect in its work ends it too, as failed, with a sentence. where: the places in the program
    at which it failed, when a process says so.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.stage = doing.STARTING
        self.share = 0.0
        self.state: State = "running"
        self.error: str | None = None
        self.where: tuple[str, ...] = ()

    @property
    def finished(self) -> bool:
        """Whether it is over, in whatever way."""
        return self.state != "running"

    def poll(self) -> None:
        """Do or take in what there is; never waits, never raises."""
        if self.finished:
            return
        try:
            self._work()
        except InTheRoundError as error:
            self._fail(str(error))
        except OSError as error:
            self._fail(jobs.not_written(self.name, error.strerror or error))
        except Exception as error:
            self._fail(jobs.defect(self.name, type(error).__name__, error))
        if self.finished:
            self._clear()

    def cancel(self) -> None:
        """End it at once; what it had not finished is not written."""
        if not self.finished:
            self.state = "cancelled"
            self._clear()

    def check(self) -> None:
        """Raise InTheRoundError when it failed."""
        if self.state == "failed":
            raise OutputError(self.error or jobs.failed(self.name))

    def _fail(self, sentence: str) -> None:
        self.state, self.error = "failed", sentence

    def _work(self) -> None:
        """A turn of the work; sets ``state`` when it is done."""
        raise NotImplementedError

    def _clear(self) -> None:
        """Leave nothing behind."""


def _lines_into(stream: IO[str], take_in: Callable[[str], None]) -> None:
    # A stream that is closed while it is read ends the reading.
    with contextlib.suppress(OSError, ValueError):
        for line in stream:
            take_in(line)


def _write_into(stream: IO[str], text: str) -> None:
    # A process that is gone already breaks the pipe: it says itself why, or ends without a result.
    with contextlib.suppress(OSError):
        stream.write(text)
    with contextlib.suppress(OSError):
        stream.close()


def _plain(said: Any, before: str) -> str:
    """Words of a process as Blender can show them; what was said before when these are none."""
    return "".join(letter for letter in said if letter.isprintable()) if isinstance(said, str) else before


class ProcessJob(Job):
    """A process that reads one JSON object and says how far it is, one JSON object a line; other lines are passed over."""

    def __init__(self, name: str, command: list[str], job: dict[str, Any]) -> None:
        super().__init__(name)
        self.result = ""
        try:
            self._process = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                errors="replace",
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError as error:
            raise InTheRoundError(f"{name} could not be started: {error.strerror}.") from error
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        assert self._process.stderr is not None
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._complaints: deque[str] = deque(maxlen=_COMPLAINTS)
        self._threads = [
            threading.Thread(target=target, args=arguments, daemon=True)
            for target, arguments in (
                (_lines_into, (self._process.stdout, self._lines.put)),
                (_lines_into, (self._process.stderr, self._complaints.append)),
                (_write_into, (self._process.stdin, json.dumps(job))),
            )
        ]
        for thread in self._threads:
            thread.start()

    def _hear(self, line: str) -> None:
        try:
            said = json.loads(line)
        except (ValueError, RecursionError):
            return
        if not isinstance(said, dict):
            return
        share = said.get("share")
        if isinstance(share, (int, float)) and share == share:
            self.share = float(min(max(share, 0.0), 1.0))
        self.stage = _plain(said.get("stage"), self.stage)
        self.result = _plain(said.get("result"), self.result)
        if isinstance(said.get("error"), str):
            self.error = _plain(said["error"], "")
        if isinstance(said.get("where"), list):
            self.where = tuple(_plain(place, "") for place in said["where"])

    def _work(self) -> None:
        code = self._process.poll()
        if code is not None:
            for thread in self._threads:
                thread.join(_END_S)
        until = time.monotonic() + _TURN_S
        while not self._lines.empty():
            self._hear(self._lines.get_nowait())
            if time.monotonic() > until:  # it talks faster than anyone can listen: the rest at the next turn
                return
        if code is None:
            return
        if code == 0 and self.error is None:
            self.state = "done"
            return
        last = next(filter(None, (_plain(line.strip(), "") for line in reversed(self._complaints))), jobs.no_word(code))
        self._fail(self.error or jobs.no_result(self.name, last))

    def _clear(self) -> None:
        self._process.kill()
        # A process that hangs in a drive cannot even be killed: Blender does not wait for it.
        ending = threading.Thread(target=self._see_it_end, daemon=True)
        ending.start()
        ending.join(_END_S)

    def _see_it_end(self) -> None:
        self._process.wait()
        for thread in self._threads:
            thread.join()
        for stream in (self._process.stdout, self._process.stderr):
            if stream is not None:
                stream.close()
        self._sweep()

    def _sweep(self) -> None:
        """Take away what a process that was killed left behind."""


def _command(blender: str) -> list[str]:
    """How worker.py is begun: in a Blender without a window, or (blender empty) in this Python, which may hold Blender as a
    module. Isolated there: the add-on's own folder would stand first on its path."""
    options = ["--background", "--factory-startup", "--python-exit-code", "3", "--python"]
    return [*([blender, *options] if blender else [sys.executable, "-I"]), str(Path(__file__).with_name("worker.py"))]


def _job(work: str, *, blender: bool = True, **told: Any) -> dict[str, Any]:
    """What worker.py is told: the module that does the work, whether in Blender, where the add-on, its core and libraries lie."""
    places = {"package": str(Path(__file__).parent), "core": str(Path(str(analysis_core.__file__)).parent)}
    return {"work": work, "blender": blender, "path": [*filter(None, sys.path)], **places, **told}


class ReviewJob(ProcessJob):
    """The review of one take into a folder, or (table) a proposal of what its unknown markers are."""

    def __init__(self, take: Path, folder: Path, settings: Settings, table: Path | None = None, name: str | None = None) -> None:
        self.take = take
        self.folder = folder
        self.table = table
        told = {"take": str(take), "folder": str(folder), "table": str(table) if table else ""}
        job = _job("review_worker", blender=False, settings=settings_to_json(settings), **told)
        self._written = [table] if table is not None else [folder / REVIEW_FILE, folder / MOVEMENT_FILE]
        name = name or (jobs.review(take.name) if table is None else jobs.proposal(take.name))
        super().__init__(name, _command(""), job)

    def _sweep(self) -> None:
        for path in self._written:
            sweep(path, self._process.pid)


class ArmatureJob(Job):
    """The review of an armature's motion: its frames are stepped through turn by turn, then a process reviews them.

    sampling yields how far it is, 0 to 1, and returns the take.
    """

    def __init__(self, name: str, sampling: Generator[float, None, Take], folder: Path, settings: Settings) -> None:
        super().__init__(jobs.review(name))
        self.take = None
        self.folder = folder
        self.stage = doing.STEPPING_THROUGH
        self._sampling, self._settings = sampling, settings
        self._review: ReviewJob | None = None
        self._sampled: Path | None = None

    def _work(self) -> None:
        if self._review is not None:
            self._review.poll()
            self.stage, self.share = self._review.stage, 0.5 + 0.5 * self._review.share
            if self._review.finished:
                self.where = self._review.where
                self._review.check()
                self.state = "done"
            return
        until = time.monotonic() + _TURN_S
        while not self.finished:
            try:
                self.share = 0.5 * next(self._sampling)
            except StopIteration as ended:
                self._begin(ended.value)
                return
            except ReferenceError as error:
                raise InTheRoundError("The armature or its scene is gone. Select it and review again.") from error
            if time.monotonic() >= until:
                return

    def _begin(self, take: Take) -> None:
        from .analysis_core.read.sampled import write_sampled

        folder = Path(tempfile.mkdtemp(prefix="dance_review_"))
        self._sampled = folder / "sampled.npz"
        write_sampled(take, self._sampled)
        self._review = ReviewJob(self._sampled, self.folder, self._settings, name=self.name)

    def _clear(self) -> None:
        # Closing puts the scene back to its frame; where it is gone there is nothing to put back.
        with contextlib.suppress(ReferenceError):
            self._sampling.close()
        if self._review is not None:
            self._review.cancel()
        if self._sampled is not None:
            with contextlib.suppress(OSError):
                self._sampled.unlink(missing_ok=True)
                self._sampled.parent.rmdir()


class RenderJob(ProcessJob):
    """A file that a Blender without a window makes of one or two reviews: whole, or not at all. made: what the worker is told."""

    def __init__(self, name: str, blender: str, folders: list[Path], file: Path, **made: Any) -> None:
        self.file = file
        # The worker's own place for what it has not finished: taken away here, however the worker ends.
        self._place = tempfile.mkdtemp(prefix="dance_film_")
        told: dict[str, Any] = {"folders": [str(folder) for folder in folders], "file": str(file), "place": self._place}
        try:
            super().__init__(name, _command(blender), _job("render_worker", **told, **made))
        except InTheRoundError:
            shutil.rmtree(self._place, ignore_errors=True)
            raise

    def _sweep(self) -> None:
        shutil.rmtree(self._place, ignore_errors=True)
        sweep(self.file, self._process.pid)


class FilmJob(RenderJob):
    """The film of one or two reviews."""

    def __init__(self, blender: str, folders: list[Path], film: Path, wish: Wish) -> None:
        super().__init__(jobs.film(film.name), blender, folders, film, make="film", wish=wish.to_json())


class PageJob(RenderJob):
    """The student's page of one review, or of two. name: on the page; film: to put in."""

    def __init__(self, blender: str, folders: list[Path], page: Path, name: str, film: Path | None, look: str) -> None:
        made = {"student": name, "with_film": str(film) if film else "", "figure": look}
        super().__init__(jobs.page(page.name), blender, folders, page, make="page", **made)


class HandOverJob(ProcessJob):
    """The hand-over of a review, written in a process of its own, without Blender where no format needs it; in its folder only
    when it is whole.

    blender: the program, empty where Blender is a module of this Python. formats: none for all that the take allows.
    """

    def __init__(
        self, blender: str, folder: Path, out: Path, formats: list[str], wishes: dict[str, Any], overwrite: bool
    ) -> None:
        self.out = out
        self._place = tempfile.mkdtemp(prefix="dance_hand_over_")
        told: dict[str, Any] = {"folder": str(folder), "out": str(out), "place": self._place, "formats": formats}
        with_blender = not formats or not WITH_BLENDER.isdisjoint(formats)
        job = _job("hand_over_worker", blender=with_blender, wishes=wishes, overwrite=overwrite, **told)
        try:
            super().__init__(jobs.hand_over(out.name), _command(blender if with_blender else ""), job)
        except InTheRoundError:
            shutil.rmtree(self._place, ignore_errors=True)
            raise

    @property
    def files(self) -> int:
        """How many files were written."""
        return int(json.loads(self.result)["files"]) if self.result else 0

    def to_its_end(self) -> None:
        """Wait for it where no window could be kept usable."""
        while not self.finished:
            self.poll()
            time.sleep(_TURN_S)

    def _sweep(self) -> None:
        shutil.rmtree(self._place, ignore_errors=True)
        if self.out.is_dir():
            for path in list(self.out.iterdir()):
                sweep(path, self._process.pid)


def end_all() -> None:
    """End whatever is under way: the add-on goes."""
    while running:
        running.pop().cancel()
