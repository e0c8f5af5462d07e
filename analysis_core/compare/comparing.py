"""Two reviews into one comparison."""

from __future__ import annotations

from ..errors import InTheRoundError
from ..review import Review
from ..wording import numbers
from .aligning import align
from .changes import find_changes
from .comparison import Comparison
from .differences import find_differences
from .timing import find_timing


class ComparisonError(InTheRoundError):
    """Two takes that cannot be compared."""


def same_markers(a: Review, b: Review) -> bool:
    """Whether the markers stayed on between two takes: both were reviewed with one and the same static take, or are one take."""
    return a.take.sha256 == b.take.sha256 or (a.placement is not None and a.placement == b.placement)


def compare(a: Review, b: Review) -> Comparison:
    """Compare two takes of a phrase, B against A.

    Raises ComparisonError when one of them is shorter than half a second.
    """
    for review in (a, b):
        if review.take.duration_s < 0.5 or review.movement.frames < 10:
            length = numbers.seconds(review.take.duration_s, 2)
            raise ComparisonError(f"{review.take.file} is too short to be compared: {length}.")
    on = same_markers(a, b)
    alignment = align((a.movement, a.phrase), (b.movement, b.phrase))
    return Comparison(
        a.take,
        b.take,
        on,
        alignment,
        find_differences(a, b, alignment, same_markers=on),
        find_timing(alignment.landmarks, a.movement.rate_hz, b.movement.rate_hz),
        tuple(find_changes(a, b, alignment, same_markers=on)),
    )
