"""Reads a take in a process of its own (worker.py), so that no recording can take Blender down and Esc stops it at once.

Writes the review folder, or a table of proposed landmarks. Never imports bpy.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from .analysis_core.analyse import analyse, analyse_take
from .analysis_core.body.landmarks import load_landmarks
from .analysis_core.body.propose import SURE, propose_landmarks, write_table
from .analysis_core.read import read_take
from .analysis_core.read.sampled import read_sampled
from .analysis_core.review import write_again
from .analysis_core.settings import Settings, settings_from_json
from .analysis_core.wording import doing, reports

Say = Callable[..., None]


def _propose(take: Path, settings: Settings, table: Path, say: Say) -> None:
    """Propose landmarks for the labels of a take that no table knows, and write them as a studio's table."""
    say(stage=doing.LOOKING_AT_MARKERS, share=0.4)
    proposal = propose_landmarks(read_take(take, settings), load_landmarks(settings.landmarks))
    write_table(proposal, take.name, table, overwrite=True)
    new = [marker for marker in proposal.markers if not marker.known]
    sure = sum(marker.confidence >= SURE for marker in new)
    say(result=reports.proposed(len(new), sure, len(proposal.unknown)))


def _review(take: Path, folder: Path, settings: Settings, say: Say) -> None:
    """Review a take, or what was sampled of an armature, and write the review."""
    say(stage=doing.REVIEWING, share=0.2)
    made = analyse_take(read_sampled(take), settings) if take.suffix == ".npz" else analyse(take, settings)
    say(stage=doing.WRITING, share=0.9)
    write_again(made, folder)


def make(job: dict[str, Any], say: Say) -> None:
    """Read the take, write what is asked for."""
    take, settings = Path(job["take"]), settings_from_json(job["settings"])
    if job["table"]:
        _propose(take, settings, Path(job["table"]), say)
    else:
        _review(take, Path(job["folder"]), settings, say)
    say(stage=doing.DONE, share=1.0)
