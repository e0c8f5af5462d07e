"""Frames, angles and regressions of the body against worked values (catalogue section 11)."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from in_the_round.analysis_core.body.angles import knee_bend, knee_direction, medial_knee_displacement
from in_the_round.analysis_core.body.centre_of_mass import mass_sums
from in_the_round.analysis_core.body.floor import floor_from_movement, floor_from_standing
from in_the_round.analysis_core.body.geometry import azimuth_out, cardan_zxy, cross, frame_from_y, mirror_left, unit
from in_the_round.analysis_core.body.hip_centre import davis, hara, harrington
from in_the_round.analysis_core.body.movement import ANGLES, Standing
from in_the_round.analysis_core.body.rigid import fit_rigid, fit_rigid_of_each_frame, nearest_rotation
from in_the_round.analysis_core.body.rotations import matrices_of, quaternions_of, turned_by, vectors_of
from scipy.spatial.transform import Rotation

FORWARD = np.array([1.0, 0.0, 0.0])


def test_outward_azimuth_of_a_right_leg_turned_out_by_sixty_degrees():
    """Catalogue 0.3, derived there: f = +x, up = +z, v = (cos 60°, −sin 60°, 0) → +60°."""
    out = np.array([np.cos(np.radians(60)), -np.sin(np.radians(60)), 0.0])
    assert np.degrees(azimuth_out(out, FORWARD, 1.0)) == pytest.approx(60.0)
    assert np.degrees(azimuth_out(out, FORWARD, -1.0)) == pytest.approx(-60.0)


class TestLegFrame:
    """Winter's leg example, as printed in open course notebooks (catalogue 11, rows 4 to 6), centimetres."""

    outer_ankle, inner_ankle = np.array([2.92, 10.10, 18.85]), np.array([2.71, 10.22, 26.52])
    fibula, inner_knee = np.array([5.05, 41.90, 15.41]), np.array([8.29, 41.88, 26.52])

    def frame(self):
        ankle, knee = 0.5 * (self.outer_ankle + self.inner_ankle), 0.5 * (self.fibula + self.inner_knee)
        return ankle, knee, frame_from_y(knee - ankle, self.inner_ankle - self.outer_ankle)

    def test_joint_centres_and_axes(self):
        ankle, knee, frame = self.frame()
        np.testing.assert_allclose(ankle, [2.815, 10.16, 22.685], atol=1e-9)
        np.testing.assert_allclose(knee, [6.67, 41.89, 20.965], atol=1e-9)
        np.testing.assert_allclose(frame[:, 0], [0.9925, -0.1190, 0.0290], atol=6e-5)
        np.testing.assert_allclose(frame[:, 1], [0.1204, 0.9913, -0.0537], atol=6e-5)
        np.testing.assert_allclose(frame[:, 2], [-0.0224, 0.0568, 0.9981], atol=6e-5)

    @pytest.mark.parametrize(
        ("point", "expected"),
        [
            ("inner_ankle", [0, -0.1592, 3.8336]),
            ("outer_ankle", [0, 0.1592, -3.8336]),
            ("fibula", [-1.7703, 32.1229, -5.5078]),
            ("inner_knee", [1.7703, 31.8963, 5.5078]),
        ],
    )
    def test_local_coordinates(self, point, expected):
        ankle, _, frame = self.frame()
        np.testing.assert_allclose(frame.T @ (getattr(self, point) - ankle), expected, atol=6e-5)

    def test_cardan_angles(self):
        _, _, frame = self.frame()
        np.testing.assert_allclose(np.degrees(cardan_zxy(frame)), [-6.927, -3.080, -1.666], atol=6e-4)


