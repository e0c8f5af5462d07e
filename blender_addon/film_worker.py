"""Renders the film of one or two reviews in a Blender without a window.

Run by review_job.py: reads one JSON object from standard input and says how far it is, one JSON object a line.
"""

from __future__ import annotations

import importlib
import json
import sys
from pathlib import Path
from typing import Any


def say(**words: Any) -> None:
    """Tell the Blender process that waits something."""
    sys.stdout.write(json.dumps(words) + "\n")
    sys.stdout.flush()


def main() -> None:
    """Read the job, render."""
    job = json.load(sys.stdin)
    sys.path[:] = [*job["path"], *sys.path]
    turntable = importlib.import_module(f"{job['package']}.scene.turntable")
    review = importlib.import_module(f"{job['package']}.analysis_core.review")
    errors = importlib.import_module(f"{job['package']}.analysis_core.errors")
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
