"""The command ``review``: find what went wrong in a take, and write it down."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from ..analysis_core.errors import OutputError
from . import options
from .output import Output, inferred_text

if TYPE_CHECKING:
    from ..analysis_core.review import Review

HELP = "find the corrections in a take and write review.json and movement.npz"
EXAMPLE = "in-the-round review demo_data/careless.c3d --static demo_data/static.c3d --out out/careless"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("take", type=Path, metavar="TAKE", help="a recording, C3D or BVH")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write to")
    parser.add_argument("--static", type=Path, metavar="TAKE", help="the dancer standing still, with the same markers")
    parser.add_argument("--level", metavar="NAME", help="whose bands to judge by (default: intermediate)")
    parser.add_argument("--force", action="store_true", help="replace an earlier review; the teacher's decisions are kept")
    options.add_music(parser)
    options.add_reading(parser)


def _text(review: Review, written: dict[str, str]) -> str:
    from ..analysis_core.findings.load import jump_load
    from ..analysis_core.wording import findings as say
    from ..analysis_core.wording import numbers

    take = review.take
    length = f"{numbers.seconds(take.duration_s)} at {numbers.hertz(take.rate_hz)}"
    lines = [f"{take.file}: {review.quality.verdict}, {length}, level {review.profile}"]
    lines += [f"  {reason}" for reason in review.quality.reasons]
    lines.append(f"{len(review.phrase.phases)} phases, {len(review.findings)} findings, {len(review.unsure)} that cannot be told")
    ordered = sorted(review.findings, key=lambda finding: finding.onset_s)
    lines += [f"  {numbers.seconds(finding.onset_s, 2):>8}  {say.row(finding)}" for finding in ordered]
    lines += jump_load(review.phrase).sentences()
    if take.inferred:
        lines += ["concluded, since the file does not say it:", *inferred_text(take.inferred)]
    lines += [f"note: {warning}" for warning in take.warnings]
    lines.append("written: " + ", ".join(written.values()))
    return "\n".join(lines)


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Review one take. Raises InTheRoundError."""
    from ..analysis_core.review import MOVEMENT_FILE, REVIEW_FILE, read_document, write_again

    folder = arguments.out
    # Said before the work is done, not after it.
    for name in (REVIEW_FILE, MOVEMENT_FILE):
        if (folder / name).exists() and not arguments.force:
            raise OutputError(f"{folder / name} is there already. Choose another folder, or add --force to replace it.")
    from ..analysis_core.analyse import analyse

    output.progress(f"Reviewing {arguments.take.name}")
    review = write_again(analyse(arguments.take, options.settings_from(arguments)), folder)
    written = {"review": str(folder / REVIEW_FILE), "movement": str(folder / MOVEMENT_FILE)}
    output.result({**read_document(folder), "written": written}, _text(review, written))