class TestJointAngles:
    def test_worked_matrix(self):
        """Catalogue 1.2 and 11 row 18, computed there in two ways."""
        matrix = np.array([[0.692005, -0.561042, -0.454269], [0.591813, 0.801252, -0.088049], [0.413383, -0.207912, 0.886503]])
        np.testing.assert_allclose(np.degrees(cardan_zxy(matrix)), [35, -12, -25], atol=1e-4)

    @given(st.floats(-170, 170), st.floats(-80, 80), st.floats(-170, 170))
    def test_same_as_a_reference_library(self, alpha, beta, gamma):
        """scipy's intrinsic Z-X-Y, away from the singularity."""
        matrix = Rotation.from_euler("ZXY", [alpha, beta, gamma], degrees=True).as_matrix()
        np.testing.assert_allclose(np.degrees(cardan_zxy(matrix)), [alpha, beta, gamma], atol=1e-6)

    def test_flexion_and_rotation_cannot_be_told_apart_at_ninety_degrees(self):
        """Catalogue 11 row 19: (20, −90, −40) and (60, −90, 0) are the same position."""
        first = Rotation.from_euler("ZXY", [20, -90, -40], degrees=True).as_matrix()
        second = Rotation.from_euler("ZXY", [60, -90, 0], degrees=True).as_matrix()
        np.testing.assert_allclose(first, second, atol=1e-12)
        assert np.degrees(cardan_zxy(first)[1]) == pytest.approx(-90)

    @given(st.floats(-170, 170), st.floats(-80, 80), st.floats(-170, 170))
    def test_a_mirrored_left_side_reads_as_the_right(self, alpha, beta, gamma):
        right = Rotation.from_euler("ZXY", [alpha, beta, gamma], degrees=True).as_matrix()
        left = Rotation.from_euler("ZXY", [alpha, -beta, -gamma], degrees=True).as_matrix()
        np.testing.assert_allclose(mirror_left(left), right, atol=1e-9)


class TestHipCentres:
    """Worked example PW 240, PD 150, LL 800 mm (catalogue 1.3 and 11 rows 12 to 15); coefficients confirmed there."""

    def test_several_predictors(self):
        np.testing.assert_allclose(harrington(0.240, 0.150, 0.800, 1.0) * 1000, [-45.9, -77.5, 88.3], atol=0.06)

    def test_single_predictor(self):
        np.testing.assert_allclose(harrington(0.240, 0.150, None, 1.0) * 1000, [-45.9, -82.9, 86.5], atol=0.06)

    def test_leg_length_only(self):
        np.testing.assert_allclose(hara(0.800, 1.0) * 1000, [-39.4, -71.4, 76.8], atol=0.06)

    def test_older_method(self):
        np.testing.assert_allclose(davis(0.240, 0.800, 0.007, 1.0) * 1000, [-37.6, -83.2, 83.5], atol=0.06)

    def test_left_is_the_mirror_of_right(self):
        np.testing.assert_allclose(harrington(0.24, 0.15, 0.8, -1.0), harrington(0.24, 0.15, 0.8, 1.0) * [1, 1, -1])


class TestKneeDirection:
    """Right leg, f = +x (catalogue 11 row 31, computed there)."""

    hip, knee, ankle = (np.array([p]) for p in ([0, -0.09, 0.80], [0.20, -0.25, 0.46], [0.02, -0.12, 0.08]))

    def test_direction_and_distance(self):
        found = knee_direction(self.hip, self.knee, self.ankle, FORWARD[None], 1.0)
        assert np.degrees(found.azimuth[0]) == pytest.approx(37.383, abs=5e-4)
        assert found.distance_m[0] == pytest.approx(0.23969, abs=5e-6)

    def test_bend(self):
        assert np.degrees(knee_bend(self.hip, self.knee, self.ankle)[0]) == pytest.approx(67.266, abs=5e-4)

    def test_knee_inside_a_foot_at_sixty_degrees(self):
        foot = np.array([[np.cos(np.radians(60)), -np.sin(np.radians(60)), 0.0]])
        found = knee_direction(self.hip, self.knee, self.ankle, FORWARD[None], 1.0)
        assert 60 - np.degrees(found.azimuth[0]) == pytest.approx(22.617, abs=5e-4)
        assert medial_knee_displacement(self.knee, self.ankle, foot, 1.0)[0] == pytest.approx(0.09088, abs=5e-6)


def test_segment_masses_sum_to_the_body():
    """de Leva 1996, table 4 (catalogue 11 row 10): men 1.0000, women 0.9999."""
    women, men = mass_sums()
    assert women == pytest.approx(0.9999, abs=1e-9)
    assert men == pytest.approx(1.0, abs=1e-9)


