"""Understanding the phrase: foot contacts, pliés, relevés, turns, jumps, balances, leg gestures, counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..on_demand import on_demand

if TYPE_CHECKING:
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

# A review is read for its phases; nothing is found anew then.
_MODULES = {
    "counts": ("Counts", "TempoProposal"),
    "flight": ("Scale", "doubt_by_free_fall", "scale_from_free_fall", "without_heights_and_speeds"),
    "understand": ("propose_tempo", "understand_phrase"),
}
__getattr__, __dir__ = on_demand(__name__, {name: (module, name) for module, names in _MODULES.items() for name in names})
