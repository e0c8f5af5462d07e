"""Work that takes a while, while Blender stays usable: a state that always ends, with a sentence."""

from __future__ import annotations

import contextlib
import json
import queue
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Generator
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Literal

from . import analysis_core
from .analysis_core.errors import InTheRoundError, OutputError
from .analysis_core.settings import Settings, settings_to_json

if TYPE_CHECKING:
    from .analysis_core.take import Take

#: What is under way, so that panels can show it and no second one begins.
running: list[Job] = []

#: So long a poll may work before Blender gets its turn again, seconds.
_TURN_S = 0.08
#: A process that was told to end is waited for at most so long, seconds.
_END_S = 5.0

State = Literal["running", "done", "cancelled", "failed"]


class Job:
    """Something under way. ``poll`` from a timer until it is ``finished``; ``cancel`` ends it; ``check`` raises what went wrong.

    However it goes, it ends: a defect in its work ends it too, as failed, with a sentence.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.stage = "Starting"
        self.share = 0.0
        self.state: State = "running"
        self.error: str | None = None

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
        except Exception as error:
            self._fail(f"{self.name} failed ({type(error).__name__}: {error}). This is a defect of the program: report it.")
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
            raise OutputError(self.error or f"{self.name} failed.")

    def _fail(self, sentence: str) -> None:
        self.state, self.error = "failed", sentence

    def _work(self) -> None:
        """A turn of the work; sets ``state`` when it is done."""
        raise NotImplementedError

    def _clear(self) -> None:
        """Leave nothing behind."""


def _lines_into(stream: IO[str], lines: queue.Queue[str]) -> None:
    # A stream that is closed while it is read ends the reading.
    with contextlib.suppress(OSError, ValueError):
        for line in stream:
            lines.put(line)


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
        self._lines: queue.Queue[str] = queue.Queue()
        self._complaints: queue.Queue[str] = queue.Queue()
        self._readers = [
            threading.Thread(target=_lines_into, args=(stream, lines), daemon=True)
            for stream, lines in ((self._process.stdout, self._lines), (self._process.stderr, self._complaints))
        ]
        for reader in self._readers:
            reader.start()
        # A process that is gone already breaks the pipe: it says itself why, or ends without a result.
        with contextlib.suppress(OSError):
            self._process.stdin.write(json.dumps(job))
        with contextlib.suppress(OSError):
            self._process.stdin.close()

    def _hear(self, line: str) -> None:
        try:
            said = json.loads(line)
        except ValueError:
            return
        if not isinstance(said, dict):
            return
        if isinstance(said.get("stage"), str):
            self.stage = said["stage"]
        if isinstance(said.get("share"), (int, float)):
            self.share = min(max(float(said["share"]), 0.0), 1.0)
        if isinstance(said.get("error"), str):
            self.error = said["error"]
        if isinstance(said.get("result"), str):
            self.result = said["result"]

    def _work(self) -> None:
        code = self._process.poll()
        if code is not None:
            for reader in self._readers:
                reader.join(1.0)
        while not self._lines.empty():
            self._hear(self._lines.get())
        if code is None:
            return
        if code == 0 and self.error is None:
            self.state = "done"
            return
        complaints = []
        while not self._complaints.empty():
            complaints.append(self._complaints.get().strip())
        last = next(filter(None, reversed(complaints)), f"code {code}")
        self._fail(self.error or f"{self.name} ended without a result ({last}).")

    def _clear(self) -> None:
        self._process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(_END_S)
        for reader, stream in zip(self._readers, (self._process.stdout, self._process.stderr), strict=True):
            reader.join(_END_S)
            if stream is not None and not reader.is_alive():
                stream.close()


class ReviewJob(ProcessJob):
    """The review of one take into a folder, or (table) a proposal of what its unknown markers are."""

    def __init__(self, take: Path, folder: Path, settings: Settings, table: Path | None = None, name: str | None = None) -> None:
        self.take = take
        self.folder = folder
        self.table = table
        job: dict[str, Any] = {
            "take": str(take),
            "folder": str(folder),
            "core": str(Path(str(analysis_core.__file__)).parent),
            "path": [*filter(None, sys.path)],
            "table": str(table) if table else "",
            "settings": settings_to_json(settings),
        }
        worker = Path(__file__).with_name("review_worker.py")
        name = name or (f"The review of {take.name}" if table is None else f"The proposal for {take.name}")
        super().__init__(name, [sys.executable, "-I", str(worker)], job)


class ArmatureJob(Job):
    """The review of an armature's motion: its frames are stepped through turn by turn, then a process reviews them.

    sampling yields how far it is, 0 to 1, and returns the take.
    """

    def __init__(self, name: str, sampling: Generator[float, None, Take], folder: Path, settings: Settings) -> None:
        super().__init__(f"The review of {name}")
        self.take = None
        self.folder = folder
        self.stage = "Stepping through the frames"
        self._sampling, self._settings = sampling, settings
        self._review: ReviewJob | None = None
        self._sampled: Path | None = None

    def _work(self) -> None:
        if self._review is not None:
            self._review.poll()
            self.stage, self.share = self._review.stage, 0.5 + 0.5 * self._review.share
            if self._review.finished:
                self._review.check()
                self.state = "done"
            return
        until = time.monotonic() + _TURN_S
        while time.monotonic() < until:
            try:
                self.share = 0.5 * next(self._sampling)
            except StopIteration as ended:
                self._begin(ended.value)
                return
            except ReferenceError as error:
                raise InTheRoundError("The armature or its scene is gone. Select it and review again.") from error

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


class FilmJob(ProcessJob):
    """The film of one or two reviews, rendered by a Blender without a window."""

    def __init__(
        self, blender: str, folders: list[Path], film: Path, size: tuple[int, int], fps: int, seconds: float, look: str
    ) -> None:
        self.film = film
        package = Path(__file__).parent
        job = {
            "package": str(package),
            "path": [*filter(None, sys.path)],
            "folders": [str(folder) for folder in folders],
            "film": str(film),
            "size": list(size),
            "fps": fps,
            "seconds": seconds,
            "figure": look,
        }
        command = [blender, "--background", "--factory-startup", "--python-exit-code", "3", "--python"]
        super().__init__(f"The film {film.name}", [*command, str(package / "film_worker.py")], job)


def end_all() -> None:
    """End whatever is under way: the add-on goes."""
    while running:
        running.pop().cancel()
