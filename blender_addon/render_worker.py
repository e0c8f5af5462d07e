"""Makes the film or the student's page of one or two reviews in a Blender without a window.

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


def make_film(job: dict[str, Any], package: str, reviews: list[Any]) -> None:
    """Render the film."""
    turntable = importlib.import_module(f"{package}.scene.turntable")
    turntable.render(
        reviews,
        Path(job["file"]),
        size=tuple(job["size"]),
        fps=job["fps"],
        seconds=job["seconds"],
        look=job["figure"],
        progress=lambda share: say(stage="Rendering", share=share),
    )


def make_page(job: dict[str, Any], package: str, reviews: list[Any]) -> None:
    """Render the pictures and write the page; say what is on it."""
    pictures = importlib.import_module(f"{package}.scene.page_pictures")
    told = pictures.make_page(
        reviews,
        Path(job["file"]),
        name=job["student"],
        film=Path(job["with_film"]) if job["with_film"] else None,
        look=job["figure"],
        progress=lambda share: say(stage="Rendering the pictures", share=share),
    )
    say(result=told)


MAKE = {"film": make_film, "page": make_page}


def main() -> None:
    """Read the job, do it."""
    job = json.load(sys.stdin)
    sys.path.extend(entry for entry in job["path"] if entry not in sys.path)
    tempfile.tempdir = job["place"]
    package = find_package(Path(job["package"]))
    review = importlib.import_module(f"{package}.analysis_core.review")
    errors = importlib.import_module(f"{package}.analysis_core.errors")
    try:
        MAKE[job["make"]](job, package, [review.read_review(Path(folder)) for folder in job["folders"]])
    except errors.InTheRoundError as error:
        say(error=str(error))
        sys.exit(2)


main()
