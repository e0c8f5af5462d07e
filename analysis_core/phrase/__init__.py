"""Understanding the phrase: foot contacts, pliés, relevés, turns, jumps, balances, leg gestures, counts."""

from .flight import Scale, scale_from_free_fall
from .understand import understand_phrase

__all__ = ["Scale", "scale_from_free_fall", "understand_phrase"]
