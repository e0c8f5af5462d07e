"""The review of a take: what was analysed, what the teacher decided, what is shown of the two, and its form on disk."""

from .document import FORMAT, VERSION
from .folder import (
    MOVEMENT_FILE,
    REVIEW_FILE,
    read_decisions,
    read_document,
    read_review,
    save_decisions,
    write_again,
    write_review,
)
from .review import Markers, Review, TakeSummary, carry_over, decide

__all__ = [
    "FORMAT",
    "MOVEMENT_FILE",
    "REVIEW_FILE",
    "VERSION",
    "Markers",
    "Review",
    "TakeSummary",
    "carry_over",
    "decide",
    "read_decisions",
    "read_document",
    "read_review",
    "save_decisions",
    "write_again",
    "write_review",
]
