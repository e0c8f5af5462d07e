"""The figure is one human body whatever a take says; on a clean take it stands where the dancer stands."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from in_the_round.analysis_core.body.lengths import lengths_of
from in_the_round.analysis_core.body.movement import JOINTS, SEGMENTS, Movement
from in_the_round.analysis_core.body.rotations import softly_limited
from in_the_round.analysis_core.figure import palette
from in_the_round.analysis_core.figure.looks import DEFAULT_LOOK, LOOKS
from in_the_round.analysis_core.figure.motion import at_samples, chosen, motion_of, placed
from in_the_round.analysis_core.figure.posing import skin_at
from in_the_round.analysis_core.figure.proportions import PARENTS, rest_of
from in_the_round.analysis_core.figure.skin import Skin, skin_of
from in_the_round.analysis_core.figure.stations import between_stations
from in_the_round.analysis_core.review import Review
from scipy.interpolate import PchipInterpolator

#: Shares of stature between joint heights, Drillis and Contini 1966 as printed in Winter 2009, figure 4.1.
WINTER = {"thigh": 0.245, "shank": 0.246, "ankle_height": 0.039, "foot": 0.152, "forearm": 0.146, "hand": 0.108}


@pytest.fixture(scope="module")
def clean(reviewed: Callable[..., Review]) -> Movement:
    return reviewed().movement


@pytest.fixture(scope="module")
def torn(clean: Movement) -> Movement:
    """A take as bad ones are: feet 11 cm beside the legs, ankles 13 cm too high on the shank, knees 4 cm low, a head on a neck
    half as long again, the pelvis tipped by 50°, and an arm that is never known."""
    movement = clean
    joints = movement.joint_centres_m.copy()
    at = {name: JOINTS.index(name) for name in JOINTS}
    for suffix in (".L", ".R"):
        knee, ankle = joints[:, at["knee" + suffix]].copy(), joints[:, at["ankle" + suffix]].copy()
        down = (ankle - knee) / np.linalg.norm(ankle - knee, axis=1, keepdims=True)
        joints[:, at["ankle" + suffix]] -= 0.13 * down
        joints[:, at["knee" + suffix]] += 0.04 * down
    joints[:, at["head"]] += 0.6 * (joints[:, at["head"]] - joints[:, at["neck"]])
    for name in ("shoulder.R", "elbow.R", "wrist.R", "hand.R"):
        joints[:, at[name]] = np.nan
    rotations = movement.segment_rotations.copy()
    sine, cosine = np.sin(np.radians(50.0)), np.cos(np.radians(50.0))
    tipped = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    rotations[:, SEGMENTS.index("pelvis")] = rotations[:, SEGMENTS.index("pelvis")] @ tipped
    for name in ("clavicle.R", "upper_arm.R", "forearm.R", "hand.R"):
        rotations[:, SEGMENTS.index(name)] = np.nan
    feet = movement.foot_points_m + np.array([0.0, 0.11, 0.0])
    return replace(movement, joint_centres_m=joints, segment_rotations=rotations, foot_points_m=feet)


def edges_of(skin: Skin) -> np.ndarray:
    quads = skin.quads
    return np.sort(np.concatenate([quads[:, [i, (i + 1) % 4]] for i in range(4)]), axis=1)


def islands_of(skin: Skin) -> int:
    """Connected parts of a mesh, by merging neighbours' numbers until nothing changes (no library that the figure uses)."""
    edges = np.unique(edges_of(skin), axis=0)
    number = np.arange(len(skin.vertices_m))
    while True:
        lowest = number.copy()
        np.minimum.at(lowest, edges[:, 0], number[edges[:, 1]])
        np.minimum.at(lowest, edges[:, 1], number[edges[:, 0]])
        lowest = lowest[lowest]
        if (lowest == number).all():
            return len(np.unique(number))
        number = lowest


def longest_edge(skin: Skin, points: np.ndarray) -> float:
    edges = edges_of(skin)
    return float(np.linalg.norm(points[:, edges[:, 0]] - points[:, edges[:, 1]], axis=2).max())


@pytest.fixture(scope="module", params=["clean", "torn"])
def take(request: pytest.FixtureRequest) -> Movement:
    return request.getfixturevalue(request.param)


@pytest.fixture(scope="module")
def skin(clean: Movement) -> Skin:
    return skin_of(rest_of(clean))


def test_the_mesh_is_one_closed_body(skin: Skin) -> None:
    """A limb of its own, a hole or a doubled face would show here: every edge belongs to two faces, and no part is separate."""
    _, count = np.unique(edges_of(skin), axis=0, return_counts=True)
    assert (count == 2).all()
    assert islands_of(skin) == 1
    assert np.allclose(skin.weights.sum(axis=1), 1.0)


