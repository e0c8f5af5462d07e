"""Left and right exchanged in the labels from the first frame to the last, by exchanging them on purpose: in takes rightly
labelled, simulated and of real dancers, nothing may be found, and what was exchanged is found whole and alone.

Catches: a pirouette's or a fifth's crossed legs taken for exchanged labels; a part left as it is beside one put right; a mirrored
file whose knees would be told to be pressed back by 60°.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.landmarks import load_landmarks, recognise
from in_the_round.analysis_core.clean import clean_take, judge_capture
from in_the_round.analysis_core.clean.sides import find_exchanged_sides
from in_the_round.analysis_core.clean.swaps import Swap, undo
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.take import Take

ROOT = Path(__file__).resolve().parents[2]
RECORDINGS = (
    "dance_c3d/ballroom_a.c3d",
    "dance_c3d/ballroom_g.c3d",
    "c3d_fullbody/ballet_turn.c3d",
    "c3d_fullbody/serve_gaps.c3d",
)
#: Everything; whole limbs; single parts.
WHAT = (None, ("thigh", "shank", "foot", "toes"), ("upper_arm", "forearm", "hand"), ("foot", "toes"), ("shank",), ("head",))


@cache
def take_of(name: str) -> tuple[Take, dict[int, str], dict[int, str]]:
    demo = ROOT / "demo_data" / name
    path = demo if demo.exists() else ROOT.parent / "shared" / "data" / name
    if not path.exists():
        pytest.skip(f"{name} is not there: the open recordings lie beside the repository.")
    take = read_take(path)
    named = recognise(take.labels, load_landmarks(None))
    return take, named.landmark_of, named.segment_of


def exchanged(name: str, parts: tuple[str, ...] | None) -> tuple[np.ndarray, set[tuple[int, int]]]:
    """Positions with both sides' labels of some parts (None: all) exchanged, and the pairs of markers."""
    take, landmark_of, segment_of = take_of(name)
    index_of = {landmark: index for index, landmark in landmark_of.items()}
    pairs = {
        (index, index_of[landmark[:-1] + "R"])
        for index, landmark in landmark_of.items()
        if landmark.endswith(".L")
        and landmark[:-1] + "R" in index_of
        and (parts is None or segment_of[index].partition(".")[0] in parts)
    }
    return undo(take.positions_m, [Swap(left, right, 0, take.frames, True) for left, right in pairs]), pairs


@pytest.mark.parametrize("name", ["careless.c3d", "static.c3d", *RECORDINGS])
def test_what_was_exchanged_is_found_and_nothing_else(name: str) -> None:
    take, landmark_of, segment_of = take_of(name)
    assert find_exchanged_sides(take.positions_m, landmark_of, segment_of) == []
    for parts in WHAT:
        positions, pairs = exchanged(name, parts)
        found = find_exchanged_sides(positions, landmark_of, segment_of)
        assert {(swap.first, swap.second) for swap in found} == pairs, parts
        np.testing.assert_array_equal(undo(positions, found), take.positions_m)


def test_a_mirror_image_is_read_as_a_body_and_said() -> None:
    take, landmark_of, segment_of = take_of("static.c3d")
    mirrored = replace(take, positions_m=take.positions_m * [1.0, -1.0, 1.0])
    quality = judge_capture(clean_take(mirrored, landmark_of=landmark_of, segment_of=segment_of), landmark_of=landmark_of)
    assert quality.verdict == "usable"
    assert "mirror image" in quality.reasons[0]


def test_one_exchanged_part_is_named_in_one_sentence() -> None:
    take, landmark_of, segment_of = take_of("static.c3d")
    positions, _ = exchanged("static.c3d", ("foot", "toes"))
    cleaned = clean_take(replace(take, positions_m=positions), landmark_of=landmark_of, segment_of=segment_of)
    quality = judge_capture(cleaned, landmark_of=landmark_of)
    np.testing.assert_array_equal(cleaned.positions_m, take.positions_m)
    assert len(quality.reasons) == 1
    assert "heel" in quality.reasons[0]
    assert "put right" in quality.reasons[0]


def test_without_a_trunk_nothing_is_told() -> None:
    take, landmark_of, segment_of = take_of("static.c3d")
    legs = {
        index: name for index, name in landmark_of.items() if segment_of[index].partition(".")[0] in ("shank", "foot", "toes")
    }
    assert find_exchanged_sides(take.positions_m * [1.0, -1.0, 1.0], legs, segment_of) == []
