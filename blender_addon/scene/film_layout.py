"""Where everything stands in the picture of a film: dancers, captions, names and legend never share a place. No bpy here."""

from __future__ import annotations

from dataclasses import dataclass

#: Height of a line of words as a share of the picture's height in a wide picture; readable at 360 lines.
_LINE = 0.047
#: In pictures narrower than this lines are lower in proportion.
_FULL_LINE_ASPECT = 1.2
#: Free at both sides, share of the width of a wide picture.
_EDGE = 0.035
#: Width of the longest that is counted, in lines.
_COUNTED = 6.6
#: From left to right of a wide picture, a film that is upright has a column of its own at the right from here on; in a tall
#: one such a film, and one that is not, take this share of the width, beside the caption. Proposed defaults.
_COLUMN, _UPRIGHT, _LYING = 0.76, 0.27, 0.42


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
    """Places for each take, and for each entry of the legend; strip: the steps of the phrase, counts: what is counted beside it.
    line: height of a line, share of the picture's height."""

    line: float
    dancers: tuple[Place, ...]
    captions: tuple[Place, ...]
    names: tuple[Place, ...]
    legend: tuple[Place, ...]
    strip: Place
    counts: Place
    film: Place | None = None


def layout_of(aspect: float, takes: int, entries: int, film: float | None = None) -> Layout:
    """The layout of a picture (aspect = width / height) with one or two takes and so many entries of a legend.

    film: aspect of a film beside the dancer, None without one; it has room beside one take only.

    Beside each other in a wide picture, one above the other in a tall one; captions above the dancers or, where there is room,
    beside them.
    """
    wide = aspect >= 1.0
    line = _LINE * min(1.0, aspect / _FULL_LINE_ASPECT)
    edge = _EDGE if wide else 1.5 * _EDGE
    legend, foot = _legend(entries, entries if wide else (entries + 1) // 2, edge, line)
    # What is counted has its own place at the right of the strip, which is as wide as the longest of it.
    wide_count = min(_COUNTED * line / aspect, 0.4)
    counts = Place(1 - edge - wide_count, foot + 0.35 * line, 1 - edge, foot + 1.35 * line)
    strip = Place(edge, foot + 0.4 * line, counts.left - 0.02, foot + 1.1 * line)
    body = Place(0.0, foot + 1.6 * line, 1.0, 1.0)
    parts = _parts(body, takes, wide=wide)
    shapes = _shapes(takes, edge, wide=wide)
    room = None
    if film is not None and takes == 1:
        shapes, place, corner = _beside(film, shapes, edge, wide=wide)
        room = _largest(body.within(place.left, place.bottom, place.right, place.top), film / aspect, *corner)
    dancers, captions, names = (
        tuple(part.within(shape.left, shape.bottom, shape.right, shape.top) for part in parts) for shape in shapes
    )
    return Layout(line, dancers, captions, names, legend, strip, counts, room)


def _legend(entries: int, columns: int, edge: float, line: float) -> tuple[tuple[Place, ...], float]:
    """Places of the entries of the legend, in rows at the foot of the picture, and where they end."""
    row, width = 1.15 * line, 1 - 2 * edge
    foot = 0.6 * line + -(-entries // columns) * row
    places = tuple(
        Place(
            edge + width * (i % columns) / columns,
            foot - (i // columns + 1) * row,
            edge + width * (i % columns + 1) / columns - 0.015,
            foot - (i // columns) * row,
        )
        for i in range(entries)
    )
    return places, foot


def _parts(body: Place, takes: int, *, wide: bool) -> list[Place]:
    """The part of each take: beside each other in a wide picture, one above the other in a tall one."""
    if wide:
        return [body.within(i / takes, 0.0, (i + 1) / takes, 1.0) for i in range(takes)]
    return [body.within(0.0, 1.0 - (i + 1) / takes, 1.0, 1.0 - i / takes) for i in range(takes)]


def _shapes(takes: int, edge: float, *, wide: bool) -> tuple[Place, Place, Place]:
    """Where in the part of a take its dancer, its caption and its name stand."""
    if wide and takes == 1:
        return Place(0.38, 0.01, 0.98, 0.97), Place(_EDGE, 0.12, 0.365, 0.94), Place(_EDGE, 0.01, 0.365, 0.08)
    if wide:
        return Place(0.03, 0.01, 0.97, 0.67), Place(2 * _EDGE, 0.67, 0.96, 0.90), Place(2 * _EDGE, 0.915, 0.96, 0.975)
    # One above the other the words stand at the left of a dancer's head, where nobody is.
    if takes == 1:
        return Place(0.02, 0.02, 0.98, 0.74), Place(edge, 0.74, 1 - edge, 0.975), Place(edge, 0.0, 1 - edge, 0.05)
    return Place(0.02, 0.02, 0.98, 0.69), Place(edge, 0.69, 1 - edge, 0.92), Place(edge, 0.93, 1 - edge, 0.985)


def _beside(
    film: float, shapes: tuple[Place, Place, Place], edge: float, *, wide: bool
) -> tuple[tuple[Place, Place, Place], Place, tuple[float, float]]:
    """Shapes that leave room for a film of this aspect beside one dancer, its room, and where in it the film stands, 0 to 1."""
    dancer, caption, name = shapes
    if wide and film <= 1.0:
        dancer = Place(dancer.left, dancer.bottom, _COLUMN - 0.01, dancer.top)
        return (dancer, caption, name), Place(_COLUMN, 0.03, 1 - edge, 0.95), (1.0, 0.5)
    if wide:
        caption = Place(caption.left, 0.46, caption.right, caption.top)
        return (dancer, caption, name), Place(caption.left, 0.03, caption.right, 0.42), (0.0, 0.0)
    left = 1 - edge - (_UPRIGHT if film <= 1.0 else _LYING)
    dancer, caption = (Place(dancer.left, dancer.bottom, dancer.right, 0.64), Place(caption.left, 0.66, left - 0.03, caption.top))
    return (dancer, caption, name), Place(left, 0.66, 1 - edge, caption.top), (1.0, 1.0)


def _largest(room: Place, aspect: float, across: float, up: float) -> Place:
    """The largest place of an aspect, in shares of the picture, within a room: 0 at its left and lower edge, 1 at the others."""
    width = min(room.width, room.height * aspect)
    height = width / aspect
    left, bottom = room.left + across * (room.width - width), room.bottom + up * (room.height - height)
    return Place(left, bottom, left + width, bottom + height)
