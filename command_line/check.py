"""The command ``check``: can this take be used, or must it be done again?"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from ..analysis_core.clean.quality import Quality
from ..analysis_core.review import quality_to_json
from ..analysis_core.take import Take
from . import options
from .output import Output, inferred_text

HELP = "say whether a take can be used"
EXAMPLE = "in-the-round check demo_data/careless.c3d"

#: Markers listed for people; the rest is in --json.
_LISTED = 8


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("take", type=Path, metavar="TAKE", help="a recording, C3D or BVH")
    options.add_reading(parser)


def _text(take: Take, quality: Quality) -> str:
    lines = [f"{take.file.name}: {quality.verdict}", *(f"  {reason}" for reason in quality.reasons)]
    what = "markers" if take.kind == "markers" else "joints"
    lines.append(f"{take.duration_s:.1f} s, {take.frames} frames at {take.rate_hz:g} Hz, {len(take.labels)} {what}")
    lines.append(f"missing: {100 * quality.missing_fraction:.1f} % of the samples")
    worst = sorted((m for m in quality.markers if m.missing_fraction > 0), key=lambda m: -m.missing_fraction)
    if worst:
        width = max(len(m.label) for m in worst[:_LISTED])
        lines.append("  marker".ljust(width + 4) + "missing   longest gap   filled   landmark")
    for marker in worst[:_LISTED]:
        filled = marker.filled_spline + marker.filled_rigid + marker.filled_pattern
        lines.append(
            f"  {marker.label.ljust(width)}  {100 * marker.missing_fraction:5.1f} %  {marker.longest_gap_s:9.2f} s"
            f"  {100 * filled:5.1f} %   {marker.landmark or 'unknown'}"
        )
    if len(worst) > _LISTED:
        lines.append(f"  and {len(worst) - _LISTED} more with gaps")
    if take.inferred:
        lines += ["concluded, since the file does not say it:", *inferred_text(take.inferred)]
    lines += [f"note: {warning}" for warning in take.warnings]
    return "\n".join(lines)


def _data(take: Take, quality: Quality) -> dict[str, Any]:
    return {
        "file": take.file.name,
        "kind": take.kind,
        "rate_hz": float(take.rate_hz),
        "frames": take.frames,
        "duration_s": float(take.duration_s),
        **quality_to_json(quality),
        "inferred": [{"what": item.what, "value": item.value, "why": item.why} for item in take.inferred],
        "warnings": list(take.warnings),
    }


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Check one take. Raises InTheRoundError."""
    from ..analysis_core.analyse import check

    output.progress(f"Checking {arguments.take.name}")
    take, quality = check(arguments.take, options.settings_from(arguments))
    output.result(_data(take, quality), _text(take, quality))
