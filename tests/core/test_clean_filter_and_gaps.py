"""Filter, short gaps and the first verdict on paths whose truth is known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.clean import clean_take, judge_capture, smoothing
from in_the_round.analysis_core.clean.gaps import Gap, close_short, frames_beside, gap_events, present
from in_the_round.analysis_core.clean.smoothing import (
    CUT_OFF_BOUNDS_HZ,
    USUAL_BOUNDS_HZ,
    choose_cut_offs,
    design_frequency,
    landings,
    low_pass,
    pass_factor,
    residual_cut_off,
    smooth,
)
from in_the_round.analysis_core.take import Floats, Source, Take
from scipy.signal import butter, filtfilt

RATE_HZ = 240.0


def _take(positions: Floats, rate_hz: float = RATE_HZ) -> Take:
    labels = tuple(f"m{i}" for i in range(positions.shape[1]))
    return Take(Path("made.c3d"), "0" * 64, "markers", rate_hz, 1, labels, positions)


def _path(seconds: float = 6.0, markers: int = 4, rate_hz: float = RATE_HZ) -> Floats:
    """Smooth paths (F, N, 3): slow waves of the size and speed of a dancer's limbs, each marker with its own phase."""
    time = np.arange(round(seconds * rate_hz))[:, None, None] / rate_hz
    phase = np.arange(markers)[None, :, None] + np.arange(3)[None, None, :] * 2.0
    return 0.3 * np.sin(2 * np.pi * 0.7 * time + phase) + 0.05 * np.sin(2 * np.pi * 2.1 * time + 2 * phase) + 1.0


def test_filter_values_of_the_catalogue() -> None:
    # Catalogue 3.1: factors 0.802243 and 0.714020; exact design frequency 12.2492 Hz for 10 Hz at 100 Hz.
    assert pass_factor(2) == pytest.approx(0.802243, abs=1e-6)
    assert pass_factor(3) == pytest.approx(0.714020, abs=1e-6)
    assert design_frequency(10.0, 100.0) == pytest.approx(12.2492, abs=1e-4)


