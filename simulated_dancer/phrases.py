"""Phrases that are used again and again."""

from __future__ import annotations

from .steps import CloseTo, LegGesture, PhraseStep, Pirouette, Plie, Releve, RetireBalance, Sautes, Stand


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


def leg_phrase(elevation_deg: float = 70.0) -> tuple[PhraseStep, ...]:
    """Both legs lifted to the front and to the side, twice each, in fifth."""
    front = [LegGesture(side, "front", elevation_deg) for side in ("right", "right")]
    side = [LegGesture("right", "side", elevation_deg) for _ in range(2)]
    other = [LegGesture("left", direction, elevation_deg) for direction in ("side", "side")]
    return (Stand(2), CloseTo("fifth", "right", "right", 2), *front, *side, *other, Stand(2))


def repeated_phrase(times: int = 5) -> tuple[PhraseStep, ...]:
    """The same pirouette from fifth several times over, for "4 of 5 times"; phases turn-1 … turn-N."""
    again: list[PhraseStep] = []
    for _ in range(times):
        again += [Pirouette("right"), CloseTo("fifth", "right", "right", 2)]
    return (Stand(2), CloseTo("fifth", "right", "right", 2), *again, Stand(2))
