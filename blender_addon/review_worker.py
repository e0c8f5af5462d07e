"""Reads a take in a process of its own, so that no recording can take Blender down and Esc stops it at once.

Run by review_job.py as a script: reads one JSON object from standard input, writes the review folder (or a table of proposed
landmarks), and says on standard output how far it is, one JSON object a line. Never imports bpy.
"""

from __future__ import annotations

import importlib.util
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


def find_core(folder: Path) -> None:
    """Make the analysis core importable by its name. Its neighbours are not: a module of the add-on would hide one of the
    same name that a library needs."""
    start = folder / "__init__.py"
    spec = importlib.util.spec_from_file_location("analysis_core", start, submodule_search_locations=[str(folder)])
    assert spec is not None
    assert spec.loader is not None
    core = importlib.util.module_from_spec(spec)
    sys.modules["analysis_core"] = core
    spec.loader.exec_module(core)


def review(take: Path, folder: Path, settings: Any) -> None:
    """Review a take, or what was sampled of an armature, and write the review."""
    from analysis_core.analyse import analyse, analyse_take  # type: ignore[import-not-found]
    from analysis_core.read.sampled import read_sampled  # type: ignore[import-not-found]
    from analysis_core.review import write_again  # type: ignore[import-not-found]

    say(stage="Reviewing", share=0.2)
    made = analyse_take(read_sampled(take), settings) if take.suffix == ".npz" else analyse(take, settings)
    say(stage="Writing", share=0.9)
    write_again(made, folder)


def main() -> int:
    """Read the job, do it, write."""
    job = json.load(sys.stdin)
    sys.path.extend(entry for entry in job["path"] if entry not in sys.path)
    find_core(Path(job["core"]))
    say(stage="Starting", share=0.05)
    from analysis_core.errors import InTheRoundError, places_of  # type: ignore[import-not-found]
    from analysis_core.settings import settings_from_json  # type: ignore[import-not-found]

    take, settings = Path(job["take"]), settings_from_json(job["settings"])
    try:
        if job["table"]:
            propose(take, settings, Path(job["table"]))
        else:
            review(take, Path(job["folder"]), settings)
    except InTheRoundError as error:
        say(error=str(error), where=places_of(error))
        return 2
    except MemoryError:
        say(error="There is not enough memory for this take. Trim it, or close other programs.")
        return 2
    say(stage="Done", share=1.0)
    return 0


if __name__ == "__main__":
    sys.exit(main())
