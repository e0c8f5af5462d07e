"""Work of the add-on in a process of its own, a Blender without a window or bare Python: the script that it runs.

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


def find(name: str, folder: Path) -> None:
    """Make the package in a folder importable by a name, and nothing that lies beside it: a module of the add-on would hide one
    of the same name that a library needs."""
    spec = importlib.util.spec_from_file_location(name, folder / "__init__.py", submodule_search_locations=[str(folder)])
    assert spec is not None
    assert spec.loader is not None
    package = importlib.util.module_from_spec(spec)
    sys.modules[name] = package
    spec.loader.exec_module(package)


def _work(job: dict[str, Any]) -> int:
    """Find the add-on and its core where they lie in this layout, do the work; the exit code."""
    addon, core = Path(job["package"]), Path(job["core"])
    find(addon.name, addon)
    # Inside the add-on of an installed extension, beside it in a clone of the repository.
    find(f"{addon.name}.analysis_core", core)
    errors = importlib.import_module(f"{addon.name}.analysis_core.errors")
    machine = importlib.import_module(f"{addon.name}.analysis_core.wording.machine")
    try:
        importlib.import_module(f"{addon.name}.{job['work']}").make(job, say)
    except errors.InTheRoundError as error:
        say(error=str(error), where=errors.places_of(error))
        return 2
    except MemoryError:
        say(error=machine.NO_MEMORY)
        return 2
    return 0


def main() -> None:
    """Read the job, do it."""
    job = json.load(sys.stdin)
    sys.path.extend(entry for entry in job["path"] if entry not in sys.path)
    # What is not finished is taken away with this folder, however the process ends.
    tempfile.tempdir = job.get("place")
    say(share=0.0)
    if job["blender"]:
        import bpy  # noqa: F401 - where Blender is a module, its own libraries are found only after it

    code = _work(job)
    sys.stdout.flush()
    # Blender's module can hang for ever while Python takes itself apart.
    os._exit(code)


if __name__ == "__main__":
    main()
