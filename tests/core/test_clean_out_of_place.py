"""Markers that are nowhere near the body part of their label in a whole take, put there on purpose in takes that are right: on
the floor, at the origin in metres among millimetres, on another limb. They are left out, or their labels put right, nothing else.

Catches: a left ankle in another unit whose label is then "exchanged" with a toe's, with ten kinds of false findings; a marker on
the floor that makes the whole foot seem the other side's; two labels of different limbs that are exchanged.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.body.landmarks import load_landmarks
from in_the_round.analysis_core.body.solve import solve
from in_the_round.analysis_core.capture import clean
from in_the_round.analysis_core.clean import clean_take, judge_capture, mix_ups
from in_the_round.analysis_core.clean.out_of_place import find_out_of_place
from in_the_round.analysis_core.clean.rigidity import Apart
from in_the_round.analysis_core.errors import LandmarkError
from in_the_round.analysis_core.take import Floats, Take

from .named_takes import take_of
from .test_clean_neighbours import exchanged

TAKES = ("careless.c3d", "static.c3d", "dance_c3d/ballroom_f.c3d", "dance_c3d/ballroom_a.c3d", "c3d_fullbody/serve.c3d")
ASTRAY = ("lateral_malleolus.L", "second_metatarsal_head.L", "lateral_femoral_epicondyle.R", "calcaneus.R", "front_of_head.R")
HOW = ("on the floor", "in metres among millimetres", "in inches")
#: Two labels on different limbs, or at far ends of one.
FAR = (
    ("anterior_superior_iliac_spine.L", "second_metatarsal_head.L"),
    ("lateral_malleolus.R", "radial_styloid.R"),
    ("posterior_superior_iliac_spine.R", "calcaneus.R"),
)


def with_path(take: Take, marker: int, path: Floats) -> Take:
    positions = take.positions_m.copy()
    positions[:, marker] = path
    return replace(take, positions_m=positions)


@pytest.mark.parametrize("name", TAKES)
def test_nothing_is_out_of_place_in_a_take_that_is_right(name: str) -> None:
    take, named = take_of(name)
    surveyed = Apart(take.positions_m).survey(0.6)
    found = find_out_of_place(take.positions_m, surveyed, named.landmark_of, named.segment_of)
    assert (found.exchanged, found.lost) == ((), ())


@pytest.mark.parametrize("name", TAKES)
@pytest.mark.parametrize("how", HOW)
def test_a_marker_off_the_body_is_left_out_and_nothing_else_is_touched(name: str, how: str) -> None:
    take, named = take_of(name)
    if name == "static.c3d" and how != "on the floor":
        pytest.skip("standing still near the origin a marker in another unit may be anywhere near")
    untouched = clean_take(take, landmark_of=named.landmark_of, segment_of=named.segment_of)
    # Every marker in every take once, each time another way.
    for landmark in ASTRAY[(HOW.index(how) + TAKES.index(name)) % len(HOW) :: len(HOW)]:
        marker = named.index_of[landmark]
        own = take.positions_m[:, marker]
        path = {"on the floor": np.broadcast_to([2.5, 2.5, 0.02], own.shape), "in inches": own / 25.4}.get(how, own / 1000)
        spoiled = with_path(take, marker, np.asarray(path))
        cleaned = clean_take(spoiled, landmark_of=named.landmark_of, segment_of=named.segment_of)
        assert np.isnan(cleaned.positions_m[:, marker]).all(), landmark
        told = [event for event in cleaned.events if event.kind == "elsewhere"]
        assert [event.label for event in told] == [take.labels[marker]], landmark
        assert [e for e in cleaned.events if e.kind == "swap"] == [e for e in untouched.events if e.kind == "swap"], landmark
        assert any("is not on its part of the body" in sentence for sentence in mix_ups(cleaned, landmark_of=named.landmark_of))
        assert judge_capture(cleaned, landmark_of=named.landmark_of).verdict == "retake"


@pytest.mark.parametrize("name", TAKES)
def test_labels_of_different_limbs_are_put_right(name: str) -> None:
    take, named = take_of(name)
    for pair in FAR:
        first, second = (named.index_of[landmark] for landmark in pair)
        spoiled = exchanged(take, first, second)
        surveyed = Apart(spoiled.positions_m).survey(0.6)
        found = find_out_of_place(spoiled.positions_m, surveyed, named.landmark_of, named.segment_of)
        assert [{swap.first, swap.second} for swap in found.exchanged] == [{first, second}], pair
        assert found.lost == ()


def test_a_heel_that_somebody_lies_down_over_is_on_the_foot() -> None:
    """Who stands still, then goes backwards about the heel until she lies. Catches a marker that is astray because it stays."""
    take, named = take_of("static.c3d")
    heel = named.index_of["calcaneus.R"]
    stood, turned = take.positions_m[:200], np.radians(np.clip(np.arange(200) - 80, 0, 90))
    x, z = (stood[..., axis] - stood[:, [heel], axis] for axis in (0, 2))
    lying = stood.copy()
    lying[..., 0] = np.cos(turned)[:, None] * x - np.sin(turned)[:, None] * z + stood[:, [heel], 0]
    lying[..., 2] = np.sin(turned)[:, None] * x + np.cos(turned)[:, None] * z + stood[:, [heel], 2]
    # As most studios mark an ankle: on the outside only.
    landmark_of = {marker: name for marker, name in named.landmark_of.items() if not name.startswith("medial_malleolus")}
    found = find_out_of_place(lying, Apart(lying).survey(0.6), landmark_of, named.segment_of)
    assert (found.exchanged, found.lost) == ((), ())


def test_a_pelvis_that_cannot_be_built_says_which_marker_is_wanting() -> None:
    """Catches "markers are not known" of a marker that is among those recognised."""
    take, named = take_of("careless.c3d")
    marker = named.index_of["anterior_superior_iliac_spine.L"]
    captured = clean(with_path(take, marker, take.positions_m[:, marker] / 1000), load_landmarks(None))
    with pytest.raises(LandmarkError, match="too seldom: Left front hip bone"):
        solve(captured.cleaned, None, table=load_landmarks(None))


def test_a_marker_hidden_while_the_dancer_stands_is_learnt_from_elsewhere() -> None:
    """A front marker of the pelvis is hidden in every quiet moment. Catches a take that is refused although it shows all of a
    body at other times."""
    take, named = take_of("careless.c3d")
    marker = named.index_of["anterior_superior_iliac_spine.L"]
    speed = np.linalg.norm(np.gradient(take.positions_m[:, marker], axis=0), axis=1) * take.rate_hz
    quiet = ~(speed > np.nanquantile(speed, 0.6))
    hidden = with_path(take, marker, np.where(quiet[:, None], np.nan, take.positions_m[:, marker]))
    captured = clean(hidden, load_landmarks(None))
    movement = solve(captured.cleaned, None, table=load_landmarks(None))
    assert np.isfinite(movement.joint("hip.L")).all(axis=1).mean() > 0.2


def test_labels_in_other_letters_than_the_static_takes_are_said() -> None:
    """Catches a review of nothing, called good, of a take whose labels nobody knows beside a static take of known ones."""
    take, _ = take_of("careless.c3d")
    still, _ = take_of("static.c3d")
    table = load_landmarks(None)
    strange = replace(take, labels=tuple(label.replace("left", "vänster").replace("right", "höger") for label in take.labels))
    with pytest.raises(LandmarkError, match="its labels name no pelvis"):
        solve(clean(strange, table).cleaned, clean(still, table).cleaned, table=table)
