"""Words made to fit into a place of the picture by their measured width: wrapped, then smaller, then cut. No bpy here."""

from __future__ import annotations

from collections.abc import Callable

from ..analysis_core.wording.numbers import NO_BREAK

#: Height of a line of words, in sizes of the font.
LINE = 1.0
#: Smaller in steps of this share, and never smaller than this share of the size that is wanted: still readable at 640 pixels.
_STEP, _LEAST = 0.94, 0.72
_CUT = "…"

#: The width of words at size 1.
Extent = Callable[[str], float]


def _broken(word: str, room: float, extent: Extent) -> list[str]:
    """A word in pieces that are no wider than the room."""
    pieces, rest = [], word
    while extent(rest) > room and len(rest) > 1:
        length = next((n for n in range(len(rest) - 1, 1, -1) if extent(rest[:n] + "-") <= room), 1)
        pieces.append(rest[:length] + "-")
        rest = rest[length:]
    return [*pieces, rest]


def wrapped(words: str, room: float, extent: Extent) -> list[str]:
    """Lines that are no wider than the room, in sizes of the font; line breaks in the words stay."""
    lines = []
    for paragraph in words.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            word = word.replace(NO_BREAK, " ")
            longer = f"{line} {word}" if line else word
            if extent(longer) <= room:
                line = longer
                continue
            if line:
                lines.append(line)
            *whole, line = _broken(word, room, extent)
            lines += whole
        lines.append(line)
    return lines


def _ended(words: str, room: float, extent: Extent) -> str:
    """The beginning of the words with an ellipsis that fits."""
    while words and extent(words + _CUT) > room:
        words = words[:-1]
    return words.rstrip(" -,:;") + _CUT


def fitted(words: str, width: float, height: float, size: float, extent: Extent) -> tuple[str, float]:
    """The words with their line breaks, and their size, so that they lie within a width and height.

    size: what is wanted, and the most. Where even the smallest size is too large, the end is cut with an ellipsis.
    """
    smallest = _LEAST * size
    while True:
        lines = wrapped(words, width / size, extent)
        count = max(1, int(height / (LINE * size) + 1e-9))
        if len(lines) <= count:
            return "\n".join(lines), size
        if size <= smallest:
            return "\n".join([*lines[: count - 1], _ended(lines[count - 1], width / size, extent)]), size
        size = max(size * _STEP, smallest)


def on_one_line(words: str, width: float, size: float, extent: Extent) -> tuple[str, float]:
    """The same on a single line: smaller, then cut."""
    wide = extent(words)
    smaller = max(min(size, width / wide if wide else size), _LEAST * size)
    return (words, smaller) if wide * smaller <= width * (1 + 1e-9) else (_ended(words, width / smaller, extent), smaller)
