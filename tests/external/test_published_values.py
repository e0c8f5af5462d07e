"""Joint centres, angles and centre of mass against values that others published beside open recordings, and a reference library.

What differs by definition is told by its mean; what moves within the take has to agree closely (docs/published_values.md).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.body.geometry import relative
from in_the_round.analysis_core.clean.smoothing import design_frequency, low_pass
from in_the_round.analysis_core.read import read_take
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.analysis_core.take import Take
from scipy.signal import butter, sosfiltfilt
from scipy.spatial.transform import Rotation

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT.parent / "shared" / "data" / "c3d_reference"
OPEN = pytest.mark.skipif(not DATA.is_dir(), reason="the open recordings beside the project are not there")

#: Our joint, the published segment end (O = far end, P = near end of femur, tibia, humerus, radius), the largest distance and the
#: largest wander within the take, mm, root mean square.
CENTRES = (
    ("hip", "FEP", 30.0, 3.0),
    ("knee", "FEO", 30.0, 6.0),
    ("ankle", "TIO", 28.0, 12.0),
    ("shoulder", "HUP", 15.0, 2.0),
    ("elbow", "HUO", 38.0, 6.0),
    ("wrist", "RAO", 43.0, 5.0),
)


@pytest.fixture(scope="module")
def stairs(analysed: Callable[..., Review]) -> tuple[Review, Take]:
    """The stairs recording (MIT licence, see the manifest) with its static take: our review; the take with what is published."""
    return analysed("c3d_reference/stairs.c3d", "c3d_reference/static.c3d"), read_take(DATA / "stairs.c3d", Settings())


def _apart_mm(stairs: tuple[Review, Take], joint: str, point: str) -> np.ndarray:
    review, take = stairs
    down = np.array([0.0, 0.0, review.movement.floor_m])
    ours = review.movement.centre_of_mass_m if joint == "centre of mass" else review.movement.joint(joint)
    return np.asarray(1000 * (ours - (take.computed_m[point] - down)))


def _rms(apart: np.ndarray) -> float:
    return float(np.sqrt(np.nanmean((apart**2).sum(axis=1))))


@OPEN
@pytest.mark.parametrize("side", ["L", "R"])
@pytest.mark.parametrize(("joint", "end", "most", "wander"), CENTRES)
def test_joint_centres_against_the_published_ones(
    joint: str, end: str, most: float, wander: float, side: str, stairs: tuple[Review, Take]
) -> None:
    apart = _apart_mm(stairs, f"{joint}.{side}", side + end)
    assert _rms(apart) < most
    assert _rms(apart - np.nanmean(apart, axis=0)) < wander


@OPEN
def test_the_centre_of_mass_moves_as_the_published_one_does(stairs: tuple[Review, Take]) -> None:
    apart = _apart_mm(stairs, "centre of mass", "CentreOfMass")
    assert _rms(apart - np.nanmean(apart, axis=0)) < 5.0


DEMO = ROOT / "demo_data"


def test_joint_angles_equal_a_reference_library(careful_review: Review) -> None:
    """scipy's Rotation, intrinsic Z-X-Y of knee and hip of a whole take: within 1e-6 degrees."""
    movement = careful_review.movement
    mirror = np.diag([1.0, 1.0, -1.0])
    for side in "LR":
        for proximal, distal, name, sign in (
            ("thigh", "shank", "knee_flexion", -1.0),
            ("pelvis", "thigh", "hip_flexion", 1.0),
            ("shank", "foot", "ankle_dorsiflexion", 1.0),
        ):
            first = movement.segment(proximal if proximal == "pelvis" else f"{proximal}.{side}")
            rotation = relative(first, movement.segment(f"{distal}.{side}"))
            known = np.isfinite(rotation).all(axis=(1, 2))
            rotation = mirror @ rotation[known] @ mirror if side == "L" else rotation[known]
            theirs = sign * Rotation.from_matrix(rotation).as_euler("ZXY")[:, 0]
            apart = np.angle(np.exp(1j * (theirs - movement.angle(f"{name}.{side}")[known])))
            assert np.degrees(np.abs(apart).max()) < 1e-6, name


def test_filtered_curves_equal_a_reference_library() -> None:
    """scipy's second-order sections, forward and back, at the corrected frequency: within a nanometre, away from the ends."""
    take = read_take(DEMO / "careful.c3d", Settings())
    path = take.positions_m[:, take.labels.index(take.labels[0])]
    sections = butter(2, design_frequency(8.0, take.rate_hz), fs=take.rate_hz, output="sos")
    ours, theirs = low_pass(path, 8.0, take.rate_hz), sosfiltfilt(sections, path, axis=0)
    inside = slice(round(take.rate_hz), -round(take.rate_hz))
    np.testing.assert_allclose(ours[inside], theirs[inside], atol=1e-9)
