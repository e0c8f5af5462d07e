"""Phrases that are used again and again."""

from __future__ import annotations

from .steps import CloseTo, PhraseStep, Pirouette, Plie, Releve, RetireBalance, Sautes, Stand


def demo_phrase() -> tuple[PhraseStep, ...]:
    """Twenty seconds at 120 beats a minute: plié, relevé, balance in retiré, one pirouette en dehors, four sautés."""
    return (
        Stand(2),
        Plie(4),
        Releve(2),
        CloseTo("fifth", "right", "right", 2),
        RetireBalance("right", True, 4),
        Pirouette("right"),
        CloseTo("first", "right", None, 2),
        Sautes(3),
    )