@pytest.mark.parametrize(("cut_off_hz", "rate_hz"), [(6.0, 60.0), (10.0, 100.0), (12.0, 330.0)])
def test_two_passes_are_three_decibels_down_at_the_cut_off_without_delay(cut_off_hz: float, rate_hz: float) -> None:
    time = np.arange(round(20 * rate_hz)) / rate_hz
    wave = np.sin(2 * np.pi * cut_off_hz * time)
    middle = slice(wave.size // 4, -wave.size // 4)
    filtered = low_pass(wave, cut_off_hz, rate_hz)[middle]
    np.testing.assert_allclose(filtered, np.sqrt(0.5) * wave[middle], atol=2e-3)


def test_residual_analysis_follows_the_movement() -> None:
    random = np.random.default_rng(1)
    slow = _path()[:, 0] + random.normal(scale=0.0005, size=(round(6 * RATE_HZ), 3))
    time = np.arange(slow.shape[0])[:, None] / RATE_HZ
    quick = slow + 0.02 * np.sin(2 * np.pi * 7.0 * time)
    bounds = (3.0, 20.0)
    assert residual_cut_off(slow, RATE_HZ, bounds) < residual_cut_off(quick, RATE_HZ, bounds)
    assert residual_cut_off(quick, RATE_HZ, bounds) > 7.0


@pytest.mark.parametrize("rate_hz", [60.0, 120.0, 240.0])
def test_a_short_gap_is_closed_and_masked(rate_hz: float) -> None:
    truth = _path(rate_hz=rate_hz)
    random = np.random.default_rng(2)
    positions = truth + random.normal(scale=0.0003, size=truth.shape)
    first, last = round(2.0 * rate_hz), round(2.1 * rate_hz)
    positions[first : last + 1, 1] = np.nan
    cleaned = clean_take(_take(positions, rate_hz), landmark_of={}, segment_of={})
    inside = slice(first, last + 1)
    assert (cleaned.source[inside, 1] == Source.OWN_PATH).all()
    assert (np.delete(cleaned.source, 1, axis=1) == Source.MEASURED).all()
    # The target of the issue: no more than 3 mm at 0.1 s.
    assert np.linalg.norm(cleaned.positions_m[inside, 1] - truth[inside, 1], axis=1).max() < 0.003
    (event,) = cleaned.events
    assert (event.kind, event.label, event.repaired) == ("gap", "m1", True)
    assert event.start_s == pytest.approx(first / rate_hz)
    assert event.end_s == pytest.approx(last / rate_hz)
    assert np.isnan(cleaned.take.positions_m[first, 1]).all()


def test_nothing_is_filtered_across_an_open_gap() -> None:
    positions = _path()
    positions[480:1100, 0] = np.nan
    far = positions.copy()
    far[1100:, 0] += 0.2
    near_one, near_other = (clean_take(_take(p), landmark_of={}, segment_of={}).smooth_m[:480, 0] for p in (positions, far))
    np.testing.assert_array_equal(near_one, near_other)


def test_what_nothing_holds_stays_open() -> None:
    positions = _path()
    positions[500:1200, 0] = np.nan
    positions[:20, 1] = np.nan
    positions[:, 2] = np.nan
    cleaned = clean_take(_take(positions), landmark_of={}, segment_of={})
    assert np.isnan(cleaned.positions_m[500:1200, 0]).all()
    assert np.isnan(cleaned.smooth_m[:, 2]).all()
    assert (cleaned.source[np.isnan(cleaned.smooth_m).any(axis=2)] == Source.NONE).all()
    assert np.isnan(cleaned.error_m[cleaned.source == Source.NONE]).all()
    assert np.isfinite(cleaned.error_m[cleaned.source != Source.NONE]).all()


def test_a_skeleton_is_only_smoothed() -> None:
    take = replace(_take(_path()), kind="skeleton")
    cleaned = clean_take(take, landmark_of={}, segment_of={})
    assert cleaned.positions_m is take.positions_m
    assert (cleaned.source == Source.MEASURED).all()
    assert np.abs(cleaned.smooth_m - take.positions_m).max() < 0.003
    assert judge_capture(cleaned, landmark_of={}).verdict == "good"


def test_verdict_names_the_marker_in_plain_words_and_when() -> None:
    positions = _path()
    good = judge_capture(clean_take(_take(positions), landmark_of={}, segment_of={}), landmark_of={0: "calcaneus.L"})
    assert (good.verdict, good.reasons, good.missing_fraction) == ("good", (), 0.0)
    positions[600:, 0] = np.nan
    cleaned = clean_take(_take(positions), landmark_of={0: "calcaneus.L"}, segment_of={0: "foot.L"})
    quality = judge_capture(cleaned, landmark_of={0: "calcaneus.L"})
    assert quality.verdict == "retake"
    assert quality.reasons[0].startswith("Left heel marker missing from 2.5 s")
    assert "retake" in quality.reasons[0]
    assert quality.markers[0].longest_gap_s == pytest.approx(3.5)
    assert quality.markers[0].missing_fraction == pytest.approx(3.5 / 6.0)


def test_short_filled_gaps_leave_a_take_good() -> None:
    positions = _path()
    positions[600:612, 0] = np.nan
    assert judge_capture(clean_take(_take(positions), landmark_of={}, segment_of={}), landmark_of={}).verdict == "good"


@pytest.mark.parametrize("rate_hz", [100.0, 240.0])
def test_nothing_is_filtered_across_a_landing(rate_hz: float) -> None:
    # A foot comes down at 1.5 m/s and stands: a filter that ran on would let it sink into the floor and slow down before it.
    time = np.arange(round(2 * rate_hz)) / rate_hz
    path = np.zeros((time.size, 1, 3))
    path[:, 0, 2] = np.maximum(1.5 * (1.0 - time), 0.0)
    cut_off = np.array([12.0])
    as_foot, as_hand = (smooth(path, cut_off, rate_hz, {0: part}) for part in ("foot.L", "hand.L"))
    landed = landings(path[:, 0], rate_hz)
    assert [time[frame] for frame in landed] == pytest.approx([1.0], abs=1.01 / rate_hz)
    near = np.abs(time - 1.0) < 0.1
    worst_foot, worst_hand = (float(np.abs(p - path)[near].max()) for p in (as_foot, as_hand))
    assert worst_hand > 0.005
    assert worst_foot < 0.2 * worst_hand


def test_a_foot_that_moves_through_the_air_does_not_land() -> None:
    assert all(landings(_path()[:, marker], RATE_HZ) == [] for marker in range(4))


@pytest.mark.parametrize(("speed_m_s", "found"), [(1.0, [50]), (0.55, [50]), (0.45, [])])
def test_a_foot_lands_in_the_frame_in_which_the_floor_stops_it(speed_m_s: float, found: list[int]) -> None:
    """Falling evenly to the floor at frame 50. Found by changing the rule a character at a time: frame and speed were free."""
    path = np.zeros((101, 3))
    path[:, 2] = speed_m_s * np.maximum(50 - np.arange(101), 0) / 100.0
    assert landings(path, 100.0) == found
    assert landings(path[46:51], 100.0) == []
    assert landings(path - [0.0, 0.0, 5.0], 100.0) == found
    # Nor does a foot land that goes on downwards at a third of that speed.
    path[50:, 2] = -speed_m_s * np.arange(51) / 300.0
    assert landings(path, 100.0) == []


def test_what_a_filter_leaves_alone() -> None:
    """From 40 % of the rate on, and of three samples, nothing is taken away; just below, and of four, it is."""
    noise = np.random.default_rng(3).normal(size=100)
    np.testing.assert_array_equal(low_pass(noise, 40.0, 100.0), noise)
    assert np.abs(low_pass(noise, 39.9, 100.0) - noise).max() > 1e-3
    np.testing.assert_array_equal(low_pass(noise[:3], 10.0, 100.0), noise[:3])
    assert np.abs(low_pass(noise[:4], 10.0, 100.0) - noise[:4]).max() > 1e-3


def test_a_cut_off_that_cannot_be_chosen_is_the_middle_of_its_bounds() -> None:
    path = np.random.default_rng(4).normal(size=(100, 3))
    assert residual_cut_off(path[:49], 100.0, (6.0, 15.0)) == 10.5
    path[50, 1] = np.nan
    assert residual_cut_off(path, 100.0, (6.0, 15.0)) == 10.5
    # Too slow a rate leaves fewer than three candidates to tell noise by: those from 60 % of the highest on.
    assert residual_cut_off(np.random.default_rng(5).normal(size=(100, 3)), 9.9, (6.0, 15.0)) == 10.5


def _by_filtering(values: Floats, cut_off_hz: float, rate_hz: float) -> Floats:
    """The same filter as another library has it, run forward and back in time."""
    design = np.arctan(np.tan(np.pi * cut_off_hz / rate_hz) / 0.802243) / np.pi
    sections = butter(2, 2 * design)
    return np.asarray(filtfilt(*sections, values, axis=0, padtype="odd", padlen=values.shape[0] - 1))


def _shaken(rate_hz: float, wave_hz: float, size_m: float, noise_m: float) -> Floats:
    """A wave about the vertical for four seconds, with noise."""
    angle = 2 * np.pi * wave_hz * np.arange(round(4 * rate_hz)) / rate_hz
    path = size_m * np.stack([np.sin(angle), np.cos(angle), 0 * angle], axis=1)
    return np.asarray(path + np.random.default_rng(6).normal(scale=noise_m, size=path.shape))


@pytest.mark.parametrize(
    ("rate_hz", "wave_hz", "size_m", "noise_m"),
    [
        (50.0, 5.0, 0.02, 0.001), (50.0, 7.0, 0.02, 0.0005), (50.0, 6.0, 0.01, 0.0003), (50.0, 11.0, 0.05, 0.0005),
        (100.0, 5.0, 0.02, 0.001), (100.0, 7.0, 0.02, 0.0005), (100.0, 11.0, 0.05, 0.0005), (100.0, 9.0, 0.02, 0.002),
        (240.0, 9.0, 0.02, 0.002), (240.0, 11.0, 0.05, 0.0005),
    ],
)  # fmt: skip
def test_the_cut_off_is_that_of_the_residuals_of_filtered_paths(
    rate_hz: float, wave_hz: float, size_m: float, noise_m: float
) -> None:
    """Residual analysis (Winter 2009) done in time with another library's filter: 1 to 25 Hz, the line through those from 15 Hz
    on, or from 60 % of the highest below 40 % of the rate. Found by changing the rule a character at a time."""
    path = _shaken(rate_hz, wave_hz, size_m, noise_m)
    tried = np.arange(1.0, min(26.0, 0.4 * rate_hz))
    residuals = np.array([np.sqrt(np.mean((path - _by_filtering(path, hz, rate_hz)) ** 2)) for hz in tried])
    noise = tried >= min(15.0, 0.6 * tried[-1])
    at_zero = np.polyfit(tried[noise], residuals[noise], 1)[1]
    expected = tried[residuals <= at_zero][0]
    assert residual_cut_off(path, rate_hz, (1.0, 25.0)) == expected
    # However fast the marker travels besides.
    travelling = path + np.linspace([0.0, 0.0, 0.0], [30.0, -20.0, 10.0], path.shape[0])
    assert residual_cut_off(travelling, rate_hz, (1.0, 25.0)) == expected
    assert residual_cut_off(path, rate_hz, (1.0, expected - 1)) == expected - 1


def test_which_paths_are_long_enough_to_choose_by() -> None:
    """A marker that rests needs the lowest cut-off; half a second is enough, and three candidates for noise (3, 4, 5 Hz)."""
    assert residual_cut_off(np.zeros((50, 3)), 100.0, (6.0, 15.0)) == 6.0
    assert residual_cut_off(np.zeros((50, 3)), 100.0, (0.5, 15.0)) == 1.0
    assert residual_cut_off(np.zeros((100, 3)), 14.0, (6.0, 15.0)) == 6.0


#: Catalogue 3.2: posture 6 Hz, general dance 8 to 10, feet 12 to 15; the limits are the program's own (proposed default).
_BOUNDS = {
    "pelvis": (6, 12), "thorax": (6, 10), "head": (6, 12), "thigh": (6, 12), "shank": (8, 15), "foot": (12, 20), "toes": (12, 20),
    "clavicle": (6, 10), "upper_arm": (6, 12), "forearm": (8, 14), "hand": (8, 14),
}  # fmt: skip


def test_every_part_has_its_bounds() -> None:
    """Markers that rest, or are never seen, get the lowest cut-off of their part; of another part, or of none, 8 Hz."""
    assert CUT_OFF_BOUNDS_HZ == _BOUNDS
    assert USUAL_BOUNDS_HZ == (8, 15)
    names = [*_BOUNDS, "tail"]
    lowest = [*(low for low, _ in _BOUNDS.values()), 8, 8]
    resting = np.zeros((100, len(names) + 1, 3))
    segment_of = {marker: f"{name}.L" for marker, name in enumerate(names)}
    np.testing.assert_array_equal(choose_cut_offs(resting, 100.0, segment_of), lowest)
    np.testing.assert_array_equal(choose_cut_offs(np.full_like(resting, np.nan), 100.0, segment_of), lowest)


def test_the_longest_whole_stretch_chooses() -> None:
    """Rest for a second and a half, one coordinate missing, then shaking for three: the shaking tells (13 Hz), not the rest."""
    shaken = _shaken(100.0, 7.0, 0.02, 0.0005)[:300]
    positions = np.concatenate([np.zeros((150, 3)), [[0.0, np.nan, 0.0]], shaken])[:, None]
    assert choose_cut_offs(positions, 100.0, {}) == residual_cut_off(shaken, 100.0, (8.0, 15.0)) > 8.0
    assert choose_cut_offs(positions[::-1], 100.0, {}) > 8.0


@pytest.mark.parametrize("at_once", [1, 900, 500_000])
def test_every_stretch_of_every_marker_is_filtered_by_itself(monkeypatch: pytest.MonkeyPatch, at_once: int) -> None:
    """Against another library, marker by marker; the ends of a stretch stay where they are. In whatever portions it is done."""
    monkeypatch.setattr(smoothing, "_SAMPLES_AT_ONCE", at_once)
    positions = np.random.default_rng(7).normal(size=(300, 6, 3)).cumsum(axis=0)
    cut_offs = np.array([6.0, 10.0, 6.0, 8.0, 6.0, 12.0])
    positions[120, 1, 2] = np.nan
    positions[[99, 101], 3] = np.nan
    stretches = {0: [(0, 300)], 1: [(0, 120), (121, 300)], 2: [(0, 300)], 3: [(0, 99), (102, 300)], 4: [(0, 300)], 5: [(0, 300)]}
    found = smooth(positions, cut_offs, 100.0)
    np.testing.assert_array_equal(np.isnan(found), np.isnan(positions))
    np.testing.assert_array_equal(found[100, 3], positions[100, 3])
    for marker, spans in stretches.items():
        for start, end in spans:
            part = positions[start:end, marker]
            np.testing.assert_allclose(found[start:end, marker], _by_filtering(part, cut_offs[marker], 100.0), atol=1e-5)
            np.testing.assert_allclose(found[[start, end - 1], marker], part[[0, -1]], atol=1e-12)


def test_a_landing_parts_a_path_and_a_soft_one_is_seen_over_20_ms() -> None:
    """A foot at 0.8 m/s that the floor stops in two frames, as in socks, is seen at 100 Hz, where 20 ms are two frames, and at
    20, where they are none and the frames beside are looked at. Each side of it is filtered by itself."""
    height = np.concatenate([0.003 + 0.008 * np.arange(50, 0, -1), [0.003], np.zeros(50)])
    path = np.zeros((101, 3))
    path[:, 2] = height
    assert landings(path, 100.0) == [50]
    assert landings(np.array([[0.0, 0.0, z] for z in (0.03, 0.03, 0.03, 0.0, 0.0, 0.0)]), 20.0) == [3]
    assert landings(path[48:53], 100.0) == [2]
    assert landings(path[49:52], 100.0) == []
    path[:, 0] = np.random.default_rng(8).normal(size=101).cumsum() / 100
    found = smooth(path[:, None], np.array([10.0]), 100.0, {0: "toes.L"})[:, 0]
    for part in (slice(0, 51), slice(50, 101)):
        np.testing.assert_allclose(found[part], _by_filtering(path[part], 10.0, 100.0), atol=1e-5)
    # A marker of a foot that is filtered across nothing, and one of no foot across all of it.
    whole = smooth(path[:, None], np.array([10.0]), 100.0)[:, 0]
    np.testing.assert_allclose(whole, _by_filtering(path, 10.0, 100.0), atol=1e-5)


def test_where_a_foot_lands_and_where_it_does_not() -> None:
    """The frame in which it is slowed most, of those that qualify; a foot that shoots up from the floor has not landed.

    At 100 Hz, two frames each: from -0.80 to -0.18 m/s about frame 40, but from -0.55 to +0.18, as it rebounds, about 41.
    """
    speed = np.array([*[-0.8] * 40, -0.3, -0.05, 0.4, *[0.0] * 18])
    path = np.zeros((62, 3))
    path[1:, 2] = speed.cumsum() / 100.0
    assert landings(path, 100.0) == [41]
    rising = np.zeros((61, 3))
    rising[30:, 2] = 0.01 * np.arange(31)
    assert landings(rising, 100.0) == []


def test_a_landing_cuts_its_own_stretch_only_and_up_to_its_end() -> None:
    """A gap 20 frames after the landing parts the path again; at 50 Hz a landing may be the last frame but one."""
    path = np.zeros((101, 1, 3))
    path[:51, 0, 2] = 0.01 * np.arange(50, -1, -1)
    path[:, 0, 0] = np.random.default_rng(9).normal(size=101).cumsum() / 100
    path[70] = np.nan
    found = smooth(path, np.array([10.0]), 100.0, {0: "foot.R"})[:, 0]
    for part in (slice(0, 51), slice(50, 70), slice(71, 101)):
        np.testing.assert_allclose(found[part], _by_filtering(path[part, 0], 10.0, 100.0), atol=1e-4)
    last = np.zeros((22, 1, 3))
    last[:, 0, 2] = 0.02 * np.maximum(20 - np.arange(22), 0)
    assert smooth(last, np.array([8.0]), 50.0, {0: "foot.R"})[20, 0, 2] == pytest.approx(0.0, abs=1e-9)


def _quintic(frames: int) -> Floats:
    """A path (F, 3) that is a quintic in time: what closes a gap by one gives it back exactly."""
    time = np.linspace(-1.0, 1.0, frames)[:, None]
    return np.asarray((time - np.array([0.3, -0.5, 0.9])) * (time + np.array([0.7, 0.2, -0.1])) ** 4 + np.array([1.0, -2.0, 0.0]))


def test_a_gap_is_closed_from_60_ms_on_either_side() -> None:
    """Six frames at 100 Hz; at 60 Hz, where 60 ms are four, five."""
    np.testing.assert_array_equal(frames_beside(3, 100.0), [-6, -5, -4, -3, -2, -1, 3, 4, 5, 6, 7, 8])
    np.testing.assert_array_equal(frames_beside(2, 60.0), [-5, -4, -3, -2, -1, 2, 3, 4, 5, 6])


@pytest.mark.parametrize("at_240_hz", [Gap(0, 30, 54), Gap(0, 6, 10), Gap(0, 5, 10), Gap(0, 80, 95), Gap(0, 85, 94)])
def test_a_quintic_is_given_back(at_240_hz: Gap) -> None:
    """In the middle, and with five or six frames left before it or after it in the take; whatever lies beyond another gap."""
    truth = _quintic(100)
    path = truth.copy()
    path[at_240_hz.start : at_240_hz.end] = np.nan
    closed = close_short(path, at_240_hz, 240.0)
    assert closed is not None
    np.testing.assert_allclose(closed, truth[at_240_hz.start : at_240_hz.end], atol=1e-9)


def test_another_gap_close_by_ends_what_a_gap_is_closed_from() -> None:
    """Fourteen frames at 240 Hz, of which eight, or five, are this side of the other gap; beyond it lies nonsense here."""
    gap, truth = Gap(0, 40, 50), _quintic(100)
    for before, after in ((8, 14), (14, 8), (5, 5)):
        path = truth + 50.0
        path[40 - before : 50 + after] -= 50.0
        path[[40 - before - 1, 50 + after]] = np.nan
        path[40:50] = np.nan
        closed = close_short(path, gap, 240.0)
        assert closed is not None
        np.testing.assert_allclose(closed, truth[40:50], atol=1e-9)


@pytest.mark.parametrize(("before", "after"), [(4, 14), (14, 4)])
def test_four_frames_beside_a_gap_are_too_few(before: int, after: int) -> None:
    path = _quintic(100)
    path[: 40 - before] = path[50 + after :] = path[40:50] = np.nan
    assert close_short(path, Gap(0, 40, 50), 240.0) is None
    assert close_short(path[40 - before :], Gap(0, before, before + 10), 240.0) is None
    assert close_short(path[: 50 + after], Gap(0, 40, 50), 240.0) is None


def test_every_other_sample_lost_leaves_enough_to_close_a_gap_from() -> None:
    """Catches a take that has lost samples at random, whose one-sample gaps stay open because five in a row are nowhere."""
    truth = _quintic(100)
    path = truth.copy()
    path[1::2] = np.nan
    closed = close_short(path, Gap(0, 49, 50), 240.0)
    assert closed is not None
    np.testing.assert_allclose(closed, truth[49:50], atol=1e-9)


def test_a_tenth_of_a_second_is_short() -> None:
    """At 240 Hz from one sample that is there to the next over 26 steps: 25 are missing. 26 missing ones are too many."""
    for missing, short in ((25, True), (26, False)):
        path = _quintic(100)
        path[40 : 40 + missing] = np.nan
        assert (close_short(path, Gap(0, 40, 40 + missing), 240.0) is not None) is short


def test_a_sample_with_one_coordinate_missing_is_missing() -> None:
    assert present(np.array([[[0.0, 0.0, 0.0], [0.0, np.nan, 0.0]]])).tolist() == [[True, False]]


def test_a_gap_that_is_filled_in_part_is_not_repaired() -> None:
    source = np.full((8, 1), Source.MEASURED)
    source[2:5, 0] = Source.OWN_PATH
    (whole,) = gap_events([Gap(0, 2, 5)], ("heel",), source, 10.0)
    source[3, 0] = Source.NONE
    (part,) = gap_events([Gap(0, 2, 5)], ("heel",), source, 10.0)
    assert (whole.repaired, part.repaired, part.start_s, part.end_s) == (True, False, 0.2, 0.4)
