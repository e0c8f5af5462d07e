"""The readable page beside each review of an archive: verdict, corrections in a teacher's order, what cannot be told."""

from __future__ import annotations

import html
from pathlib import Path

from ..findings.corrections import Listed, listed
from ..review import Review
from ..wording import findings as say
from ..wording import names, numbers
from ..write.files import whole_file
from .pages import page, table

REVIEW_PAGE = "review.html"
_HEADS = ("correction", "measured", "when", "how often")


def _cells(line: Listed, review: Review) -> tuple[str, ...]:
    """One correction by its worst finding; what a root may have led to stands beneath it."""
    correction, worst = line.correction, line.findings[0]
    phase = next((phase for phase in review.phrase.phases if phase.id == worst.phase), None)
    often = say.how_often(correction.times, correction.chances)
    return (
        ("may have led to: " if line.depth else "") + html.escape(names.on_side(names.fault_title(worst.fault), correction.side)),
        html.escape(f"{say.measured(worst)} ({say.target(worst)})"),
        html.escape(numbers.together(say.when(phase, worst.onset_s))),
        html.escape(numbers.together(often)),
    )


def _corrections(review: Review) -> str:
    rows = [_cells(line, review) for line in listed(review.findings, review.phrase)]
    return table(_HEADS, rows) if rows else f"<p>{say.NOTHING_FIRST}.</p>"


def write_page(review: Review, folder: Path) -> Path:
    """Write review.html into the folder of a review, whole; it fetches nothing. Raises OSError."""
    take = review.take
    length = f"{numbers.seconds(take.duration_s)} at {numbers.hertz(take.rate_hz)}"
    parts = [
        f'<p class="quiet">{html.escape(f"{review.quality.verdict}, {length}, level {Path(review.profile).stem}")}</p>',
        "".join(f"<p>{html.escape(reason)}</p>" for reason in review.quality.reasons),
        "<h2>Corrections</h2>",
        _corrections(review),
    ]
    if review.unsure:
        rows = [(html.escape(names.fault_title(one.fault)), html.escape(one.why)) for one in review.unsure]
        parts += ["<h2>What cannot be told</h2>", table(("what", "why"), rows)]
    parts.append(
        '<p class="quiet">To see it in Blender: <i>Open Review</i> in the tab <i>Dance Review</i>, with the folder of this page. '
        "This page says what stood when the take was reviewed; later decisions are in review.json. "
        "A teaching aid: nothing here is a medical finding, and order in time is no proof of a cause.</p>"
    )
    with whole_file(folder / REVIEW_PAGE, overwrite=True) as temporary:
        temporary.write_text(page(take.file, "".join(parts)), encoding="utf-8")
    return folder / REVIEW_PAGE
