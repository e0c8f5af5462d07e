"""Renders the film of one or two reviews in a Blender without a window.

Run by review_job.py: reads one JSON object from standard input and says how far it is, one JSON object a line.
"""

from __future__ import annotations

import importlib
import importlib.util
import json
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
    """Read the job, render."""
    job = json.load(sys.stdin)
    sys.path.extend(entry for entry in job["path"] if entry not in sys.path)
    tempfile.tempdir = job["place"]
    package = find_package(Path(job["package"]))
    turntable = importlib.import_module(f"{package}.scene.turntable")
    review = importlib.import_module(f"{package}.analysis_core.review")
    errors = importlib.import_module(f"{package}.analysis_core.errors")
    try:
        reviews = [review.read_review(Path(folder)) for folder in job["folders"]]
        turntable.render(
            reviews,
            Path(job["film"]),
            size=tuple(job["size"]),
            fps=job["fps"],
            seconds=job["seconds"],
            look=job["figure"],
            progress=lambda share: say(stage="Rendering", share=share),
        )
    except errors.InTheRoundError as error:
        say(error=str(error))
        sys.exit(2)


main()