def test_every_look_is_one_body_and_practice_clothes_cover(clean: Movement) -> None:
    """In practice clothes no skin shows between shoulder and ankle but arms; a bun only by choice."""
    rest = rest_of(clean)
    for name, look in LOOKS.items():
        body = skin_of(rest, name, coarseness=1.6)
        assert islands_of(body) == 1
        head = body.weights[:, SEGMENTS.index("head")] > 0.9
        behind = (rest.ends["head"][0] - body.vertices_m[head, 0].min()) / rest.stature_m
        assert (behind > 0.07) == look.bun, name
        covered_parts = [SEGMENTS.index(part) for part in ("pelvis", "lumbar", "thorax", "thigh.L", "shank.R")]
        trunk = body.weights[:, covered_parts].sum(axis=1) > 0.9
        low, high = rest.head_of("foot.L")[2] + 0.1, rest.head_of("neck")[2] - 0.08
        between = (body.vertices_m[:, 2] > low) & (body.vertices_m[:, 2] < high)
        bare = (body.covered_m[trunk & between] < 0.0).all(axis=1).mean()
        assert (bare < 0.01) == look.loose, name
    assert DEFAULT_LOOK == "practice"


def test_faces_look_outward(skin: Skin) -> None:
    """By Gauss' theorem the volume is positive, and is that of a person of 1.6 to 1.8 m: 45 to 90 litres."""
    a, b, c, d = (skin.vertices_m[skin.quads[:, i]] for i in range(4))
    volume = (np.einsum("ij,ij->i", a, np.cross(b, c)) + np.einsum("ij,ij->i", a, np.cross(c, d))).sum() / 6.0
    assert 0.040 < volume < 0.090


def test_the_body_has_human_proportions(take: Movement, clean: Movement) -> None:
    """However knees and ankles were placed. Winter 2009, within 12 %; the foot and ankle, that shoes change, within a fifth."""
    lengths = lengths_of(take)
    for name, share in WINTER.items():
        allowed = 0.2 if name in ("ankle_height", "foot") else 0.12
        assert getattr(lengths, name) / lengths.stature == pytest.approx(share, rel=allowed), name
    assert lengths.stature == pytest.approx(lengths_of(clean).stature, rel=0.04)
    # Centre of the head above the base of the neck: 0.12 of the stature (de Leva 1996: C7 to vertex).
    rest = rest_of(take)
    assert (rest.ends["head"][2] - rest.head_of("neck")[2]) / lengths.stature == pytest.approx(0.12, abs=0.01)


def test_bones_keep_their_length_in_every_frame(take: Movement) -> None:
    movement = take
    rest = rest_of(movement)
    _, origins = placed(motion_of(movement, rest), rest)
    for name, before in PARENTS.items():
        index, parent = SEGMENTS.index(name), SEGMENTS.index(before)
        apart = np.linalg.norm(origins[:, index] - origins[:, parent], axis=1)
        np.testing.assert_allclose(apart, np.linalg.norm(rest.heads[index] - rest.heads[parent]), atol=1e-9)


def test_no_edge_is_stretched(take: Movement) -> None:
    """Feet 11 cm beside their legs once made islands; one mesh would make edges of 11 cm of them."""
    movement = take
    rest = rest_of(movement)
    body = skin_of(rest)
    assert islands_of(body) == 1
    frames = np.linspace(0, movement.frames - 1, 12).astype(np.int64)
    assert longest_edge(body, skin_at(body, chosen(motion_of(movement, rest), frames), rest)) < 0.05


def test_a_clean_take_is_followed_closely(clean: Movement) -> None:
    """The dancer's joints are known; the figure's own come from rotations and lengths."""
    movement = clean
    rest = rest_of(movement)
    turned, origins = placed(motion_of(movement, rest), rest)
    for segment, joint, allowed in (
        ("thigh", "hip", 0.02),
        ("shank", "knee", 0.02),
        ("foot", "ankle", 0.02),
        ("hand", "wrist", 0.04),
    ):
        for suffix in (".L", ".R"):
            apart = np.linalg.norm(origins[:, SEGMENTS.index(segment + suffix)] - movement.joint(joint + suffix), axis=1)
            assert np.nanmedian(apart) < allowed, joint
    for upper, segment, lower in (("hip", "thigh", "knee"), ("knee", "shank", "ankle"), ("shoulder", "upper_arm", "elbow")):
        down = movement.joint(f"{lower}.L") - movement.joint(f"{upper}.L")
        index = SEGMENTS.index(f"{segment}.L")
        shown = -(turned[:, index] @ rest.rotations[index])[:, :, 1]
        cosine = np.einsum("fi,fi->f", down, shown) / np.linalg.norm(down, axis=1)
        assert np.degrees(np.arccos(np.clip(np.nanmin(cosine), -1.0, 1.0))) < 1.0, segment


