"""What the figure wears: the one table that the add-on, the command line, the student's page and files choose from.

Names and colours only, without arrays, so that a list of choices costs nothing to show; ``clothes`` lays them on the skin.
"""

from __future__ import annotations

from dataclasses import dataclass

from .palette import CLOTH, HAIR, LEGGINGS, LIGHT_SHOES, SHIRT, SHOES, Colour

#: What a skin can be covered with, in the order in which one lies over the other.
COVERS = ("cloth", "leggings", "hair", "shoes")


@dataclass(frozen=True)
class Look:
    """title and description: for those who choose. bun: hair gathered at the back. loose: whether cloth lies on the skin with an
    edge of its own. colours: of COVERS, linear RGB."""

    title: str
    description: str
    bun: bool
    loose: bool
    colours: tuple[Colour, Colour, Colour, Colour]


#: By name; the first one is used unless another is asked for.
LOOKS = {
    "practice": Look(
        "Practice Clothes",
        "Short hair, shirt and leggings, for any dancer",
        bun=False,
        loose=True,
        colours=(SHIRT, LEGGINGS, HAIR, LIGHT_SHOES),
    ),
    "leotard": Look(
        "Leotard and Bun",
        "Hair gathered at the back, a leotard, bare legs",
        bun=True,
        loose=False,
        colours=(CLOTH, CLOTH, HAIR, SHOES),
    ),
}
DEFAULT_LOOK = next(iter(LOOKS))
