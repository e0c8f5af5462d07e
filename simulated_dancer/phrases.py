"""Phrases that are used again and again."""

from __future__ import annotations

from .leg_gesture import LegGesture
from .pirouette import Pirouette
from .sautes import Sautes
from .score import Sided
from .steps import CloseTo, PhraseStep, Plie, Releve, RetireBalance, Stand


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


_FIFTH = CloseTo("fifth", "right", "right", 2)


def barre(side: Sided = "right") -> tuple[PhraseStep, ...]:
    """Pliés demi and grand in first, second and fifth, one held at the bottom, one relevé."""
    return (
        Stand(2), Plie(4), Plie(6, grand=True), Releve(2), CloseTo("second", side, None, 2), Plie(4), Plie(6, grand=True),
        CloseTo("fifth", side, side, 2), Plie(4, hold_counts=2), Plie(4), Stand(2),
    )  # fmt: skip


def adage(side: Sided = "right") -> tuple[PhraseStep, ...]:
    """Développés and lifted legs to the front, side and back, held; a balance in retiré."""
    return (
        Stand(2), CloseTo("fifth", side, side, 2), LegGesture(side, "front", 70.0, 6, hold_counts=2, unfolds=True),
        LegGesture(side, "side", 62.0, 6, hold_counts=2), LegGesture(side, "back", 56.0, 6),
        RetireBalance(side, True, 4, depth=0.9), Stand(2),
    )  # fmt: skip


def turns_from_fourth(side: Sided = "right") -> tuple[PhraseStep, ...]:
    """En dehors from fourth, held on full relevé and lowered; en dedans, two revolutions."""
    return (
        Stand(2), CloseTo("fifth", side, side, 2), Pirouette(side, balance_s=0.5, off_s=0.08, knee_forward_deg=15.0),
        CloseTo("fifth", side, side, 2), Pirouette(side, "en dedans", 2, off_s=0.08), Stand(2),
    )  # fmt: skip


def turns_from_fifth(side: Sided = "right") -> tuple[PhraseStep, ...]:
    """En dehors from fifth with a held plié, two revolutions; one revolution, held and lowered through half a second."""
    held = Pirouette(side, "en dehors", 2, preparation="fifth", plie_hold_s=0.4, off_s=0.08)
    lowered = Pirouette(side, preparation="fifth", balance_s=0.4, lowering_s=0.4, off_s=0.08)
    close = CloseTo("fifth", side, side, 2)
    return (Stand(2), close, held, close, lowered, Stand(2))


def petit_allegro(height_m: float = 0.13, changes: bool = True) -> tuple[PhraseStep, ...]:
    """Sautés in first with their take-offs on the count, changements (or sautés in fifth), a plié that ends."""
    return (
        Stand(2), Sautes(3, height_m, 2, "take-off"), _FIFTH, Sautes(3, height_m, 2, changes=changes), Stand(1), Plie(4),
        Stand(2),
    )  # fmt: skip


def everything(height_m: float = 0.12) -> tuple[PhraseStep, ...]:
    """A bit of everything, as the demo phrase has it, danced without a fault: a plié, a relevé, a balance, a turn, sautés."""
    return (
        Stand(2), Plie(4), Releve(2), _FIFTH, RetireBalance("right", True, 4, depth=0.9), Pirouette("right", off_s=0.08),
        CloseTo("first", "right", None, 2), Sautes(3, height_m), Stand(1),
    )  # fmt: skip


def short(what: str, height_m: float = 0.12) -> tuple[PhraseStep, ...]:
    """A take of a few seconds: one plié, balance, turn or jump, with hardly a moment of standing."""
    steps: dict[str, tuple[PhraseStep, ...]] = {
        "plié": (Stand(1), Plie(4, arms="low"), Plie(4), Stand(1)),
        "balance": (Stand(1), _FIFTH, RetireBalance("right", True, 4, depth=0.9)),
        "turn": (Stand(1), _FIFTH, Pirouette("right", off_s=0.08)),
        "jump": (Stand(1), Sautes(3, height_m), Stand(1)),
    }
    return steps[what]