def test_hips_and_trunk_never_fold(torn: Movement) -> None:
    """A pelvis that is tipped by 50° through a whole take is set right: it stays within 25° of the trunk of an upright dancer."""
    movement = torn
    rest = rest_of(movement)
    turned, origins = placed(motion_of(movement, rest), rest)
    up = turned[:, SEGMENTS.index("pelvis")] @ np.array([0.0, 0.0, 1.0])
    trunk = origins[:, SEGMENTS.index("neck")] - origins[:, SEGMENTS.index("pelvis")]
    cosine = np.einsum("fi,fi->f", up, trunk) / np.linalg.norm(trunk, axis=1)
    assert np.degrees(np.arccos(np.median(cosine))) < 25.0


def test_what_is_not_known_is_marked_and_holds_still(torn: Movement) -> None:
    movement = torn
    motion = motion_of(movement, rest_of(movement))
    arm = SEGMENTS.index("upper_arm.R")
    assert not motion.known[:, arm].any()
    assert np.isfinite(motion.quaternions).all()
    assert np.isfinite(motion.shift_m).all()
    assert np.ptp(motion.quaternions[:, arm], axis=0).max() < 1e-6


def test_both_takes_can_be_shown_on_one_body(clean: Movement) -> None:
    """The page shows now and before on one mesh: a motion against another dancer's rest still puts the feet on the floor."""
    movement = clean
    other = replace(movement, joint_centres_m=movement.joint_centres_m * 1.1, foot_points_m=movement.foot_points_m * 1.1)
    rest = rest_of(movement)
    _, origins = placed(motion_of(other, rest), rest)
    lowest = origins[:, [SEGMENTS.index("foot.L"), SEGMENTS.index("foot.R")], 2].min(axis=1)
    assert np.median(lowest) == pytest.approx(rest.head_of("foot.L")[2], abs=0.03)


def test_between_samples_the_motion_goes_on(clean: Movement) -> None:
    movement = clean
    motion = motion_of(movement, rest_of(movement))
    half = at_samples(motion, np.array([10.5]))
    np.testing.assert_allclose(half.shift_m[0], motion.shift_m[10:12].mean(axis=0))
    assert np.linalg.norm(half.quaternions, axis=-1) == pytest.approx(1.0)


def test_a_soft_limit_is_never_passed_and_leaves_the_middle_alone() -> None:
    angles = np.linspace(-9.0, 9.0, 181)
    limited = softly_limited(angles, 1.0)
    assert np.abs(limited).max() <= 1.0
    assert (np.diff(limited) >= 0.0).all()
    inside = np.abs(angles) < 0.8
    np.testing.assert_array_equal(limited[inside], angles[inside])


#: Projections of linear RGB onto what dichromats see: Viénot, Brettel and Mollon 1999 (protanopia, deuteranopia), from memory of
#: the published matrices; the third keeps lightness only (no colour at all; ITU-R BT.709).
SEEN_BY = {
    "protanope": np.array([[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]]),
    "deuteranope": np.array([[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]]),
    "no colour": np.tile([0.2126, 0.7152, 0.0722], (3, 1)),
}


def _lightness(colour: np.ndarray) -> float:
    """CIE 1976 L* of linear RGB."""
    y = float(np.array([0.2126, 0.7152, 0.0722]) @ np.clip(colour, 0.0, 1.0))
    return 116.0 * np.cbrt(y) - 16.0 if y > 216 / 24389 else y * 24389 / 27


@pytest.mark.parametrize("eyes", SEEN_BY)
def test_watch_and_fault_differ_for_every_eye(eyes: str) -> None:
    """A difference of 20 in L* is large; the fault's rings differ from the fault by as much."""
    seen = SEEN_BY[eyes]
    watch, fault = (_lightness(seen @ np.array(colour)) for colour in (palette.WATCH, palette.FAULT))
    mixed = np.array(palette.FAULT) * (1 - palette.RING_STRENGTH) + np.array(palette.RING) * palette.RING_STRENGTH
    assert watch - fault > 20.0
    assert _lightness(seen @ mixed) - fault > 20.0


@pytest.mark.parametrize("count", [3, 4, 9])
def test_outlines_go_through_their_stations_as_the_library_draws_them(count: int) -> None:
    """Monotone piecewise cubics of scipy, on rises, turning points, level stretches and beyond the ends of none."""
    random = np.random.default_rng(count)
    for _ in range(20):
        stations, values = np.sort(random.uniform(0.0, 1.0, count)), random.integers(-3, 4, (count, 3)).astype(float)
        along = np.linspace(stations[0], stations[-1], 50)
        wanted = PchipInterpolator(stations, values, axis=0)(along)
        assert between_stations(stations, values, along) == pytest.approx(wanted, abs=1e-9)
