"""The hand-over of a review, written in a process of its own (worker.py).

Everything is made in a place of its own and brought to its folder when it is whole, so that Esc leaves nothing.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from .analysis_core.errors import OutputError
from .analysis_core.hand_over.deliver import deliver
from .analysis_core.hand_over.for_blender import blender_file, pictures
from .analysis_core.hand_over.formats import BESIDE
from .analysis_core.hand_over.give import HandOver
from .analysis_core.hand_over.wishes import Wishes
from .analysis_core.write.files import whole_file


def _require_room(paths: list[Path], job: dict[str, Any]) -> None:
    """Raise OutputError where a file is there already that was not said to be replaced."""
    for path in paths:
        if not job["overwrite"] and path.exists():
            raise OutputError(f"{path} is there already. Choose another folder, or tick Replace.")


@contextmanager
def _blend(given: HandOver, path: Path) -> Iterator[None]:
    """Blender's own file, written at once: this process has Blender."""
    # Imported here: where no such file is asked for there is no Blender either.
    from .scene.hand_over import write

    write(blender_file(given), lambda: pictures(given), path)
    yield


def make(job: dict[str, Any], say: Callable[..., None]) -> None:
    """Write everything beside, then bring it over."""
    made, out = Path(job["place"]) / "made", Path(job["out"])
    # What every hand-over writes: told before anything is made.
    _require_room([out / name for name in BESIDE], job)
    note = deliver(
        Path(job["folder"]), made, Wishes(**job["wishes"]), tuple(job["formats"]) or None, _blend,
        lambda words, share: say(stage=words, share=0.95 * share),
    )  # fmt: skip
    files = sorted(made.iterdir())
    _require_room([out / path.name for path in files], job)
    for path in files:
        with whole_file(out / path.name, overwrite=True) as temporary:
            shutil.copyfile(path, temporary)
    say(share=1.0, result=json.dumps({"files": len(files), "lost": note["could_not_be_kept"]}))
