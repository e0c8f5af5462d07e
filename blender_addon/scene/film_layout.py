"""Where everything stands in the picture of a film: dancers, captions, names and legend never share a place. No bpy here."""

from __future__ import annotations

from dataclasses import dataclass

#: Height of a line of words as a share of the picture's height in a wide picture; readable at 360 lines.
_LINE = 0.047
#: In pictures narrower than this lines are lower in proportion.
_FULL_LINE_ASPECT = 1.2


@dataclass(frozen=True)
class Place:
    """A part of the picture: left, bottom, right, top, from (0, 0) at its lower left to (1, 1)."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.top - self.bottom

    def within(self, left: float, bottom: float, right: float, top: float) -> Place:
        """A part of this part."""
        return Place(
            self.left + left * self.width,
            self.bottom + bottom * self.height,
            self.left + right * self.width,
            self.bottom + top * self.height,
        )


@dataclass(frozen=True)
class Layout:
    """Places for each take, and for each entry of the legend. line: height of a line, share of the picture's height."""

    line: float
    dancers: tuple[Place, ...]
    captions: tuple[Place, ...]
    names: tuple[Place, ...]
    legend: tuple[Place, ...]


def layout_of(aspect: float, takes: int, entries: int) -> Layout:
    """The layout of a picture (aspect = width / height) with one or two takes and so many entries of a legend.

    Beside each other in a wide picture, one above the other in a tall one; captions above the dancers or, where there is room,
    beside them.
    """
    wide = aspect >= 1.0
    line = _LINE * min(1.0, aspect / _FULL_LINE_ASPECT)
    columns = entries if wide else (entries + 1) // 2
    rows = -(-entries // columns)
    foot = 0.015 + rows * 1.25 * line
    row = (foot - 0.015) / rows
    legend = tuple(
        Place(
            0.03 + 0.94 * (i % columns) / columns,
            foot - (i // columns + 1) * row,
            0.03 + 0.94 * (i % columns + 1) / columns - 0.015,
            foot - (i // columns) * row,
        )
        for i in range(entries)
    )
    body = Place(0.0, foot + 0.01, 1.0, 1.0)
    if wide and takes == 1:
        parts = [body]
        shapes = (Place(0.36, 0.02, 0.99, 0.97), Place(0.03, 0.12, 0.345, 0.97), Place(0.03, 0.02, 0.345, 0.09))
    elif wide:
        parts = [body.within(0.5 * i, 0.0, 0.5 * (i + 1), 1.0) for i in range(takes)]
        shapes = (Place(0.02, 0.085, 0.98, 0.80), Place(0.045, 0.80, 0.96, 0.98), Place(0.045, 0.015, 0.96, 0.075))
    else:
        parts = [body.within(0.0, 1.0 - (i + 1) / takes, 1.0, 1.0 - i / takes) for i in range(takes)]
        top = 0.73 if takes == 1 else 0.75
        shapes = (Place(0.01, 0.07, 0.99, top), Place(0.05, top, 0.95, 0.98), Place(0.05, 0.005, 0.95, 0.065))
    dancers, captions, names = (
        tuple(part.within(shape.left, shape.bottom, shape.right, shape.top) for part in parts) for shape in shapes
    )
    return Layout(line, dancers, captions, names, legend)
