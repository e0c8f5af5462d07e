"""Work of the add-on in a Blender without a window: the script that such a process runs.

Run by review_job.py: reads one JSON object from standard input and says how far it is, one JSON object a line. ``job["work"]``
names the module of the add-on that does the work, by its ``make(job, say)``.
"""

from __future__ import annotations

import importlib
import importlib.util
import json
import os
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


def main() -> None:
    """Read the job, do it."""
    job = json.load(sys.stdin)
    sys.path.extend(entry for entry in job["path"] if entry not in sys.path)
    # What is not finished is taken away with this folder, however the process ends.
    tempfile.tempdir = job["place"]
    import bpy  # noqa: F401 - where Blender is a module, its own libraries are found only after it

    package = find_package(Path(job["package"]))
    errors = importlib.import_module(f"{package}.analysis_core.errors")
    code = 0
    try:
        importlib.import_module(f"{package}.{job['work']}").make(job, say)
    except errors.InTheRoundError as error:
        say(error=str(error))
        code = 2
    sys.stdout.flush()
    # Blender's module can hang for ever while Python takes itself apart.
    os._exit(code)


if __name__ == "__main__":
    main()
