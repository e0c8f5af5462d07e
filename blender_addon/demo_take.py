"""The demo take that comes with the program: an invented dancer, laid where a review can be written beside it."""

from __future__ import annotations

import shutil
from pathlib import Path

from platformdirs import user_data_path

from .analysis_core.errors import TakeError
from .analysis_core.write.files import whole_file

TAKE, STATIC = "careless.c3d", "static.c3d"
#: The tempo that the demo phrase is danced to, and its first count at the first frame (demo_data/faults.json).
TEMPO_BPM = 120.0


def _source() -> Path:
    """Where the takes came with the program: inside the extension, or beside the add-on in a clone of the repository."""
    package = Path(__file__).resolve().parent
    for folder in (package / "demo_data", package.parent / "demo_data"):
        if (folder / TAKE).is_file():
            return folder
    raise TakeError("The demo take did not come with this installation. Install the extension again.")


def lay_out(folder: Path | None = None) -> tuple[Path, Path]:
    """Copy the demo takes into a folder that can be written to; return the phrase and the static take.

    folder: in the user's data when None: the extension's own is replaced by every update, and a review with it. Raises
    InTheRoundError.
    """
    source = _source()
    folder = folder or user_data_path("in-the-round") / "demo take"
    for name in (TAKE, STATIC):
        target = folder / name
        if not target.is_file() or target.read_bytes() != (source / name).read_bytes():
            with whole_file(target, overwrite=True) as unfinished:
                shutil.copyfile(source / name, unfinished)
    return folder / TAKE, folder / STATIC
