"""A folder is watched: when the capture room has saved a take (its size is stable), it opens and reviews by itself."""

from __future__ import annotations

import contextlib
from pathlib import Path

import bpy

from .review_job import running

#: How often the folder is looked at, seconds; a take counts as saved when its size held still between two looks.
LOOK_S = 0.5
ENDINGS = (".c3d", ".bvh")


class Watch:
    """What is known of a watched folder. ``look`` returns the takes that are new and complete since the last look."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        #: Why the folder cannot be looked at now; empty when it can.
        self.away = ""
        self._last: dict[Path, tuple[int, float]] = {}
        self._known = dict(self._sizes())
        self._growing: dict[Path, tuple[int, float]] = {}

    def _sizes(self) -> dict[Path, tuple[int, float]]:
        """Size and time of every take; of a folder that cannot be looked at, what was seen last."""
        found = {}
        try:
            for path in self.folder.iterdir():
                if path.suffix.lower() in ENDINGS and not path.name.startswith("."):
                    with contextlib.suppress(OSError):  # gone between the two looks
                        about = path.stat()
                        found[path] = (about.st_size, about.st_mtime)
        except OSError as error:  # the folder is away for a moment (network drive): look again later
            self.away = error.strerror or str(error)
            return self._last
        self.away = ""
        self._last = found
        return found

    def look(self) -> list[Path]:
        """Takes whose size and time held still since the last look and that were not there, or were others, before."""
        ready = []
        sizes = self._sizes()
        for path, size in sizes.items():
            if self._known.get(path) == size:
                continue
            if size[0] > 0 and self._growing.get(path) == size:
                self._known[path] = size
                del self._growing[path]
                ready.append(path)
            else:
                self._growing[path] = size
        return sorted(ready, key=lambda path: sizes[path][1])


_watches: list[Watch] = []
_waiting: list[Path] = []
_last_opened: list[str] = []


def watched() -> Path | None:
    """The folder that is watched; None when none is."""
    return _watches[0].folder if _watches else None


def seen() -> str:
    """What the watch last saw, in a sentence: from memory, for panels."""
    if not _watches:
        return ""
    watch = _watches[0]
    if watch.away:
        return f"The folder cannot be reached ({watch.away}). It is looked for again and again."
    return _last_opened[-1] if _last_opened else "No new take yet."


def _open(path: Path) -> None:
    """Open a take in the first window, as if the teacher had."""
    manager = bpy.context.window_manager
    if not manager.windows:
        return
    with bpy.context.temp_override(window=manager.windows[0]):
        bpy.ops.dance_review.open_take("INVOKE_DEFAULT", filepath=str(path))


def _look() -> float | None:
    if not _watches:
        return None
    try:
        _waiting.extend(_watches[0].look())
        if _waiting and not running:
            # Only the newest: the dancer wants to hear about the try that was just made. Earlier ones can be opened by hand.
            path = _waiting[-1]
            _waiting.clear()
            _open(path)
            _last_opened[:] = [f"Last: {path.name}."]
    except Exception as error:
        # A timer that raises is never called again, and the panel would still say "watched".
        _last_opened[:] = [f"The last take could not be opened ({error})."]
    return LOOK_S


def watch(folder: Path) -> None:
    """Begin to watch a folder; what is in it already does not open."""
    stop()
    _watches.append(Watch(folder))
    bpy.app.timers.register(_look, first_interval=LOOK_S, persistent=True)


def stop() -> None:
    """Stop watching."""
    _watches.clear()
    _waiting.clear()
    _last_opened.clear()
    if bpy.app.timers.is_registered(_look):
        bpy.app.timers.unregister(_look)


def register() -> None:
    """Nothing is watched until the teacher asks for it."""


def unregister() -> None:
    """Leave no timer behind."""
    stop()
