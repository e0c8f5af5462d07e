"""The command ``check``: can this take be used, or must it be done again?"""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..analysis_core.wording import capture as say
from ..analysis_core.wording import doing, told
from . import options
from .output import Output, inferred_text

if TYPE_CHECKING:
    from ..analysis_core.body.propose import Proposal
    from ..analysis_core.clean.quality import Quality
    from ..analysis_core.settings import Settings
    from ..analysis_core.take import Take

HELP = "say whether a take can be used"
EXAMPLE = "in-the-round check demo_data/careless.c3d"

#: Markers listed for people; the rest is in --json.
_LISTED = 8


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("take", type=Path, metavar="TAKE", help="a recording, C3D or BVH")
    parser.add_argument(
        "--propose-landmarks",
        type=Path,
        metavar="FILE",
        help="write a table for labels that no table knows, from where the markers lie on a dancer who stands still",
    )
    parser.add_argument("--force", action="store_true", help="replace FILE if it is there")
    options.add_settings(parser, leave_out=("static", "level", "tempo", "offset"))


def _text(take: Take, quality: Quality, given: Path) -> str:
    lines = [f"{take.file.name}: {quality.verdict}", *(f"  {reason}" for reason in quality.reasons)]
    kind = take.kind == "markers"
    lines.append(told.checked(take.duration_s, take.frames, take.rate_hz, len(take.labels), markers=kind))
    lines.append(told.missing(quality.missing_fraction))
    worst = sorted((m for m in quality.markers if m.missing_fraction > 0), key=lambda m: -m.missing_fraction)
    if worst:
        width = max(len(m.label) for m in worst[:_LISTED])
        lines.append(told.markers_head(width))
    for marker in worst[:_LISTED]:
        filled = marker.filled_own_path + marker.filled_body_part + marker.filled_whole_body
        lines.append(
            told.marker_line(marker.label, width, marker.missing_fraction, marker.longest_gap_s, filled, marker.landmark)
        )
    if len(worst) > _LISTED:
        lines.append(told.more_gaps(len(worst) - _LISTED))
    lines += inferred_text(take.inferred)
    if take.events:
        lines.append(say.events_in_file([(event.label, event.side, event.time_s) for event in take.events]))
    lines += [told.note(warning) for warning in take.warnings]
    if quality.verdict != "retake":
        lines.append(told.next_review(shlex.quote(str(given))))
    return "\n".join(lines)


def _data(take: Take, quality: Quality) -> dict[str, Any]:
    from ..analysis_core.clean.quality_json import quality_to_json

    return {
        "file": take.file.name,
        "kind": take.kind,
        "rate_hz": float(take.rate_hz),
        "frames": take.frames,
        "duration_s": float(take.duration_s),
        **quality_to_json(quality),
        "events": [{"label": event.label, "side": event.side, "time_s": event.time_s} for event in take.events],
        "inferred": [{"what": item.what, "value": item.value, "why": item.why} for item in take.inferred],
        "warnings": list(take.warnings),
    }


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Check one take. Raises InTheRoundError."""
    from ..analysis_core.capture import check

    output.progress(doing.checking(arguments.take.name))
    settings = options.settings_from(arguments)
    take, quality = check(arguments.take, settings)
    data, text = _data(take, quality), _text(take, quality, arguments.take)
    if arguments.propose_landmarks is not None:
        proposal = _propose(take, settings, arguments.propose_landmarks, overwrite=arguments.force)
        data["proposed_landmarks"] = {
            marker.label: {"landmark": marker.landmark, "confidence": marker.confidence}
            for marker in proposal.markers
            if not marker.known
        }
        text += "\n" + _proposal_text(proposal, arguments.propose_landmarks)
    output.result(data, text)


def _propose(take: Take, settings: Settings, path: Path, *, overwrite: bool) -> Proposal:
    """Write the proposal for a take's unknown labels as a table."""
    from ..analysis_core.body.landmarks import load_landmarks
    from ..analysis_core.body.propose import propose_landmarks, write_table

    proposal = propose_landmarks(take, load_landmarks(settings.landmarks))
    write_table(proposal, take.file.name, path, overwrite=overwrite)
    return proposal


def _proposal_text(proposal: Proposal, path: Path) -> str:
    """What was proposed, for people."""
    from ..analysis_core.body.propose import SURE

    new = [marker for marker in proposal.markers if not marker.known]
    if not new and not proposal.unknown:
        return told.all_known(path)
    lines = [told.proposed(len(new), proposal.facing_confidence)]
    if new and max(marker.confidence for marker in new) < SURE:
        lines.append(told.NONE_SURE)
    lines += [told.proposal(marker.label, marker.landmark, marker.confidence) for marker in new]
    lines += [told.no_proposal(label) for label in proposal.unknown]
    return "\n".join([*lines, told.check_table(path)])
