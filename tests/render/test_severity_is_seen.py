"""Real pixels: a fault colours its body part in the rendered picture, and a review with all set aside shows none."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any


def test_a_fault_is_seen_in_the_picture_and_gone_when_set_aside(looked_at: Callable[[str], Any]) -> None:
    told = looked_at("render_twice")
    # The lower leg and foot of a dancer who fills the height of the picture: some hundredths of it.
    assert 0.002 < told["True"]["magenta"] < 0.05
    assert told["False"]["magenta"] < 0.0005
    assert min(one["contrast"] for one in told.values()) > 0.5
