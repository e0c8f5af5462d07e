"""A floor that lies aslant in a recording: feet on a plane that is written down by hand, and real rooms by a fit of its own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.landmarks import load_landmarks, recognise
from in_the_round.analysis_core.clean.levelled import levelled
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.take import CleanedTake, ForcePlate, Inference, Take
from in_the_round.analysis_core.write.c3d import _as_recorded

RATE_HZ = 100.0
DATA = Path(__file__).resolve().parents[2].parent / "shared" / "data" / "dance_c3d"
#: The markers of a foot as it stands flat, ahead of its heel, metres: heel, inner and outer ball. An upper body that goes along.
FOOT = np.array([[0.0, 0.0, 0.04], [0.17, 0.03, 0.02], [0.14, -0.04, 0.02]])
SEGMENTS = {index: f"foot.{side}" for side, first in (("L", 0), ("R", 3)) for index in range(first, first + 3)}
NAMES = {
    index: name + SEGMENTS[index][4:]
    for index, name in enumerate(("calcaneus", "first_metatarsal_head", "fifth_metatarsal_head") * 2)
}


def walked(slope: tuple[float, float], *, steps: int = 10, risen: int = 0, step_up_m: float = 0.0, seed: int = 0) -> Take:
    """Feet that stand for half a second, then go on by 30 cm and to the side, on the plane z = a x + b y.

    risen: every so many-th stance is on the ball, the heel 8 cm up. step_up_m: the second half of the way lies so much higher.
    Noise of 0.5 mm in every marker, and half of one foot's second stance is not seen.
    """
    random = np.random.default_rng(seed)
    frames = []
    for number in range(steps):
        for foot in range(2):
            place = np.array([0.3 * number, (0.2 - 0.4 * foot) + 0.5 * np.sin(number), 0.0])
            shape = FOOT.copy()
            if risen and number % risen == 0:
                shape[0, 2] += 0.08
            stance = place + shape
            stance[:, 2] += stance[:, :2] @ np.array(slope) + (step_up_m if number >= steps // 2 else 0.0)
            other = frames[-1][3 * (1 - foot) : 3 * (1 - foot) + 3] if frames else stance + np.array([0.0, 0.4, 0.0])
            both = np.concatenate([stance, other] if foot == 0 else [other, stance])
            held = np.repeat(both[None], 50, axis=0)
            if frames:
                way = np.linspace(0.0, 1.0, 20)[:, None, None]
                moving = frames[-1] + way * (both - frames[-1])
                moving[:, 3 * foot : 3 * foot + 3, 2] += 0.1 * np.sin(np.pi * way[:, 0])
                frames += list(moving)
            frames += list(held)
    positions = np.array(frames)
    positions += random.normal(0.0, 0.0005, positions.shape)
    positions[130:155, 1] = np.nan
    inferred = (Inference("up axis", "z", ""), Inference("unit", "mm", ""))
    return Take(Path("walked.c3d"), "", "markers", RATE_HZ, 1, tuple("abcdef"), positions, inferred=inferred)


def slope_of(positions: np.ndarray, still: np.ndarray) -> np.ndarray:
    """Rise over way along X and Y by least squares on the lowest marker of the left foot while it does not move."""
    rows = positions[still]
    return np.linalg.lstsq(np.column_stack([rows[:, :2], np.ones(len(rows))]), rows[:, 2], rcond=None)[0][:2]


@pytest.mark.parametrize("slope", [(0.009, 0.0), (-0.006, 0.008), (0.0, -0.02)], ids=["0.9 %", "1 %, across", "2 %"])
def test_a_sloping_floor_is_turned_level(slope: tuple[float, float]) -> None:
    """Would catch a turn the wrong way, about the wrong axis, or of a part of the slope; and a ball taken for a sole."""
    for risen in (0, 3):
        take = walked(slope, risen=risen)
        turned = levelled(take, NAMES, SEGMENTS)
        assert turned is not take
        assert any("slopes" in warning for warning in turned.warnings)
        ball = turned.positions_m[:, 1]
        still = np.linalg.norm(np.gradient(take.positions_m[:, 1], axis=0), axis=1) < 0.001
        assert np.abs(slope_of(ball, still)).max() < 0.0015, (slope, risen)
        # Nothing is stretched, and all goes back to where it lay.
        apart = np.linalg.norm(turned.positions_m[:, 0] - turned.positions_m[:, 5], axis=1)
        assert np.allclose(apart, np.linalg.norm(take.positions_m[:, 0] - take.positions_m[:, 5], axis=1), equal_nan=True)
        cleaned = clean_of(turned)
        assert np.allclose(_as_recorded(cleaned)[0], 1000 * take.positions_m, atol=1e-6, equal_nan=True)


def test_samples_that_are_missing_one_by_one_do_not_matter() -> None:
    """Would catch a foot that is held for standing in frames in which it is not there: its neighbours tell it stands still."""
    take = walked((0.009, 0.0))
    positions = take.positions_m.copy()
    positions[::9, 0] = positions[4::7, 4] = np.nan
    turned = levelled(replace(take, positions_m=positions), NAMES, SEGMENTS)
    assert turned.levelled_by is not None
    assert np.abs(turned.levelled_by[2, :2] - levelled(take, NAMES, SEGMENTS).levelled_by[2, :2]).max() < 0.0005


def clean_of(take: Take) -> CleanedTake:
    """A take as it is, as one that was cleaned."""
    shape = take.positions_m.shape[:2]
    return CleanedTake(
        take, take.positions_m, take.positions_m, np.ones(shape, dtype=np.uint8), np.zeros(shape), np.zeros(shape[1]), ()
    )


def test_a_level_floor_steps_and_plates_are_left_alone() -> None:
    """Would catch a slope made of noise, of a staircase, of a ramp, of one place, of feet that hardly stand flat; and one that
    contradicts force plates."""
    for take in (
        walked((0.0, 0.0)),
        walked((0.002, 0.0)),
        walked((0.0, 0.0), step_up_m=0.2),
        walked((0.08, 0.0)),
        walked((0.01, 0.01), steps=2),
        walked((0.0, 0.0), risen=2, seed=3),
    ):
        assert levelled(take, NAMES, SEGMENTS) is take
    plate = ForcePlate(2, np.zeros((4, 3)), 1000.0, np.zeros((0, 3)), np.zeros((0, 3)))
    take = replace(walked((0.009, 0.0)), force_plates=(plate,))
    assert levelled(take, NAMES, SEGMENTS) is take
    assert levelled(walked((0.009, 0.0)), {}, {}).levelled_by is None


def test_a_static_take_is_turned_as_its_dance() -> None:
    """It stands in one place, and cannot tell a slope itself."""
    dance = levelled(walked((0.009, 0.0)), NAMES, SEGMENTS)
    static = walked((0.009, 0.0), steps=1)
    turned = levelled(static, NAMES, SEGMENTS, as_in=dance)
    assert dance.levelled_by is not None
    assert np.allclose(turned.positions_m, static.positions_m @ dance.levelled_by.T, equal_nan=True)
    level = walked((0.0, 0.0))
    assert levelled(static, NAMES, SEGMENTS, as_in=level) is static


@pytest.mark.skipif(not DATA.is_dir(), reason="no open recordings beside the repository")
def test_real_takes_of_one_room_agree_how_it_slopes() -> None:
    """Six takes of one room, four dancers: each tells alone about the same slope. Would catch a slope that the dancing makes."""
    normals = []
    for letter in "abcdef":
        take = read_take(DATA / f"ballroom_{letter}.c3d")
        known = recognise(take.labels, load_landmarks())
        turned = levelled(take, known.landmark_of, known.segment_of)
        assert turned.levelled_by is not None, letter
        normals.append(turned.levelled_by[2, :2] * -1000)
    # Millimetres in a metre: the middle of them 7 along X and 6 along Y, each take within 6 of it.
    middle = np.median(normals, axis=0)
    assert np.allclose(middle, [7.0, 6.5], atol=1.5), normals
    assert np.abs(np.array(normals) - middle).max() < 6.0
