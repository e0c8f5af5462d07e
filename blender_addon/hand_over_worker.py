"""Writes the hand-over of a review in a Blender without a window.

Run by review_job.py: reads one JSON object from standard input and says how far it is, one JSON object a line. Everything is made
in a place of its own and brought to its folder when it is whole, so that Esc leaves nothing.
"""

from __future__ import annotations

import importlib
import importlib.util
import json
import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any


def say(**words: Any) -> None:
    """Tell the Blender process that waits something."""
    sys.stdout.write(json.dumps(words) + "\n")
    sys.stdout.flush()


def find_package(folder: Path) -> str:
    """Make the add-on importable by its folder's name, and nothing that lies beside it; return the name."""
    name = folder.name
    spec = importlib.util.spec_from_file_location(name, folder / "__init__.py", submodule_search_locations=[str(folder)])
    assert spec is not None
    assert spec.loader is not None
    package = importlib.util.module_from_spec(spec)
    sys.modules[name] = package
    spec.loader.exec_module(package)
    return name


def give(job: dict[str, Any], package: str) -> None:
    """Write everything beside, then bring it over."""
    core = f"{package}.analysis_core"
    deliver = importlib.import_module(f"{core}.hand_over.deliver")
    wishes = importlib.import_module(f"{core}.hand_over.give").Wishes(**job["wishes"])
    whole_file = importlib.import_module(f"{core}.write.files").whole_file
    write_blend = importlib.import_module(f"{package}.scene.hand_over").write_blend
    made, out = Path(job["place"]) / "made", Path(job["out"])
    note = deliver.deliver(
        Path(job["folder"]), made, wishes, tuple(job["formats"]) or None, write_blend,
        lambda words, share: say(stage=words, share=0.95 * share),
    )  # fmt: skip
    files = sorted(made.iterdir())
    for path in files:
        if not job["overwrite"] and (out / path.name).exists():
            errors = importlib.import_module(f"{core}.errors")
            raise errors.OutputError(f"{out / path.name} is there already. Choose another folder, or tick Replace.")
    for path in files:
        with whole_file(out / path.name, overwrite=True) as temporary:
            shutil.copyfile(path, temporary)
    say(share=1.0, result=json.dumps({"files": len(files), "lost": note["could_not_be_kept"]}))


def main() -> None:
    """Read the job, do it."""
    job = json.load(sys.stdin)
    sys.path.extend(entry for entry in job["path"] if entry not in sys.path)
    tempfile.tempdir = job["place"]
    import bpy  # noqa: F401 - where Blender is a module, its own libraries are found only after it

    package = find_package(Path(job["package"]))
    errors = importlib.import_module(f"{package}.analysis_core.errors")
    code = 0
    try:
        give(job, package)
    except errors.InTheRoundError as error:
        say(error=str(error))
        code = 2
    sys.stdout.flush()
    # Blender's module can hang for ever while Python takes itself apart.
    os._exit(code)


main()
