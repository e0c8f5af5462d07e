"""Understanding the phrase: foot contacts, pliés, relevés, turns, jumps, balances, leg gestures, counts."""

from .counts import Counts, TempoProposal
from .flight import Scale, doubt_by_free_fall, scale_from_free_fall, without_heights_and_speeds
from .understand import propose_tempo, understand_phrase

__all__ = [
    "Counts",
    "Scale",
    "TempoProposal",
    "doubt_by_free_fall",
    "propose_tempo",
    "scale_from_free_fall",
    "understand_phrase",
    "without_heights_and_speeds",
]
