"""The command ``review``: find what went wrong in a take, and write it down."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from ..analysis_core.wording import doing, told
from . import options
from .output import COLUMNS, Output, folded, inferred_text

if TYPE_CHECKING:
    from ..analysis_core.review import Review

HELP = "find the corrections in a take and write review.json and movement.npz"
EXAMPLE = "in-the-round review demo_data/careless.c3d --static demo_data/static.c3d --out out/careless"


#: Lines of one screen; the last two say what was written and what to do next.
LINES, _LAST = 24, 2
#: So many reasons of the verdict are told, and so many lines are kept for what follows the corrections.
_REASONS, _AFTER = 3, 6


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("take", type=Path, metavar="TAKE", help="a recording, C3D or BVH")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="the folder to write to")
    parser.add_argument("--force", action="store_true", help="replace an earlier review; the teacher's decisions are kept")
    options.add_settings(parser)


def _corrections_text(review: Review, most: int) -> list[str]:
    """What to say, the first thing first, and beneath each what it may have led to; at most so many lines."""
    from ..analysis_core.findings.corrections import listed
    from ..analysis_core.wording import reviewed as words

    lines, number = [], 0
    for line in listed(review.findings, review.phrase):
        number += line.depth == 0
        lines.append(words.correction(words.place(number, line.depth), line, COLUMNS))
    if len(lines) > most:
        lines = [*lines[: most - 1], words.more_corrections(len(lines) - most + 1)]
    return lines


def _text(review: Review, written: dict[str, str]) -> str:
    """The review on one screen: a line for every kind of fault, no line longer than the screen is wide."""
    from ..analysis_core.findings.load import jump_load, load_in_words
    from ..analysis_core.wording import reviewed as words

    take, lines = review.take, [words.head(review)]
    lines += [part for reason in review.quality.reasons[:_REASONS] for part in folded(f"  {reason}")]
    lines.append(words.counts(review))
    after = [*load_in_words(jump_load(review.phrase))]
    after += [told.note(warning) for warning in take.warnings if warning not in review.quality.reasons]
    after += inferred_text(take.inferred)
    after = [part for line in after for part in folded(line)]
    lines += _corrections_text(review, max(LINES - _LAST - len(lines) - min(len(after), _AFTER), 1))
    room = LINES - _LAST - len(lines)
    lines += after if len(after) <= room else [*after[: room - 1], words.more_lines(len(after) - room + 1)]
    return "\n".join([*lines, told.written(list(written.values())), told.next_with_folder()])


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Review one take. Raises InTheRoundError."""
    from ..analysis_core.review import MOVEMENT_FILE, REVIEW_FILE, read_document, write_again
    from ..analysis_core.write.files import require_place

    folder = arguments.out
    # Said before the work is done, not after it.
    require_place(folder / REVIEW_FILE, folder / MOVEMENT_FILE, overwrite=arguments.force)
    from ..analysis_core.analyse import analyse

    output.progress(doing.reviewing(arguments.take.name))
    review = write_again(analyse(arguments.take, options.settings_from(arguments)), folder)
    written = {"review": str(folder / REVIEW_FILE), "movement": str(folder / MOVEMENT_FILE)}
    output.result({**read_document(folder), "written": written}, _text(review, written))
