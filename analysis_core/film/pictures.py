"""The pictures of a film that are there already: a film that was stopped goes on where it was."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

from ..errors import OutputError
from ..review import Review
from ..write.cut_short import require_whole
from ..write.files import whole_file
from .plan import FilmPlan
from .wish import Wish

#: Says in the folder of which film its pictures are.
NOTE = "film.json"
#: Raised when the same plan is drawn otherwise than before.
DRAWN = 1


def folder_for(film: Path, wish: Wish) -> Path:
    """Where the pictures of a film lie while it is made: beside it, unless the wish names a folder that keeps them."""
    return Path(wish.pictures) if wish.pictures else film.with_suffix(".pictures")


def picture(folder: Path, number: int) -> Path:
    """The file of a picture; the first one is number 1."""
    return folder / f"picture_{number:04d}.png"


def key_of(reviews: Sequence[Review], plan: FilmPlan, wish: Wish) -> str:
    """The same for films whose pictures are the same."""
    digest = hashlib.sha256()
    for review in reviews:
        digest.update(f"{review.take.sha256} {review.take.file} {review.measures_version} {review.findings}".encode())
    for values in (plan.frames, plan.shown, plan.turned_rad):
        digest.update(values.tobytes())
    digest.update(f"{DRAWN} {wish.size} {wish.look} {wish.names} {wish.draft} {plan.stops}".encode())
    if wish.reference:
        file = Path(wish.reference).stat()
        digest.update(f"{wish.reference} {wish.reference_offset} {file.st_size} {file.st_mtime_ns}".encode())
    return digest.hexdigest()


def _numbered(folder: Path) -> list[Path]:
    return sorted(path for path in folder.glob("picture_*.png") if path.stem.removeprefix("picture_").isdecimal())


def _key_in(folder: Path) -> str | None:
    try:
        return str(json.loads((folder / NOTE).read_text(encoding="utf-8"))["key"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def take_up(folder: Path, key: str, pictures: int) -> int:
    """Make a folder ready for the pictures of a film; return how many of them are there whole from before.

    Pictures of another film of ours, and those that were cut short, go. Raises OutputError for a folder that holds something
    else, or that cannot be written.
    """
    there = _key_in(folder)
    if there is None and folder.is_dir() and any(folder.iterdir()):
        raise OutputError(f"{folder} holds something other than pictures of a film. Choose another folder, or empty it.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path in _numbered(folder):
            if there != key or int(path.stem.removeprefix("picture_")) > pictures:
                path.unlink()
    except OSError as error:
        raise OutputError(f"{folder} cannot be written: {error.strerror}. Choose a folder that you may write to.") from error
    with whole_file(folder / NOTE, overwrite=True) as temporary:
        temporary.write_text(json.dumps({"key": key, "pictures": pictures}), encoding="utf-8")
    return whole_ones(folder)


def whole_ones(folder: Path) -> int:
    """Take away what was cut short; return how many pictures are left."""
    count = 0
    for path in _numbered(folder):
        try:
            require_whole(path)
            count += 1
        except OutputError:
            path.unlink()
    return count


def clear(folder: Path) -> None:
    """Take away the pictures of a film and their folder; what others put there stays."""
    for path in [*_numbered(folder), folder / NOTE]:
        path.unlink(missing_ok=True)
    with contextlib.suppress(OSError):
        folder.rmdir()
