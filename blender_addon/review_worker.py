"""Reviews one take in a process of its own, so that no recording can take Blender down and Esc stops it at once.

Run by review_job.py as a script: reads one JSON object from standard input, writes the review folder, and says on
standard output how far it is, one JSON object a line. Never imports bpy.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any


def say(**words: Any) -> None:
    """Tell the Blender process something."""
    sys.stdout.write(json.dumps(words) + "\n")
    sys.stdout.flush()


def main() -> int:
    """Read the job, review, write."""
    job = json.load(sys.stdin)
    sys.path[:] = job["path"]
    say(stage="Starting", share=0.05)
    from analysis_core.analyse import analyse  # type: ignore[import-not-found]
    from analysis_core.errors import InTheRoundError  # type: ignore[import-not-found]
    from analysis_core.review import write_again  # type: ignore[import-not-found]
    from analysis_core.settings import Settings  # type: ignore[import-not-found]

    settings = dict(job["settings"])
    for name in ("static", "landmarks"):
        settings[name] = Path(settings[name]) if settings[name] else None
    try:
        say(stage="Reviewing", share=0.2)
        review = analyse(Path(job["take"]), Settings(**settings))
        say(stage="Writing", share=0.9)
        write_again(review, Path(job["folder"]))
    except InTheRoundError as error:
        say(error=str(error))
        return 2
    say(stage="Done", share=1.0)
    return 0


if __name__ == "__main__":
    sys.exit(main())
