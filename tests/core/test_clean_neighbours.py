"""Neighbours of one side that bear each other's label from the first frame to the last, exchanged on purpose in takes that are
rightly labelled: simulated, of real dancers, and standing still. What was exchanged is found, alone; nothing is found before.

Catches: heel and toes told apart by the front of a turned-out body; a foot that points backwards taken for exchanged ankles; heel
and ankle that change places, and a heel marker stuck as high as the ankle's taken for such; a knee that never bends (static take)
left alone; the longer part of a take held for the right one. ``ballroom_a`` has the left wrist exchanged itself: there the side
of the hand's back, told by a formula of its own, is the same on both arms.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.clean import clean_take, judge_capture, mix_ups
from in_the_round.analysis_core.clean.along_limbs import find_exchanged_along_limbs
from in_the_round.analysis_core.clean.neighbours import find_exchanged_neighbours
from in_the_round.analysis_core.clean.rigidity import Apart
from in_the_round.analysis_core.take import Take

from .named_takes import take_of

RECORDINGS = ("dance_c3d/ballroom_f.c3d", "c3d_fullbody/ballet_turn.c3d", "c3d_reference/static.c3d")
PAIRS = (
    ("calcaneus", "second_metatarsal_head"),
    ("calcaneus", "fifth_metatarsal_head"),
    ("calcaneus", "big_toe_tip"),
    ("first_metatarsal_head", "fifth_metatarsal_head"),
    ("second_metatarsal_head", "fifth_metatarsal_head"),
    ("lateral_malleolus", "medial_malleolus"),
    ("lateral_malleolus", "calcaneus"),
    ("medial_malleolus", "calcaneus"),
    ("lateral_malleolus", "second_metatarsal_head"),
    ("lateral_malleolus", "fifth_metatarsal_head"),
    ("medial_malleolus", "big_toe_tip"),
    ("lateral_femoral_epicondyle", "medial_femoral_epicondyle"),
    ("lateral_elbow_epicondyle", "medial_elbow_epicondyle"),
    ("anterior_superior_iliac_spine", "posterior_superior_iliac_spine"),
    ("front_of_head", "back_of_head"),
    ("suprasternal_notch", "seventh_cervical_vertebra"),
    ("xiphoid_process", "tenth_thoracic_vertebra"),
)
ALONG = (
    ("lateral_femoral_epicondyle", "lateral_malleolus"),
    ("lateral_femoral_epicondyle", "calcaneus"),
    ("lateral_femoral_epicondyle", "second_metatarsal_head"),
    ("thigh_1", "fifth_metatarsal_head"),
    ("lateral_elbow_epicondyle", "radial_styloid"),
    ("upper_arm_1", "lateral_elbow_epicondyle"),
)


def exchanged(take: Take, first: int, second: int, start: int = 0, end: int | None = None) -> Take:
    positions = take.positions_m.copy()
    positions[start:end, first], positions[start:end, second] = (
        take.positions_m[start:end, second],
        take.positions_m[start:end, first],
    )
    return replace(take, positions_m=positions)


@pytest.mark.parametrize("name", ["careless.c3d", "static.c3d", *RECORDINGS])
def test_each_exchanged_pair_is_found_and_nothing_else(name: str) -> None:
    take, named = take_of(name)
    assert find_exchanged_neighbours(take.positions_m, named.landmark_of) == []
    tried = 0
    for first, second in PAIRS:
        for side in (".L", ".R", ""):
            pair = [named.index_of.get(stem + side) for stem in (first, second)]
            if None in pair:
                continue
            spoiled = exchanged(take, *pair)
            found = find_exchanged_neighbours(spoiled.positions_m, named.landmark_of)
            assert [{swap.first, swap.second} for swap in found] == [set(pair)], (first, second, side)
            tried += 1
    assert tried >= 8


@pytest.mark.parametrize("name", ["static.c3d", *RECORDINGS[:2]])
def test_two_labels_at_different_heights_of_a_limb_are_found_and_nothing_else(name: str) -> None:
    take, named = take_of(name)
    assert find_exchanged_along_limbs(Apart(take.positions_m).survey(), named.landmark_of, take.frames) == []
    for first, second in ALONG:
        for side in (".L", ".R"):
            pair = [named.index_of[stem + side] for stem in (first, second)]
            (found,) = find_exchanged_along_limbs(
                Apart(exchanged(take, *pair).positions_m).survey(), named.landmark_of, take.frames
            )
            assert [found.first, found.second] == pair, (first, second, side)


def test_a_knee_and_an_ankle_are_put_right_and_no_other_label_is_touched() -> None:
    take, named = take_of("static.c3d")
    pair = [named.index_of[stem + ".L"] for stem in ALONG[0]]
    cleaned = clean_take(exchanged(take, *pair), landmark_of=named.landmark_of, segment_of=named.segment_of)
    np.testing.assert_array_equal(cleaned.positions_m, take.positions_m)
    assert [event.kind for event in cleaned.events] == ["swap"]


def test_the_wrist_of_a_real_take_that_is_exchanged_itself() -> None:
    take, named = take_of("dance_c3d/ballroom_a.c3d")
    index = named.index_of
    (found,) = find_exchanged_neighbours(take.positions_m, named.landmark_of)
    assert {found.first, found.second} == {index["radial_styloid.L"], index["ulnar_styloid.L"]}

    def back_of_hand(side: str) -> float:
        """Signed volume of wrist axis, hand and forearm marker: of mirrored arms the signs differ."""
        thumb, little, hand, forearm = (
            take.positions_m[:, index[stem + side]]
            for stem in ("radial_styloid", "ulnar_styloid", "third_metacarpal_head", "forearm_1")
        )
        wrist = 0.5 * (thumb + little)
        return float(np.nanmedian(np.linalg.det(np.stack([thumb - little, hand - wrist, forearm - wrist], axis=1))))

    assert back_of_hand(".L") * back_of_hand(".R") > 0


def test_heel_and_toes_exchanged_are_put_right_and_said() -> None:
    take, named = take_of("static.c3d")
    pair = [named.index_of[stem + ".L"] for stem in ("calcaneus", "second_metatarsal_head")]
    spoiled = exchanged(take, *pair)
    cleaned = clean_take(spoiled, landmark_of=named.landmark_of, segment_of=named.segment_of)
    np.testing.assert_array_equal(cleaned.positions_m, take.positions_m)
    quality = judge_capture(cleaned, landmark_of=named.landmark_of)
    assert quality.verdict == "usable"
    (reason,) = quality.reasons
    assert "left middle of the ball and left heel are exchanged in the whole take; put right" in reason
    # Of a static take the same is said beside the phrase's own.
    assert mix_ups(cleaned, landmark_of=named.landmark_of) == (reason,)


def test_what_was_exchanged_for_the_longer_part_is_told_with_its_seconds() -> None:
    take, named = take_of("c3d_fullbody/ballet_turn.c3d")
    pair = [named.index_of[stem + ".L"] for stem in ("calcaneus", "second_metatarsal_head")]
    cleaned = clean_take(exchanged(take, *pair, end=70), landmark_of=named.landmark_of, segment_of=named.segment_of)
    np.testing.assert_array_equal(cleaned.positions_m[:, pair], take.positions_m[:, pair])
    (event,) = (event for event in cleaned.events if event.kind == "swap")
    assert (event.start_s, event.end_s, event.repaired) == (0.0, pytest.approx(69 / 30), True)
