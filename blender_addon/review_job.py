"""A review that runs in a process of its own while Blender stays usable."""

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
from .analysis_core.errors import InTheRoundError, TakeError
from .analysis_core.settings import Settings

#: Reviews under way, so that panels can show them and no second one begins.
running: list[ReviewJob] = []
#: How far each stage is, per cent: no more than an order, since the analysis is one call.
_PER_CENT = {"Starting": 5, "Reviewing": 30, "Writing": 90, "Done": 100}


def _lines_into(stream: IO[str], lines: queue.Queue[str]) -> None:
    for line in stream:
        lines.put(line)


class ReviewJob:
    """One review in the making. ``poll`` from a timer until ``finished``; ``cancel`` ends it at once."""

    def __init__(self, take: Path, folder: Path, settings: Settings) -> None:
        self.take = take
        self.folder = folder
        self.stage = "Starting"
        self.error: str | None = None
        self.finished = False
        worker = Path(__file__).with_name("review_worker.py")
        core = Path(str(analysis_core.__file__)).parent.parent
        job: dict[str, Any] = {"take": str(take), "folder": str(folder), "path": [str(core), *filter(None, sys.path)]}
        job["settings"] = {key: str(value) if isinstance(value, Path) else value for key, value in asdict(settings).items()}
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-I", str(worker)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError as error:
            raise InTheRoundError(f"The review could not be started: {error.strerror}.") from error
        self._lines: queue.Queue[str] = queue.Queue()
        self._complaints: queue.Queue[str] = queue.Queue()
        self._readers = [
            threading.Thread(target=_lines_into, args=(self._process.stdout, self._lines), daemon=True),
            threading.Thread(target=_lines_into, args=(self._process.stderr, self._complaints), daemon=True),
        ]
        for reader in self._readers:
            reader.start()
        self._process.stdin.write(json.dumps(job))
        self._process.stdin.close()

    def poll(self) -> None:
        """Take in what the process said; never waits."""
        code = self._process.poll()
        if code is not None:
            for reader in self._readers:
                reader.join(1.0)
        while not self._lines.empty():
            said = json.loads(self._lines.get())
            self.stage = said.get("stage", self.stage)
            self.error = said.get("error", self.error)
        if code is None:
            return
        self.finished = True
        if code != 0 and self.error is None:
            complaints = []
            while not self._complaints.empty():
                complaints.append(self._complaints.get().strip())
            last = complaints[-1] if complaints else f"code {code}"
            self.error = f"{self.take.name} could not be reviewed: the analysis ended without a result ({last})."

    @property
    def per_cent(self) -> int:
        """How far the review is."""
        return _PER_CENT.get(self.stage, 0)

    def cancel(self) -> None:
        """End the process; what it had not finished is not written."""
        self._process.kill()
        self._process.wait()
        self.finished = True

    def check(self) -> None:
        """Raise TakeError when the review failed."""
        if self.error is not None:
            raise TakeError(self.error)
