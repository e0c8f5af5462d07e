"""Reads a take in a process of its own, so that no recording can take Blender down and Esc stops it at once.

Run by review_job.py as a script: reads one JSON object from standard input, writes the review folder (or a table of proposed
landmarks), and says on standard output how far it is, one JSON object a line. Never imports bpy.
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


def propose(take: Path, settings: Any, table: Path) -> None:
    """Propose landmarks for the labels of a take that no table knows, and write them as a studio's table."""
    from analysis_core.body.landmarks import load_landmarks  # type: ignore[import-not-found]
    from analysis_core.body.propose import SURE, propose_landmarks, write_table  # type: ignore[import-not-found]
    from analysis_core.read import read_take  # type: ignore[import-not-found]

    say(stage="Looking at the markers", share=0.4)
    proposal = propose_landmarks(read_take(take, settings), load_landmarks(settings.landmarks))
    write_table(proposal, take.name, table, overwrite=True)
    new = [marker for marker in proposal.markers if not marker.known]
    sure = sum(marker.confidence >= SURE for marker in new)
    say(result=f"{len(new)} proposed, {sure} of them surely; {len(proposal.unknown)} without a proposal")


def main() -> int:
    """Read the job, do it, write."""
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
        if job["table"]:
            propose(Path(job["take"]), Settings(**settings), Path(job["table"]))
        else:
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
