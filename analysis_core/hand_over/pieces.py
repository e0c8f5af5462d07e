"""The steps of a phrase as pieces of the take, for clips, actions and the note."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..phrase.phase import Phase

#: Kinds of steps that make a piece worth naming; single steps and stillness do not. Proposed default.
_KINDS = ("turn", "jump", "plie", "releve", "balance", "leg-gesture")
#: A piece takes in the way there and back, seconds. Proposed default.
_MARGIN_S = 0.25


@dataclass(frozen=True)
class Piece:
    """A stretch of the take: frames start ≤ t < stop."""

    name: str
    start: int
    stop: int

    @property
    def rows(self) -> slice:
        """The frames as a slice."""
        return slice(self.start, self.stop)


def pieces_of(phases: Sequence[Phase], frames: int, rate_hz: float) -> tuple[Piece, ...]:
    """Turns, jumps, pliés, relevés, balances and leg gestures with a little before and after, in order of time."""
    margin = round(_MARGIN_S * rate_hz)
    found = [
        Piece(phase.id, max(0, phase.start - margin), min(frames, phase.end + margin + 1))
        for phase in phases
        if phase.kind in _KINDS
    ]
    return tuple(sorted(found, key=lambda piece: (piece.start, piece.name)))
