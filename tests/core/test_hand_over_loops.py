"""Loops: proposals for movement of known period and gap, none where nothing repeats, seams that do not jerk."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import SEGMENTS
from in_the_round.analysis_core.hand_over.give import HandOver, hand_over, note_of
from in_the_round.analysis_core.hand_over.loops import close_loop, find_loops, over_the_seam
from in_the_round.analysis_core.hand_over.skeleton import Skeleton
from in_the_round.analysis_core.hand_over.timing import cut
from in_the_round.analysis_core.hand_over.wishes import Wishes
from in_the_round.analysis_core.review import Review
from scipy.spatial.transform import Rotation

RATE_HZ = 60.0
_ARMS = [SEGMENTS.index(name + side) for name in ("upper_arm", "thigh") for side in (".L", ".R")]


@pytest.fixture(scope="module")
def given(careful_review: Review) -> HandOver:
    return hand_over(careful_review, Wishes())


def swinging(given: HandOver, swing: np.ndarray, pelvis: np.ndarray, yaw: np.ndarray) -> Skeleton:
    """A body whose arms and thighs swing (F,) radians while it travels and turns: formulas of the test's own."""
    frames = len(swing)
    spin = Rotation.from_rotvec(yaw[:, None] * [0.0, 0.0, 1.0]).as_matrix()
    turned = np.repeat(spin[:, None], len(SEGMENTS), axis=1)
    for index in _ARMS:
        turned[:, index] = spin @ Rotation.from_rotvec(swing[:, None] * [1.0, 0.0, 0.0]).as_matrix()
    everywhere = np.ones((frames, len(SEGMENTS)), dtype=bool)
    return replace(
        given.skeleton,
        turned=turned,
        pelvis_m=pelvis,
        rate_hz=RATE_HZ,
        known=everywhere,
        on_floor=np.ones((frames, 2), dtype=bool),
    )


def test_a_known_period_is_found_with_its_turn_and_travel(given: HandOver) -> None:
    """0.9 s, turning 30° to the left and travelling 0.3 m forward a cycle. Would catch two rounds offered for one."""
    times = np.arange(400) / RATE_HZ
    yaw = np.radians(30.0) * times / 0.9
    steps = Rotation.from_rotvec(yaw[:, None] * [0.0, 0.0, 1.0]).apply([0.0, -0.3 / 0.9 / RATE_HZ, 0.0])
    pelvis = np.cumsum(steps, axis=0)
    pelvis[:, 2] += 0.9
    skeleton = swinging(given, 0.8 * np.sin(2 * np.pi * times / 0.9), pelvis, yaw)
    found = find_loops(skeleton)
    best = found[0]
    assert (best.stop - best.start) / RATE_HZ == pytest.approx(0.9, abs=0.5 / RATE_HZ)
    assert best.gap_m < 0.003
    assert np.degrees(best.turn_rad) == pytest.approx(30.0, abs=0.5)
    # The chord of an arc of 0.3 m over 30°, seen from its beginning.
    radius = 0.3 / np.radians(30.0)
    assert best.travel_m == pytest.approx([radius * np.sin(np.pi / 6), radius * (1 - np.cos(np.pi / 6))], abs=0.003)
    # A seam that is corrected for what the movement gains within a frame would be quicker than the movement itself.
    assert all(loop.accepted for loop in found), [(loop.seam_m_s2, loop.usual_m_s2) for loop in found]


def test_the_figure_is_the_gap(given: HandOver) -> None:
    """A pelvis that sinks by 25 mm a cycle: all joints are 25 mm apart and the figure says so; by 80 mm nothing is offered."""
    times = np.arange(400) / RATE_HZ
    swing = 0.8 * np.sin(2 * np.pi * times / 0.9)
    for sinks_m, offered in ((0.025, True), (0.080, False)):
        pelvis = np.column_stack([0 * times, 0 * times, 0.9 - sinks_m * times / 0.9])
        found = find_loops(swinging(given, swing, pelvis, 0 * times))
        assert bool(found) == offered
        if offered:
            assert found[0].gap_m == pytest.approx(sinks_m, abs=0.002)
            assert found[0].closes == "closes"


def test_nothing_is_offered_where_nothing_repeats(given: HandOver) -> None:
    """A swing that grows all the time (a chirp of rising height) never comes back to its pose and its speed."""
    times = np.arange(400) / RATE_HZ
    swing, rising = 0.2 + 0.25 * times, np.column_stack([0 * times, 0 * times, 0.6 + 0.05 * times])
    assert find_loops(swinging(given, swing, rising, 0 * times)) == ()


def test_a_take_shorter_than_the_longest_cycle_is_searched_to_its_end(given: HandOver) -> None:
    """1.6 s with a period of 0.9 s, and takes too short for any cycle. Would catch a window that reaches beyond the take."""
    times = np.arange(400) / RATE_HZ
    whole = swinging(given, 0.8 * np.sin(2 * np.pi * times / 0.9), np.tile([0.0, 0.0, 0.9], (400, 1)), 0 * times)
    found = find_loops(cut(whole, 0, round(1.6 * RATE_HZ)))
    assert found[0].stop - found[0].start == round(0.9 * RATE_HZ)
    for frames in (2, 10, 30, 40):
        assert find_loops(cut(whole, 0, frames)) == ()


def test_the_seam_is_closed(given: HandOver) -> None:
    """Danced twice on end, the joints step over the seam no further than within it: raw they would jump by 25 mm."""
    times = np.arange(400) / RATE_HZ
    pelvis = np.column_stack([0 * times, 0 * times, 0.9 - 0.025 * times / 0.9])
    skeleton = swinging(given, 0.8 * np.sin(2 * np.pi * times / 0.9), pelvis, 0 * times)
    loop = find_loops(skeleton)[0]
    seam = loop.stop - loop.start
    rounds = over_the_seam(close_loop(skeleton, loop.start, loop.stop), loop.turn_rad, seam).heads_m
    steps = np.linalg.norm(np.diff(rounds, n=2, axis=0), axis=2).max(axis=1) * RATE_HZ**2
    assert steps[seam - 3 : seam + 2].max() < np.quantile(steps, 0.99) + 0.5
    raw = skeleton.heads_m[[loop.start, loop.stop]]
    assert np.abs(raw[1] - raw[0]).max() > 0.02


def test_the_jumps_of_the_demo_loop_on_their_beat(given: HandOver, careful_review: Review) -> None:
    """Three sautés, one a second (the score of the demo): the best proposal is a second long, and a clip of its own."""
    note = note_of(given, careful_review, {})
    best = note["loops"][0]
    assert best["end_s"] - best["start_s"] == pytest.approx(1.0, abs=0.02)
    assert best["gap_mm"] < 2.0
    assert [name for name, _ in given.loop_clips] == [loop["name"] for loop in note["loops"] if loop["name"]]
    assert all(loop["gap_mm"] <= 60.0 for loop in note["loops"])
