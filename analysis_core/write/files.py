"""Files are written whole or not at all, and nothing is overwritten unasked."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import OutputError


def flushed(path: Path) -> None:
    """See to it that what was written to a file is on the disk, so that neither a crash nor a full disk takes it back."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _start_of(path: Path, process: int) -> str:
    """How the names begin of what a process has not finished of a file."""
    return f".{path.stem[:40]}-{process}-"


def sweep(path: Path, process: int) -> None:
    """Take away what a process of this machine that is over, killed perhaps, left unfinished of a file."""
    with contextlib.suppress(OSError):
        for left in path.parent.iterdir():
            if left.name.startswith(_start_of(path, process)):
                left.unlink(missing_ok=True)


def _refuse_what_is_there(path: Path) -> None:
    if path.exists():
        raise OutputError(f"{path} is there already. Choose another name or folder, or add --force to replace it.")


def _not_writable(path: Path, error: OSError) -> OutputError:
    return OutputError(f"{path} cannot be written: {error.strerror}. Choose a folder that you may write to.")


def require_place(*paths: Path, overwrite: bool) -> None:
    """Raise OutputError when ``whole_file`` would not begin with a file: told before the work of minutes, which it ends.

    Nothing is left behind: a folder that is not there yet is made by the writing itself.
    """
    for path in paths:
        try:
            if not overwrite:
                _refuse_what_is_there(path)
            there = next(folder for folder in path.absolute().parents if folder.exists())
            with tempfile.TemporaryFile(prefix=_start_of(path, os.getpid()), dir=there):
                pass
        except OSError as error:
            raise _not_writable(path, error) from error


@contextmanager
def whole_file(path: Path, *, overwrite: bool) -> Iterator[Path]:
    """Yield a temporary path beside ``path``; it takes the place of ``path`` only when the block ends without an error.

    The temporary name keeps the ending of ``path``, since some writers choose a format by it. Raises OutputError when
    ``path`` is there already and ``overwrite`` is false, or when its folder cannot be written.
    """
    try:
        if not overwrite:
            _refuse_what_is_there(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=_start_of(path, os.getpid()), suffix=path.suffix, dir=path.parent)
    except OSError as error:
        raise _not_writable(path, error) from error
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        # mkstemp makes private files; what a teacher hands on should follow the usual permissions.
        mask = os.umask(0)
        os.umask(mask)
        temporary.chmod(0o666 & ~mask)
        flushed(temporary)
        temporary.replace(path)
    except OSError as error:
        raise OutputError(f"{path} could not be finished: {error.strerror}. Nothing was left half-written.") from error
    finally:
        temporary.unlink(missing_ok=True)