class TestRigidPose:
    def test_quarter_turn(self):
        """Open notebook output (catalogue 11 row 16)."""
        reference = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]], float)
        measured = np.array([[[0, 0, 0], [0, 1, 0], [-1, 0, 0], [-1, 1, 0]]], float)
        rotation, translation, rms = fit_rigid(reference, measured)
        np.testing.assert_allclose(rotation[0], [[0, -1, 0], [1, 0, 0], [0, 0, 1]], atol=1e-12)
        np.testing.assert_allclose(translation[0], 0, atol=1e-12)
        assert rms[0] == pytest.approx(0, abs=1e-12)

    @given(st.integers(0, 10_000))
    @example(446)
    def test_a_noisy_plane_never_turns_into_its_mirror_image(self, seed):
        """Catalogue 11 row 17, theory."""
        generator = np.random.default_rng(seed)
        flat = np.column_stack([generator.normal(size=(4, 2)), np.zeros(4)])
        rotation, _, _ = fit_rigid(flat, flat[None] + generator.normal(scale=0.3, size=(5, 4, 3)))
        widths = np.linalg.svd(flat - flat.mean(axis=0), compute_uv=False)
        if widths[1] > 0.01 * widths[0]:
            np.testing.assert_allclose(np.linalg.det(rotation), 1.0, atol=1e-9)
        else:
            # Nearly on a line, as a draw in two thousand is, points do not tell how they are turned about it.
            assert np.isnan(rotation).all()

    def test_same_as_a_reference_library(self):
        """scipy's Rotation.align_vectors (Kabsch) on weighted points."""
        generator = np.random.default_rng(4)
        reference, weights = generator.normal(size=(6, 3)), generator.uniform(0.2, 2, 6)
        true = Rotation.random(20, random_state=5)
        measured = np.stack([r.apply(reference) for r in true]) + generator.normal(scale=0.05, size=(20, 6, 3))
        rotation, _, _ = fit_rigid(reference, measured, weights)
        for found, points in zip(rotation, measured, strict=True):
            a = reference - np.average(reference, axis=0, weights=weights)
            b = points - np.average(points, axis=0, weights=weights)
            np.testing.assert_allclose(found, Rotation.align_vectors(b, a, weights=weights)[0].as_matrix(), atol=1e-8)

    @pytest.mark.parametrize("width", [0.05, 0.005, 0.0001, 0.0])
    def test_points_near_a_line_turn_as_the_singular_value_decomposition_says(self, width):
        """Arun 1987: the closed form and the decomposition reach the same greatest trace, on markers ever nearer to a line."""
        generator = np.random.default_rng(7)
        moments = generator.normal(size=(50, 3, 3)) * 0.02 * np.array([0.2, width, 0.0])
        rotation = nearest_rotation(moments)
        left, _, right = np.linalg.svd(moments)
        left[:, :, 2] *= np.sign(np.linalg.det(left @ right))[:, None]
        reached = np.einsum("fij,fij->f", rotation, moments)
        np.testing.assert_allclose(reached, np.einsum("fij,fij->f", left @ right, moments), atol=1e-12)
        np.testing.assert_allclose(rotation @ rotation.swapaxes(1, 2), np.broadcast_to(np.eye(3), rotation.shape), atol=1e-9)
        np.testing.assert_allclose(np.linalg.det(rotation), 1.0, atol=1e-9)

    def test_bodies_of_their_own_are_fitted_as_one_by_one(self):
        """Catches sums over the wrong axis where every frame has its own reference."""
        generator = np.random.default_rng(8)
        bodies, weights = generator.normal(size=(5, 6, 3)), generator.uniform(0.2, 2, 6)
        turns = Rotation.random(5, random_state=9)
        measured = np.stack([turn.apply(body) + 0.3 for turn, body in zip(turns, bodies, strict=True)])
        measured[2, 1] = np.nan
        for together, each in zip(
            fit_rigid_of_each_frame(bodies, measured, weights),
            zip(*(fit_rigid(body, one[None], weights) for body, one in zip(bodies, measured, strict=True)), strict=True),
            strict=True,
        ):
            np.testing.assert_allclose(together, np.concatenate(each), atol=1e-9)

    def test_missing_points_are_left_out_and_two_are_too_few(self):
        generator = np.random.default_rng(6)
        reference = generator.normal(size=(4, 3))
        turn = Rotation.from_euler("ZXY", [0.3, 0.2, 0.1])
        measured = np.repeat((turn.apply(reference) + 1.0)[None], 3, axis=0)
        measured[1, 0] = np.nan
        measured[2, :2] = np.nan
        rotation, translation, rms = fit_rigid(reference, measured)
        np.testing.assert_allclose(rotation[1], turn.as_matrix(), atol=1e-9)
        np.testing.assert_allclose(translation[1], 1.0, atol=1e-9)
        assert np.isnan(rotation[2]).all()
        assert np.isnan(rms[2])


