"""Work in a process of its own while Blender stays usable: a review, or a film."""

from __future__ import annotations

import json
import queue
import subprocess
import sys
import threading
from dataclasses import asdict
from pathlib import Path
from typing import IO, Any

from . import analysis_core
from .analysis_core.errors import InTheRoundError, OutputError
from .analysis_core.settings import Settings

#: What is under way, so that panels can show it and no second one begins.
running: list[Job] = []


def _lines_into(stream: IO[str], lines: queue.Queue[str]) -> None:
    for line in stream:
        lines.put(line)


class Job:
    """A process that reads one JSON object and says how far it is, one JSON object a line.

    ``poll`` from a timer until ``finished``; ``cancel`` ends it at once; then ``check`` raises what went wrong.
    """

    def __init__(self, name: str, command: list[str], job: dict[str, Any]) -> None:
        self.name = name
        self.stage = "Starting"
        self.share = 0.0
        self.error: str | None = None
        self.result = ""
        self.finished = False
        try:
            self._process = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError as error:
            raise InTheRoundError(f"{name} could not be started: {error.strerror}.") from error
        self._lines: queue.Queue[str] = queue.Queue()
        self._complaints: queue.Queue[str] = queue.Queue()
        self._readers = [
            threading.Thread(target=_lines_into, args=(stream, lines), daemon=True)
            for stream, lines in ((self._process.stdout, self._lines), (self._process.stderr, self._complaints))
        ]
        for reader in self._readers:
            reader.start()
        if self._process.stdin is not None:
            self._process.stdin.write(json.dumps(job))
            self._process.stdin.close()

    def poll(self) -> None:
        """Take in what the process said; never waits."""
        code = self._process.poll()
        if code is not None:
            for reader in self._readers:
                reader.join(1.0)
        while not self._lines.empty():
            line = self._lines.get()
            if line.startswith("{"):  # Blender itself prints other lines
                said = json.loads(line)
                self.stage = said.get("stage", self.stage)
                self.share = said.get("share", self.share)
                self.error = said.get("error", self.error)
                self.result = said.get("result", self.result)
        if code is None:
            return
        self.finished = True
        if code != 0 and self.error is None:
            complaints = []
            while not self._complaints.empty():
                complaints.append(self._complaints.get().strip())
            last = complaints[-1] if complaints else f"code {code}"
            self.error = f"{self.name} ended without a result ({last})."

    def cancel(self) -> None:
        """End the process; what it had not finished is not written."""
        self._process.kill()
        self._process.wait()
        self.finished = True

    def check(self) -> None:
        """Raise InTheRoundError when it failed."""
        if self.error is not None:
            raise OutputError(self.error)


class ReviewJob(Job):
    """The review of one take into a folder, or (table) a proposal of what its unknown markers are."""

    def __init__(self, take: Path, folder: Path, settings: Settings, table: Path | None = None) -> None:
        self.take = take
        self.folder = folder
        self.table = table
        core = Path(str(analysis_core.__file__)).parent.parent
        job: dict[str, Any] = {"take": str(take), "folder": str(folder), "path": [str(core), *filter(None, sys.path)]}
        job["table"] = str(table) if table else ""
        job["settings"] = {key: str(value) if isinstance(value, Path) else value for key, value in asdict(settings).items()}
        worker = Path(__file__).with_name("review_worker.py")
        name = f"The review of {take.name}" if table is None else f"The proposal for {take.name}"
        super().__init__(name, [sys.executable, "-I", str(worker)], job)


class FilmJob(Job):
    """The film of one or two reviews, rendered by a Blender without a window."""

    def __init__(
        self, blender: str, folders: list[Path], film: Path, size: tuple[int, int], fps: int, seconds: float, look: str
    ) -> None:
        self.film = film
        package = Path(__file__).parent
        job = {
            "package": package.name,
            "path": [str(package.parent), *filter(None, sys.path)],
            "folders": [str(folder) for folder in folders],
            "film": str(film),
            "size": list(size),
            "fps": fps,
            "seconds": seconds,
            "figure": look,
        }
        command = [blender, "--background", "--factory-startup", "--python-exit-code", "3", "--python"]
        super().__init__(f"The film {film.name}", [*command, str(package / "film_worker.py")], job)
