"""A folder is watched: when the capture room has saved a take (its size is stable), it opens and reviews by itself."""

from __future__ import annotations

from pathlib import Path

import bpy

from .analysis_core.wording import watching as words
from .blender_types import own_operators, there
from .folder_watch import LOOK_S, Watcher
from .review_job import running

_watchers: list[Watcher] = []
_waiting: list[Path] = []
_last_opened: list[str] = []
_shown: list[str] = []


def watched() -> Path | None:
    """The folder that is watched; None when none is."""
    return _watchers[0].folder if _watchers else None


def seen() -> str:
    """What the watch last saw, in a sentence: from memory, for panels."""
    if not _watchers:
        return ""
    return _watchers[0].trouble() or (_last_opened[-1] if _last_opened else words.NOTHING_YET)


def _open(path: Path) -> None:
    """Open a take in the first window, as if the teacher had."""
    manager = there(bpy.context.window_manager)
    if not manager.windows:
        return
    with bpy.context.temp_override(window=manager.windows[0]):
        own_operators().open_take("INVOKE_DEFAULT", filepath=str(path))


def _redraw() -> None:
    """Draw the sidebars again when there is something else to say."""
    if _shown == [seen()]:
        return
    _shown[:] = [seen()]
    for window in there(bpy.context.window_manager).windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


def _take_in() -> float | None:
    """Take in what the watcher found; called by Blender's timer. Never asks the disk, never raises."""
    if not _watchers:
        return None
    try:
        while not _watchers[0].ready.empty():
            _waiting.append(_watchers[0].ready.get_nowait())
        if _waiting and not running:
            # Only the newest: the dancer wants to hear about the try that was just made. Earlier ones can be opened by hand.
            path = _waiting[-1]
            _waiting.clear()
            _last_opened[:] = [words.opened(path.name)]
            _open(path)
        _redraw()
    except Exception as error:
        # A timer that raises is never called again, and the panel would still say "watched".
        _last_opened[:] = [words.not_opened(error)]
    return LOOK_S


def watch(folder: Path) -> Watcher:
    """Begin to watch a folder; what is in it already does not open."""
    stop()
    _watchers.append(Watcher(folder))
    bpy.app.timers.register(_take_in, first_interval=LOOK_S, persistent=True)
    return _watchers[0]


def stop() -> None:
    """Stop watching."""
    for watcher in _watchers:
        watcher.stop()
    for kept in (_watchers, _waiting, _last_opened, _shown):
        kept.clear()
    if bpy.app.timers.is_registered(_take_in):
        bpy.app.timers.unregister(_take_in)


def register() -> None:
    """Nothing is watched until the teacher asks for it."""


def unregister() -> None:
    """Leave no timer behind."""
    stop()
