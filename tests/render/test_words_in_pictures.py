"""Captions never run out of their half or into each other: measured from their outlines, in pictures of either shape."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Any


def test_long_words_stay_in_their_places(looked_at: Callable[[str], Any]) -> None:
    told = looked_at("words_in_pictures")
    assert len(told) == 4
    for name, items in told.items():
        assert sum(item.startswith("Caption") for item in items) == 2 * int(name[-1]), name
        width, height = (int(side) for side in name.split()[0].split("x"))
        for item, where in items.items():
            left, bottom, right, top = where["box"]
            assert min(left, bottom) >= 0.0, (name, item)
            assert max(right, top) <= 1.0, (name, item)
            if item.startswith("Caption") and name.endswith("2"):
                second = item.endswith("2")
                inside = (left > 0.5 if second else right < 0.5) if width > height else (top < 0.56 if second else bottom > 0.5)
                assert inside, (name, item)
        for one, other in combinations(items, 2):
            if set(items[one]["seen"]) & set(items[other]["seen"]):
                a, b = items[one]["box"], items[other]["box"]
                assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (name, one, other)
