"""Segments that lost all their markers: held by what is beside them, or unknown; never made up."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from in_the_round.analysis_core.analyse import analyse_take
from in_the_round.analysis_core.body.landmarks import load_landmarks, recognise
from in_the_round.analysis_core.body.movement import JOINTS, SEGMENTS, Movement
from in_the_round.analysis_core.body.rigid import fit_rigid, fit_rigid_of_each_frame
from in_the_round.analysis_core.body.solve import solve
from in_the_round.analysis_core.body.whole_body import Link, fit_tree, places_in_time, rotations_in_time
from in_the_round.analysis_core.capture import clean
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.take import Source, Take
from in_the_round.simulated_dancer.pirouette import Pirouette
from in_the_round.simulated_dancer.simulate import Simulation
from in_the_round.simulated_dancer.steps import CloseTo, Plie, RetireBalance, Stand
from in_the_round.simulated_dancer.trials import Recorded, record
from scipy.spatial.transform import Rotation

SETTINGS = Settings(level="intermediate")
RATE_HZ = 60
#: A balance, a turn and a plié, and hardly more.
PHRASE = (
    Stand(2), CloseTo("fifth", "right", "right", 2), RetireBalance("right", True, 4), Pirouette("right"),
    CloseTo("first", "right", None, 2), Plie(4),
)  # fmt: skip
#: When the dancer turns, and what is lost then.
TURN_S = (8.0, 10.5)
LOST = ("shank.R", "thigh.L", "foot.R", "upper_arm.R", "pelvis", "thorax")


@cache
def _danced() -> Simulation:
    return record(Recorded(seed=3, rate_hz=RATE_HZ), phrase=PHRASE)


def _without(take: Take, segment: str, start_s: float, end_s: float) -> Take:
    """The take without any marker of a segment between two times."""
    segments = recognise(take.labels, load_landmarks()).segment_of
    positions = take.positions_m.copy()
    positions[int(start_s * RATE_HZ) : int(end_s * RATE_HZ), [i for i, name in segments.items() if name == segment]] = np.nan
    return replace(take, positions_m=positions)


@cache
def _solved(segment: str | None, start_s: float = 0.0, end_s: float = 0.0) -> Movement:
    if (start_s, end_s) == TURN_S and segment in LOST:
        return _reviewed(segment).movement
    danced, table = _danced(), load_landmarks()
    take = danced.take if segment is None else _without(danced.take, segment, start_s, end_s)
    return solve(clean(take, table).cleaned, clean(danced.static_take, table).cleaned)


@cache
def _reviewed(segment: str) -> Review:
    """The review of the dance that lost a segment in its turn."""
    return analyse_take(_without(_danced().take, segment, *TURN_S), SETTINGS, _danced().static_take)


def _apart_mm(movement: Movement, joint: str, frames: slice) -> float:
    apart = movement.joint(joint)[frames] - _danced().movement.joint(joint)[frames]
    return float(1000 * np.sqrt(np.mean((apart**2).sum(axis=1))))


def _turned_deg(movement: Movement, segment: str, frames: slice) -> float:
    apart = np.swapaxes(_danced().movement.segment(segment)[frames], 1, 2) @ movement.segment(segment)[frames]
    return float(np.degrees(np.sqrt(np.mean(Rotation.from_matrix(apart).magnitude() ** 2))))


@pytest.mark.parametrize(("start_s", "end_s"), [(3.0, 5.5), TURN_S, (0.0, 99.0)])
@pytest.mark.parametrize(("segment", "joint", "degrees"), [("shank.R", "ankle.R", 8.0), ("thigh.L", "knee.L", 8.0)])
def test_a_leg_that_lost_a_whole_segment_is_held_by_its_neighbours(
    segment: str, joint: str, degrees: float, start_s: float, end_s: float
) -> None:
    """In a balance, in a turn, and in the whole dance; the joint within 12 mm (product.md allows 10 to 15 where it is seen)."""
    movement, whole = _solved(segment, start_s, end_s), _solved(None)
    frames = slice(int(start_s * RATE_HZ), int(end_s * RATE_HZ))
    assert np.isfinite(movement.segment(segment)).all()
    assert _apart_mm(movement, joint, frames) < 12.0
    assert _turned_deg(movement, segment, frames) < degrees
    column = JOINTS.index(joint)
    assert (movement.joint_source[frames, column] == Source.WHOLE_BODY).all()
    assert (movement.trust[frames, column] < 0.5 * whole.trust[frames, column]).all()
    # No marker is left to disagree.
    place = SEGMENTS.index(segment)
    beyond = np.setdiff1d(np.arange(movement.frames), np.arange(movement.frames)[frames])
    np.testing.assert_allclose(movement.segment_residual_m[beyond, place], whole.segment_residual_m[beyond, place], atol=1e-3)


def test_the_stated_error_of_a_held_joint_covers_what_it_errs() -> None:
    frames = slice(*(int(time_s * RATE_HZ) for time_s in TURN_S))
    for segment, joint in (("shank.R", "ankle.R"), ("thigh.L", "knee.L"), ("upper_arm.R", "elbow.R")):
        movement = _solved(segment, *TURN_S)
        stated = 1000 * float(np.median(movement.joint_error_m[frames, JOINTS.index(joint)]))
        # The error stated is along one direction.
        assert _apart_mm(movement, joint, frames) / np.sqrt(3) < 2 * stated
        assert stated < 40.0


def test_what_nothing_holds_stays_unknown() -> None:
    """A foot or a forearm has nothing beyond it; a pelvis with both legs may still tip about the line of the hips."""
    for segment in ("foot.R", "forearm.L", "pelvis", "thorax"):
        movement = _solved(segment, *TURN_S)
        assert np.isnan(movement.segment(segment)[int(8.1 * RATE_HZ) : int(10.4 * RATE_HZ)]).all()
    # The hips are where the thighs have them.
    movement = _solved("pelvis", *TURN_S)
    assert _apart_mm(movement, "hip.L", slice(8 * RATE_HZ, int(10.5 * RATE_HZ))) < 12.0
    assert np.isfinite(movement.joint_error_m[9 * RATE_HZ, JOINTS.index("hip.L")])


def test_frames_that_lost_nothing_are_as_they_were() -> None:
    """To half a millimetre: legs are fitted to what the whole take shows, and it shows a little less."""
    whole, movement = _solved(None), _solved("shank.R", *TURN_S)
    for frames in (slice(0, int((TURN_S[0] - 0.5) * RATE_HZ)), slice(int((TURN_S[1] + 0.5) * RATE_HZ), None)):
        np.testing.assert_allclose(whole.joint_centres_m[frames], movement.joint_centres_m[frames], rtol=0, atol=5e-4)


@pytest.mark.parametrize("segment", LOST)
def test_a_lost_segment_does_not_jump_and_is_no_fault(segment: str) -> None:
    """A clean dance whose recording lost a segment in the turn: no finding, and no angle leaps where the markers go and come."""
    review = _reviewed(segment)
    assert [finding.fault for finding in review.findings] == []
    leaps = np.abs(np.diff(review.movement.angles_rad, axis=0)) - np.abs(np.diff(_solved(None).angles_rad, axis=0))
    assert np.degrees(np.nanmax(leaps)) < 8.0


def test_a_pelvis_that_is_never_seen_makes_no_turn_into_a_balance() -> None:
    review = analyse_take(_without(_danced().take, "pelvis", 0.0, 99.0), SETTINGS, _danced().static_take)
    assert review.findings == ()
    assert any("whether the body turns" in unsure.why for unsure in review.unsure)


def _chain(frames: int, seed: int) -> tuple[list[Link], np.ndarray, np.ndarray, np.ndarray]:
    """Three linked segments with four markers each: links, measured (N, 12, 3), rotations (N, 3, 3, 3), root (N, 3)."""
    random = np.random.default_rng(seed)
    markers = random.normal(scale=0.1, size=(3, 4, 3))
    up, down = np.array([0.0, 0.2, 0.0]), np.array([0.0, -0.2, 0.0])
    links = [
        Link(
            i - 1,
            np.tile(down if i else np.zeros(3), (frames, 1)),
            up if i else np.zeros(3),
            markers[i],
            tuple(range(4 * i, 4 * i + 4)),
            np.ones(4),
        )
        for i in range(3)
    ]
    rotations = np.stack([Rotation.from_rotvec(random.normal(scale=0.5, size=(frames, 3))).as_matrix() for _ in range(3)], axis=1)
    root = random.normal(size=(frames, 3))
    origins = [root]
    for i in (1, 2):
        origins.append(origins[-1] + rotations[:, i - 1] @ down - rotations[:, i] @ up)
    measured = np.concatenate(
        [np.einsum("nij,mj->nmi", rotations[:, i], markers[i]) + origins[i][:, None] for i in range(3)], axis=1
    )
    return links, measured, rotations, root


def test_the_fit_of_a_tree_without_noise_is_exact_and_its_joints_are_joined() -> None:
    links, measured, rotations, root = _chain(2500, 1)
    start = rotations @ Rotation.from_rotvec([0.1, -0.1, 0.1]).as_matrix()
    fit = fit_tree(links, measured, np.zeros(measured.shape[:2]), start, root + 0.05)
    # What is left is the pull of the start, ten degrees away, on markers that are believed to 5 mm.
    np.testing.assert_allclose(fit.rotations, rotations, atol=4e-3)
    assert np.nanmax(fit.residual_m) < 5e-4
    for i in (1, 2):
        upper = fit.origins[:, i - 1] + fit.rotations[:, i - 1] @ links[i].joint_in_parent[0]
        lower = fit.origins[:, i] + fit.rotations[:, i] @ links[i].joint_in_own
        np.testing.assert_allclose(upper, lower, atol=1e-12)


def test_a_link_without_markers_between_two_others_is_found_and_one_at_the_end_says_it_is_not() -> None:
    links, measured, rotations, root = _chain(200, 2)
    middle, end = measured.copy(), measured.copy()
    middle[:, 4:8], end[:, 8:] = np.nan, np.nan
    start = rotations.copy()
    start[:, 1] = start[:, 1] @ Rotation.from_rotvec([0.3, 0.0, -0.3]).as_matrix()
    fit = fit_tree(links, middle, np.zeros(middle.shape[:2]), start, root)
    along = np.einsum("ni,ni->n", fit.rotations[:, 1, :, 1], rotations[:, 1, :, 1])
    assert np.degrees(np.arccos(np.clip(along, -1, 1))).max() < 2.0
    assert fit.turn_sd_rad[:, 1, ::2].max() < 0.1
    assert np.isnan(fit.residual_m[:, 1]).all()
    alone = fit_tree(links, end, np.zeros(end.shape[:2]), rotations, root)
    assert alone.turn_sd_rad[:, 2, ::2].min() > 0.3


def test_a_marker_that_is_less_certain_pulls_less() -> None:
    links, measured, rotations, root = _chain(50, 3)
    wrong = measured.copy()
    wrong[:, 9] += 0.03
    errors = np.zeros(measured.shape[:2])
    believed = fit_tree(links, wrong, errors, rotations, root)
    errors[:, 9] = 0.03
    doubted = fit_tree(links, wrong, errors, rotations, root)

    def away(rotation: np.ndarray) -> float:
        return float(np.mean(Rotation.from_matrix(np.swapaxes(rotations[:, 2], 1, 2) @ rotation[:, 2]).magnitude()))

    assert away(doubted.rotations) < 0.2 * away(believed.rotations)


def test_points_in_a_line_do_not_tell_a_rotation() -> None:
    """The outer and inner marker of a knee and the knee between them: no pose of the shank, however many they are."""
    line = np.array([[0.0, 0.0, -0.05], [0.0, 0.0, 0.05], [0.0, 0.0, 0.0]])
    four = np.repeat(line[None], 4, axis=0)
    for fitted in (fit_rigid(line, four), fit_rigid_of_each_frame(four, four)):
        for values in fitted:
            assert np.isnan(values).all()
    beside = line + np.array([[0.005, 0.0, 0.0], [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
    np.testing.assert_allclose(fit_rigid(beside, beside[None])[0][0], np.eye(3), atol=1e-9)


def test_what_lies_between_known_frames() -> None:
    turns = Rotation.from_rotvec(np.outer(np.linspace(0, 1, 11), [0, 0, 0.4])).as_matrix()
    gappy = turns.copy()
    gappy[[0, 4, 5, 6, 10]] = np.nan
    filled = rotations_in_time(gappy)
    np.testing.assert_allclose(filled[1:10], turns[1:10], atol=1e-3)
    np.testing.assert_allclose(filled[[0, 10]], turns[[1, 9]], atol=1e-12)
    assert np.isnan(rotations_in_time(np.full((3, 3, 3), np.nan))).all()
    places = np.arange(33.0).reshape(11, 3)
    holes = places.copy()
    holes[3:6] = np.nan
    np.testing.assert_allclose(places_in_time(holes), places)
