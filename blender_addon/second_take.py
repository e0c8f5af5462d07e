"""Between the comparison of the core and what a scene remembers of its second take."""

from __future__ import annotations

from . import moments
from .analysis_core.compare import Comparison
from .analysis_core.wording import comparison as say
from .analysis_core.wording import names, panels
from .properties import DanceReviewSecond, review_of, scene_of

#: A difference of so many times the smallest that can be shown fills its ring.
_FULL = 4.0


def fill(second: DanceReviewSecond, comparison: Comparison, folder: str, how: str) -> None:
    """Put a comparison into a scene's state: the differences that can be shown, the largest first, and what else to say."""
    second.folder, second.take_name, second.how = folder, comparison.b.file, how
    second.differences.clear()
    for found in comparison.differences:
        if found.beyond_measurement:
            item = second.differences.add()
            item.name, item.quantity, item.a_s = say.difference(found), found.quantity, found.a_s
            item.size = min(abs(found.value) / found.least / _FULL, 1.0)
    second.said.clear()
    sentences = [say.placement(comparison)]
    sentences += [say.timing(found) for found in comparison.timing if found.since_before_beyond]
    sentences += [panels.only_in(gap.take, gap.start_s, gap.end_s, gap.why) for gap in comparison.alignment.unmatched]
    sentences += [say.change(found) for found in comparison.findings]
    for words in sentences:
        second.said.add().what = names.capital(words)
    second.chosen = -1


def empty(second: DanceReviewSecond) -> None:
    """Forget the second take."""
    second.folder = second.take_name = second.how = ""
    second.differences.clear()
    second.said.clear()
    second.chosen = -1


def show_difference(second: DanceReviewSecond) -> None:
    """Go to the moment of the chosen difference."""
    if 0 <= second.chosen < len(second.differences):
        scene = scene_of(second)
        scene.frame_set(moments.frame_of(review_of(scene), second.differences[second.chosen].a_s))
