"""One writer at a time in a folder, also between programs; the lock of a program that died is free."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import OutputError

#: How long another writer may take: far longer than any of our files needs.
_PATIENCE_S, _LOOK_AGAIN_S = 20.0, 0.02

if sys.platform == "win32":
    import msvcrt

    def _opened(folder: Path) -> int:
        return os.open(folder / ".writing", os.O_RDWR | os.O_CREAT)

    def _take(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _opened(folder: Path) -> int:
        return os.open(folder, os.O_RDONLY)

    def _take(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _wait_for(handle: int, folder: Path, until: float) -> None:
    while True:
        try:
            _take(handle)
            return
        except (BlockingIOError, PermissionError) as error:
            if time.monotonic() > until:
                raise OutputError(f"Another program is writing in {folder}. Try again when it has ended.") from error
            time.sleep(_LOOK_AGAIN_S)
        except OSError:
            return


def _was_replaced(handle: int, folder: Path) -> bool:
    """Whether what is held is no longer what the folder's name leads to. Windows lets nobody rename what is held."""
    if sys.platform == "win32":
        return False
    try:
        return not os.path.samestat(os.fstat(handle), folder.stat())
    except OSError:
        return False


@contextmanager
def only_writer(folder: Path) -> Iterator[None]:
    """Wait until nobody else writes in a folder, and keep others waiting during the block.

    A file system without locks (some network drives) is written without. Raises OutputError when another writer does not end.
    """
    until = time.monotonic() + _PATIENCE_S
    while True:
        try:
            handle = _opened(folder)
        except OSError:
            # Not there yet, or not ours to write: the writing itself says so.
            yield
            return
        try:
            _wait_for(handle, folder, until)
            if _was_replaced(handle, folder):
                # Another folder has taken its place while we waited: that one is the one to hold.
                continue
            yield
            return
        finally:
            # Closing gives the lock back.
            os.close(handle)
