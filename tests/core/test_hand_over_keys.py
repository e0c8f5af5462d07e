"""Few keys: how many, how true, and what they do to feet that hold; curves evaluated by another library."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pygltflib
import pytest
from in_the_round.analysis_core.body.movement import SEGMENTS
from in_the_round.analysis_core.hand_over.give import HandOver, hand_over, note_of
from in_the_round.analysis_core.hand_over.glb import write_hand_over_glb
from in_the_round.analysis_core.hand_over.holding import sliding
from in_the_round.analysis_core.hand_over.keys import Reduced
from in_the_round.analysis_core.hand_over.wishes import Wishes
from in_the_round.analysis_core.review import Review
from scipy.interpolate import CubicHermiteSpline
from scipy.spatial.transform import Rotation


@pytest.fixture(scope="module")
def given(careful_review: Review) -> HandOver:
    return hand_over(careful_review, Wishes(reduce_keys=True))


@pytest.fixture(scope="module")
def reduced(given: HandOver) -> Reduced:
    assert given.reduced is not None
    return given.reduced


def chain(given: HandOver, turns: list[Rotation], pelvis: np.ndarray) -> tuple[np.ndarray, list[Rotation]]:
    """Joints (F, B, 3) and world turns of rotations against the parents: forward kinematics of the test's own."""
    rig, places, world = given.rig, [pelvis], [turns[0]]
    for index in range(1, len(rig.names)):
        parent = int(rig.parents[index])
        places.append(places[parent] + world[parent].apply(rig.heads[index] - rig.heads[parent]))
        world.append(world[parent] * turns[index])
    return np.stack(places, axis=1), world


def test_few_keys_stay_within_the_bound(given: HandOver, reduced: Reduced, careful_review: Review) -> None:
    """At most 5 % of the keys; curves evaluated by scipy: joints 99 % within 1.5 mm, rotations within a third of a degree.

    Would catch slopes in a wrong unit, keys that are not shared by the components, errors that add up along the chain.
    """
    index = np.arange(given.rig.frames)

    def shown(curve: object) -> np.ndarray:
        return CubicHermiteSpline(curve.frames, curve.values, curve.slopes)(index)

    turns = [Rotation.from_quat(shown(curve), scalar_first=True) for curve in reduced.turns]
    places, world = chain(given, turns, shown(reduced.places[0]))
    away = 1000 * np.linalg.norm(places - given.rig.origins_m, axis=2)
    assert np.quantile(away, 0.99) < 1.5
    assert away.max() < 4.0
    turned = [(one * Rotation.from_matrix(given.rig.turned[:, i]).inv()).magnitude() for i, one in enumerate(world)]
    assert np.degrees(np.quantile(np.concatenate(turned), 0.99)) < 0.35
    keys = sum(4 * len(curve.frames) for curve in reduced.turns) + 3 * len(reduced.places[0].frames)
    assert keys <= 0.05 * (4 * len(SEGMENTS) + 3) * given.rig.frames
    note = note_of(given, careful_review, {})["keys"]
    assert note["share"] == pytest.approx(keys / ((4 * len(SEGMENTS) + 3) * given.rig.frames))
    assert note["joints_mm"]["p99"] == pytest.approx(np.quantile(away, 0.99), rel=1e-3)


def test_feet_still_hold_on_few_keys(given: HandOver, reduced: Reduced) -> None:
    """Held points creep by at most 2 mm/s on average; with the bound of arms everywhere it is more (hand_over.md 6)."""
    fewer = replace(given.skeleton, turned=reduced.rig.turned, pelvis_m=reduced.rig.origins_m[:, 0])
    assert sliding(fewer, given.planted)[0] < 0.002


def test_gltf_holds_the_curves(given: HandOver, reduced: Reduced, tmp_path: Path) -> None:
    """Cubic splines of the file, evaluated by scipy from pygltflib's document: the same joints to a twentieth of a millimetre.

    Would catch tangents a frame instead of a second, a wrong order of in-tangent, value, out-tangent, and clips cut askew.
    """
    path = tmp_path / "few.glb"
    piece = given.pieces[len(given.pieces) // 2]
    # Of its neighbours one on each side: pygltflib takes seconds for the thousands of accessors of all pieces.
    beside = given.pieces[len(given.pieces) // 2 - 1 : len(given.pieces) // 2 + 2]
    write_hand_over_glb(given.rig, given.body, beside, {}, path, reduced=reduced)
    document = pygltflib.GLTF2().load(str(path))
    data = document.binary_blob()

    def values(number: int) -> np.ndarray:
        accessor = document.accessors[number]
        size = {"SCALAR": 1, "VEC3": 3, "VEC4": 4}[accessor.type]
        start = document.bufferViews[accessor.bufferView].byteOffset + (accessor.byteOffset or 0)
        return np.frombuffer(data, "<f4", accessor.count * size, start).reshape(-1, size).astype(np.float64)

    up = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
    for clip, start, stop in (("take", 0, given.rig.frames), (piece.name, piece.start, piece.stop)):
        animation = next(item for item in document.animations if item.name == clip)
        times = np.arange(stop - start) / given.rig.rate_hz
        shown = {}
        for channel in animation.channels:
            sampler = animation.samplers[channel.sampler]
            assert sampler.interpolation == "CUBICSPLINE"
            triples = values(sampler.output)
            triples = triples.reshape(-1, 3, triples.shape[1])
            spline = CubicHermiteSpline(values(sampler.input)[:, 0], triples[:, 1], triples[:, 2])
            shown[channel.target.node, channel.target.path] = spline(times)
        turns = [Rotation.from_quat(shown[index, "rotation"]) for index in range(len(SEGMENTS))]
        back = Rotation.from_matrix(up)
        places, _ = chain(given, [back.inv() * turn * back for turn in turns], shown[0, "translation"] @ up)
        assert np.abs(places - reduced.rig.origins_m[start:stop]).max() < 5e-5, clip