def test_a_vector_of_no_length_has_no_direction():
    assert np.isnan(unit(np.zeros(3))).all()


@pytest.mark.parametrize("stretched_deg", [0.0, 30.0, 60.0, 75.0])
def test_ankle_markers_that_turn_a_shank_about_its_length_sickle_no_foot(stretched_deg: float) -> None:
    """Ankle markers 8° round the shank, a foot straight before it: by hand the foot seems aside by asin(sin 8° cos p) at a
    plantarflexion p. Catches the 8° of standing taken off a stretched foot, which then seemed sickled by up to 6°."""
    turned = np.radians(8.0)

    def raw(stretched: float) -> np.ndarray:
        angles = np.zeros((1, len(ANGLES)))
        angles[0, ANGLES.index("plantarflexion.R")] = stretched
        angles[0, ANGLES.index("foot_deviation.R")] = np.arcsin(np.sin(turned) * np.cos(stretched))
        return angles

    nothing = np.full(2, np.nan)
    stood = Standing(True, dict(zip(ANGLES, raw(0.0)[0], strict=True)), 0.8, 0.4, 0.4, 0.25, 1.7, nothing, nothing, nothing)
    danced = raw(np.radians(stretched_deg))
    change = danced[:, ANGLES.index("foot_deviation.R")] - stood.part_of("foot_deviation.R", danced)
    assert np.degrees(change[0]) == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize(("lowest_m", "floor_m"), [(0.012, 0.0), (-0.003, 0.0), (-0.12, -0.13), (0.4, 0.39)])
def test_a_marker_stuck_on_a_little_low_does_not_lower_the_floor(lowest_m: float, floor_m: float) -> None:
    """One heel marker 3 mm below the room's zero; catches a floor, and with it a dancer, 13 mm off. Another floor is found."""
    feet = np.zeros((5, 2, 4, 3))
    feet[..., 2] = lowest_m + 0.01
    feet[:, 0, 0, 2] = lowest_m
    for floor in (
        floor_from_standing(feet, np.ones(5, dtype=bool)),
        floor_from_movement(feet, of_markers=True),
    ):
        assert floor.height_m == pytest.approx(floor_m, abs=1e-9)
        np.testing.assert_allclose(feet[0, ..., 2] - floor.height_m, floor.flat_m)


@given(st.lists(st.floats(-1.7, 1.7), min_size=3, max_size=3), st.sampled_from([1.0, 1e-6, 1e-13, 0.0]))
def test_rotation_vectors_there_and_back_against_scipy(parts: list[float], size: float) -> None:
    """Large turns, tiny ones and none, alone and in arrays. Would catch a half angle, a wrong sign, a division by nothing."""
    vector = size * np.array(parts)
    assert turned_by(vector) == pytest.approx(Rotation.from_rotvec(vector).as_matrix(), abs=1e-12)
    both = np.array([[vector, 0.5 * vector]])
    assert vectors_of(turned_by(both)) == pytest.approx(both, abs=1e-9)


@pytest.mark.parametrize("shapes", [((7, 3), (7, 3)), ((7, 3), (3,)), ((3,), (7, 3)), ((3,), (3,)), ((4, 1, 3), (1, 7, 3))])
def test_a_cross_product_is_that_of_the_library(shapes: tuple[tuple[int, ...], tuple[int, ...]]) -> None:
    """Bit for bit, for every pair of shapes that is used. Would catch an axis or a sign exchanged."""
    random = np.random.default_rng(3)
    first, second = (random.normal(size=shape) for shape in shapes)
    np.testing.assert_array_equal(cross(first, second), np.cross(first, second))


def test_one_rotation_is_told_like_many():
    """A single matrix (3, 3), by each of the four ways of choosing, against scipy; catches a way for whole takes only."""
    for vector in ([0.1, 0.2, 0.3], [3.0, 0.1, 0.2], [0.1, 3.0, 0.2], [0.1, 0.2, 3.0]):
        matrix = Rotation.from_rotvec(vector).as_matrix()
        np.testing.assert_allclose(matrices_of(quaternions_of(matrix)), matrix, atol=1e-12)
        np.testing.assert_allclose(quaternions_of(np.stack([matrix, matrix]))[0], quaternions_of(matrix), atol=0)
