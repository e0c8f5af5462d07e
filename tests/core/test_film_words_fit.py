"""Words fit their places whatever their length: the arithmetic, with a font whose letters are all known."""

from __future__ import annotations

from itertools import combinations

import pytest

pytest.importorskip("bpy", reason="the add-on's package needs the Blender module")

from in_the_round.scene.film_layout import Place, layout_of
from in_the_round.scene.fitting import LINE, fitted, on_one_line, wrapped

SIZES = [(640, 360), (1280, 720), (1920, 1080), (360, 640), (640, 1138), (720, 1280), (1080, 1920), (720, 720)]
TEXTS = [
    "Knee inside the toes, left\nknee to the line of the foot: 156 mm \u00b1 39\nband at most 40 mm",
    "Donaudampfschifffahrtsgesellschaftskapit\u00e4nsm\u00fctzenhalterung " * 3,
    "a",
    "",
    " ".join(["never"] * 300),
]


def even(words: str) -> float:
    """Every letter half a size wide."""
    return 0.5 * len(words)


@pytest.mark.parametrize("words", TEXTS)
@pytest.mark.parametrize(("width", "height"), [(10.0, 3.0), (4.0, 8.0), (30.0, 1.0)])
def test_words_stay_within_their_place(words: str, width: float, height: float) -> None:
    text, size = fitted(words, width, height, 1.0, even)
    lines = text.split("\n")
    assert max(even(line) * size for line in lines) <= width + 1e-9
    assert len(lines) * LINE * size <= height + 1e-9
    assert 0.7 <= size <= 1.0


def test_nothing_is_cut_that_has_room() -> None:
    for words in TEXTS:
        text, size = fitted(words, 1000.0, 1000.0, 1.0, even)
        assert (text.split(), size) == (words.split(), 1.0)
    assert fitted(TEXTS[-1], 10.0, 3.0, 1.0, even)[0].endswith("\u2026")


def test_wrapping_loses_no_letter() -> None:
    for words in TEXTS:
        together = "".join(line.removesuffix("-") for line in wrapped(words, 6.0, even))
        assert together.replace(" ", "") == "".join(words.split()).replace("-", "")


def test_a_name_stays_on_its_line() -> None:
    text, size = on_one_line("a_very_long_name_of_a_take_" * 9, 10.0, 1.0, even)
    assert even(text) * size <= 10.0
    assert "\n" not in text
    assert on_one_line("take", 10.0, 1.0, even) == ("take", 1.0)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("film", [9 / 16, 1.0, 16 / 9, 2.4])
def test_a_film_beside_the_dancer_covers_nothing(size: tuple[int, int], film: float) -> None:
    """It keeps its shape, can be seen, and shares no place with dancer, caption, strip, counts or legend."""
    aspect = size[0] / size[1]
    layout = layout_of(aspect, 1, 4, film)
    place = layout.film
    assert place is not None
    assert place.width * aspect / place.height == pytest.approx(film)
    assert place.width * place.height >= 0.03
    for other in [*layout.dancers, *layout.captions, *layout.legend, layout.strip, layout.counts]:
        apart = place.right <= other.left or other.right <= place.left or place.top <= other.bottom or other.top <= place.bottom
        assert apart, (place, other)
    assert layout_of(aspect, 2, 4, film) == layout_of(aspect, 2, 4)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("takes", [1, 2])
def test_no_two_places_overlap(size: tuple[int, int], takes: int) -> None:
    """Captions, names and legend never share a place; every one lies in the picture, captions in the half of their dancer."""
    aspect = size[0] / size[1]
    layout = layout_of(aspect, takes, 4)
    words = [*layout.captions, *layout.names, *layout.legend, layout.strip, layout.counts]
    for place in [*words, *layout.dancers]:
        assert 0.0 <= place.left < place.right <= 1.0
        assert 0.0 <= place.bottom < place.top <= 1.0
    for one, other in combinations(words, 2):
        apart = one.right <= other.left or other.right <= one.left or one.top <= other.bottom or other.top <= one.bottom
        assert apart, (one, other)
    if takes == 2:
        for index, caption in enumerate(layout.captions):
            half = Place(0.5 * index, 0.0, 0.5 * (index + 1), 1.0) if aspect >= 1 else Place(0.0, 0.5 - 0.5 * index, 1.0, 1.0)
            assert half.left <= caption.left
            assert caption.right <= half.right
    # A line is never lower than 10 pixels in the smallest picture.
    assert layout.line * size[1] * 0.72 >= 10.0
    assert all(place.height >= 2.0 * layout.line for place in layout.captions)
