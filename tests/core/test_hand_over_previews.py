"""Previews drawn from arrays: what is near hides what is far, left stays left, and the dancer is seen from before her."""

from __future__ import annotations

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import SEGMENTS
from in_the_round.analysis_core.hand_over.body import Body
from in_the_round.analysis_core.hand_over.previews import PREVIEW_PX, previews
from in_the_round.analysis_core.hand_over.rig import Rig
from scipy.spatial.transform import Rotation

RED, GREEN, BLUE = np.eye(3)
#: Corners and outward quads of a cube of one metre, counted by hand.
CORNERS = np.array([[x, y, z] for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
QUADS = np.array([[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]], dtype=np.int32)


def cubes(*each: tuple[tuple[float, float, float], float, np.ndarray]) -> Body:
    """A body of cubes: where, how large, which colour."""
    points = np.concatenate([np.array(where) + size * CORNERS for where, size, _ in each])
    quads = np.concatenate([QUADS + 8 * number for number in range(len(each))])
    colours = np.repeat([colour for _, _, colour in each], 8, axis=0)
    return Body(points, quads, np.ones((len(points), 1)), colours)


def rig(*turned: Rotation) -> Rig:
    """One bone, two metres long, that is turned about its head in each frame and travels."""
    turns = np.array([one.as_matrix() for one in turned])[:, None]
    upright = np.array([[[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]])
    origins = np.array([[7.0 * frame, -3.0, 1.0] for frame in range(len(turned))])[:, None]
    return Rig((SEGMENTS[0],), np.array([-1]), np.zeros((1, 3)), upright, np.array([2.0]), turns, origins, (0,), 100.0, "t-pose")


def share(picture: np.ndarray, colour: np.ndarray) -> np.ndarray:
    """Where a picture shows a colour and hardly any other."""
    strongest = picture[..., :3] @ colour
    return (picture[..., 3] > 0.5) & (strongest > 0.2) & (strongest > 4.0 * picture[..., :3] @ (1.0 - colour))


def test_the_nearer_hides_the_farther_and_left_stays_left() -> None:
    """Facing −Y and looked at from before: red stands before blue, green at her left is on the right of the picture."""
    body = cubes(((0.0, -0.6, 0.0), 0.6, RED), ((-0.15, 0.5, -0.05), 0.3, BLUE), ((0.9, 0.0, 0.0), 0.3, GREEN))
    (picture,) = previews(rig(Rotation.identity()), body, [0])
    assert picture.shape == (PREVIEW_PX, PREVIEW_PX, 4)
    red, green, blue = (share(picture, colour) for colour in (RED, GREEN, BLUE))
    assert not blue.any()
    assert np.argwhere(green)[:, 1].mean() > np.argwhere(red)[:, 1].mean() + 20
    # Two cubes' outlines against their sizes in metres: 1.35 × 2 m fill the picture. A cube seen askew shows more than a side.
    side = 0.6 * PREVIEW_PX / 2.7
    assert side**2 < red.sum() < 1.8 * side**2
    # No holes: what lies between covered pixels of a row is covered.
    for row in red[red.any(axis=1)]:
        assert row[np.flatnonzero(row)[0] : np.flatnonzero(row)[-1] + 1].all()


def test_up_is_up_and_clear_is_clear() -> None:
    """The lowest row comes first, as Blender keeps pictures. Would catch a dancer on her head."""
    body = cubes(((0.0, 0.0, 0.5), 0.4, GREEN), ((0.0, 0.0, -0.5), 0.4, RED))
    (picture,) = previews(rig(Rotation.identity()), body, [0])
    assert np.argwhere(share(picture, GREEN))[:, 0].min() > np.argwhere(share(picture, RED))[:, 0].max()
    assert picture[0].max() == 0.0
    assert 0.0 < picture[..., 3].mean() < 0.3


def test_she_is_seen_from_before_wherever_she_faces() -> None:
    """A turn to any side and a travel change nothing; a tilt does. Would catch previews of backs."""
    body = cubes(((0.0, -0.6, 0.2), 0.6, RED), ((0.9, 0.0, 0.0), 0.3, GREEN))
    turned = [Rotation.from_euler("z", angle, degrees=True) for angle in (0.0, 137.0, -90.0)]
    first, *others = previews(rig(*turned, Rotation.from_euler("y", 50.0, degrees=True)), body, range(4))
    for other in others[:2]:
        assert np.abs(other - first).mean() < 0.01
    assert np.abs(others[2] - first).mean() == pytest.approx(0.05, abs=0.04)
    assert np.abs(others[2] - first).mean() > 0.02
