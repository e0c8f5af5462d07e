"""Measuring and judging a captured dance phrase: pure functions on arrays, no Blender, no printing.

The front door, for a notebook or a script: everything named in ``__all__``. Each name is imported when it is first asked for,
so that who asks for one does not wait for all::

    from pathlib import Path
    from in_the_round import analysis_core as core

    review = core.review_take(Path("phrase.c3d"), core.Settings(static=Path("static.c3d")))
    for finding in review.findings:
        print(core.finding_in_words(finding))
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .on_demand import on_demand

if TYPE_CHECKING:
    from .analyse import analyse as review_take
    from .body.movement import Movement
    from .capture import check
    from .clean.quality import Quality
    from .compare.comparing import compare as compare_reviews
    from .compare.comparison import Comparison
    from .errors import InTheRoundError
    from .findings.catalogue import catalogue
    from .findings.finding import Finding
    from .findings.load import jump_load
    from .phrase.phase import Phrase
    from .read import read_take
    from .review import Review, read_review, write_review
    from .settings import Settings
    from .take import Take
    from .wording.findings import row as finding_in_words

__all__ = [
    "Comparison",
    "Finding",
    "InTheRoundError",
    "Movement",
    "Phrase",
    "Quality",
    "Review",
    "Settings",
    "Take",
    "catalogue",
    "check",
    "compare_reviews",
    "finding_in_words",
    "jump_load",
    "read_review",
    "read_take",
    "review_take",
    "write_review",
]

#: Where each name comes from, and what it is called there when it is called otherwise.
_FROM = {
    "Comparison": ("compare.comparison", "Comparison"),
    "Finding": ("findings.finding", "Finding"),
    "InTheRoundError": ("errors", "InTheRoundError"),
    "Movement": ("body.movement", "Movement"),
    "Phrase": ("phrase.phase", "Phrase"),
    "Quality": ("clean.quality", "Quality"),
    "Review": ("review", "Review"),
    "Settings": ("settings", "Settings"),
    "Take": ("take", "Take"),
    "catalogue": ("findings.catalogue", "catalogue"),
    "check": ("capture", "check"),
    "compare_reviews": ("compare.comparing", "compare"),
    "finding_in_words": ("wording.findings", "row"),
    "jump_load": ("findings.load", "jump_load"),
    "read_review": ("review", "read_review"),
    "read_take": ("read", "read_take"),
    "review_take": ("analyse", "analyse"),
    "write_review": ("review", "write_review"),
}

__getattr__, __dir__ = on_demand(__name__, _FROM)
