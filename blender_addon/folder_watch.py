"""Looking at a folder into which the capture room saves its takes, in a thread of its own. No bpy here.

A network drive can hang for minutes, vanish and come back: whoever asks what was seen is never kept waiting.
"""

from __future__ import annotations

import contextlib
import queue
import stat
import threading
import time
from pathlib import Path

from .analysis_core.wording import watching as words

ENDINGS = (".c3d", ".bvh")
#: How often the folder is looked at, seconds; a take counts as saved when its size held still between two looks.
LOOK_S = 0.5
#: A look that takes longer is told as a folder that does not answer, seconds. Proposed default.
_PATIENCE_S = 5.0

_Size = tuple[int, float]


class Watch:
    """What is known of a folder. ``look`` returns the takes that are new and complete since the last look."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        #: Why the folder cannot be looked at now; empty when it can.
        self.away = ""
        #: What was there at the first look does not open by itself; None before that.
        self._known: dict[Path, _Size] | None = None
        self._growing: dict[Path, _Size] = {}

    def _sizes(self) -> dict[Path, _Size]:
        """Size and time of every take. Raises OSError when the folder cannot be looked at."""
        found = {}
        for path in self.folder.iterdir():
            if path.suffix.lower() in ENDINGS and not path.name.startswith("."):
                with contextlib.suppress(OSError):  # gone since it was listed
                    about = path.stat()
                    if stat.S_ISREG(about.st_mode):
                        found[path] = (about.st_size, about.st_mtime)
        return found

    def look(self) -> list[Path]:
        """Takes whose size and time held still since the last look and that were not there, or were others, before; the newest
        last. Nothing while the folder cannot be looked at: ``away`` says why."""
        try:
            sizes = self._sizes()
        except OSError as error:
            self.away, self._growing = error.strerror or str(error), {}
            return []
        self.away = ""
        if self._known is None:
            self._known = sizes
        new = {path: size for path, size in sizes.items() if self._known.get(path) != size}
        ready = [path for path, size in new.items() if size[0] > 0 and self._growing.get(path) == size]
        self._growing = {path: size for path, size in new.items() if path not in ready}
        self._known.update({path: new[path] for path in ready})
        return sorted(ready, key=lambda path: sizes[path][1])


class Watcher:
    """Looks again and again until ``stop``; what it found waits in ``ready``. None of its methods asks the disk."""

    def __init__(self, folder: Path, every_s: float = LOOK_S) -> None:
        self.folder = folder
        self.ready: queue.SimpleQueue[Path] = queue.SimpleQueue()
        self._watch = Watch(folder)
        self._every_s = every_s
        self._over = threading.Event()
        self._answered = threading.Event()
        self._trouble = ""
        self._began = time.monotonic()
        #: Time of day when the folder last answered.
        self._last_answer = ""
        # A daemon: one that hangs in a look keeps Blender neither from going on nor from ending.
        self._thread = threading.Thread(target=self._go, name="Watches a folder", daemon=True)
        self._thread.start()

    def _go(self) -> None:
        while not self._over.is_set():
            self._began = time.monotonic()
            try:
                for path in self._watch.look():
                    self.ready.put(path)
                self._trouble = self._watch.away
            except Exception as error:  # whatever a file system can think of: look again
                self._trouble = str(error) or type(error).__name__
            self._last_answer = time.strftime("%H:%M:%S")
            self._began = float("inf")
            self._answered.set()
            self._over.wait(self._every_s)

    def answers_within(self, seconds: float) -> bool:
        """Wait for the first look, at most so long; whether it came back."""
        return self._answered.wait(seconds)

    def trouble(self) -> str:
        """What keeps the folder from being seen now, in a sentence; empty when nothing does."""
        if time.monotonic() - self._began > _PATIENCE_S:
            return words.no_answer(self._last_answer)
        if self._trouble:
            return words.out_of_reach(self._trouble)
        return ""

    def stop(self) -> None:
        """Look no more. A look that hangs ends when the drive answers; nobody waits for it."""
        self._over.set()
