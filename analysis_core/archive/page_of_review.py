"""The readable page beside each review of an archive: verdict, corrections in a teacher's order, what cannot be told."""

from __future__ import annotations

import html
from pathlib import Path

from ..findings.corrections import Listed, listed
from ..review import Review
from ..wording import archive as words
from ..wording import findings as say
from ..wording import names, numbers
from ..write.files import whole_file
from .pages import REVIEW_PAGE, page, table


def _cells(line: Listed, review: Review) -> tuple[str, ...]:
    """One correction by its worst finding; what a root may have led to stands beneath it."""
    correction, worst = line.correction, line.findings[0]
    phase = next((phase for phase in review.phrase.phases if phase.id == worst.phase), None)
    often = say.how_often(correction.times, correction.chances)
    return (
        (words.MAY_HAVE_LED_TO if line.depth else "")
        + html.escape(names.on_side(names.fault_title(worst.fault), correction.side)),
        html.escape(f"{say.measured(worst)} ({say.target(worst)})"),
        html.escape(numbers.together(say.when(phase, worst.onset_s))),
        html.escape(numbers.together(often)),
    )


def _corrections(review: Review) -> str:
    rows = [_cells(line, review) for line in listed(review.findings, review.phrase)]
    return table(words.CORRECTION_HEADS, rows) if rows else f"<p>{say.NOTHING_FIRST}.</p>"


def write_page(review: Review, folder: Path) -> Path:
    """Write review.html into the folder of a review, whole; it fetches nothing. Raises OSError."""
    take = review.take
    about = words.about_take(review.quality.verdict, take.duration_s, take.rate_hz, Path(review.profile).stem)
    parts = [
        f'<p class="quiet">{html.escape(about)}</p>',
        "".join(f"<p>{html.escape(reason)}</p>" for reason in review.quality.reasons),
        f"<h2>{words.CORRECTIONS}</h2>",
        _corrections(review),
    ]
    if review.unsure:
        rows = [(html.escape(names.fault_title(one.fault)), html.escape(one.why)) for one in review.unsure]
        parts += [f"<h2>{words.CANNOT_BE_TOLD}</h2>", table(words.CANNOT_BE_TOLD_HEADS, rows)]
    parts.append(f'<p class="quiet">{words.end_of_review("<i>Open Review</i>", "<i>Dance Review</i>")}</p>')
    with whole_file(folder / REVIEW_PAGE, overwrite=True) as temporary:
        temporary.write_text(page(take.file, "".join(parts)), encoding="utf-8")
    return folder / REVIEW_PAGE
