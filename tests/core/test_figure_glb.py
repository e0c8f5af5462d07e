"""The dancer's GLB, read back by the words of the specification: a reader that shares no code with the writer."""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import SEGMENTS
from in_the_round.analysis_core.errors import OutputError
from in_the_round.analysis_core.figure.glb import COARSENESS, clip_of, glb_of, write_glb
from in_the_round.analysis_core.figure.motion import at_samples, motion_of
from in_the_round.analysis_core.figure.posing import skin_at
from in_the_round.analysis_core.figure.proportions import Rest, rest_of
from in_the_round.analysis_core.figure.skin import skin_of
from in_the_round.analysis_core.review import Review
from in_the_round.simulated_dancer import Fault


@pytest.fixture(scope="module")
def made(reviewed: Callable[..., Review]) -> tuple[Review, Rest, bytes]:
    review = reviewed(Fault("axis-tilts", "turn-1", 8.0), Fault("heel-lifts-early", "turn-1", 32.0))
    rest = rest_of(review.movement)
    return review, rest, glb_of(rest, [clip_of("now", review, rest)])


class Reader:
    """Section numbers are those of the glTF 2.0 specification."""

    def __init__(self, data: bytes) -> None:
        magic, version, length = struct.unpack_from("<III", data)  # 4.4.2
        assert (magic, version, length) == (0x46546C67, 2, len(data))
        size, kind = struct.unpack_from("<II", data, 12)
        assert kind == 0x4E4F534A
        self.json: dict[str, Any] = json.loads(data[20 : 20 + size])
        self.binary = data[20 + size + 8 :]
        assert self.json["buffers"][0]["byteLength"] == len(self.binary)

    def accessor(self, number: int) -> np.ndarray:  # 3.6.2
        told = self.json["accessors"][number]
        view = self.json["bufferViews"][told["bufferView"]]
        kind = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}[told["componentType"]]
        width = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}[told["type"]]
        stride = view.get("byteStride", np.dtype(kind).itemsize * width)
        raw = np.ndarray((told["count"], width), kind, self.binary, view["byteOffset"], (stride, np.dtype(kind).itemsize))
        values = raw.astype(np.float64)
        if "min" in told:
            np.testing.assert_array_equal(values.min(axis=0), told["min"])
            np.testing.assert_array_equal(values.max(axis=0), told["max"])
        if told.get("normalized"):  # 3.11
            values = np.maximum(values / np.iinfo(raw.dtype).max, -1.0)
        return values

    def skinned(self, key: int) -> np.ndarray:
        """Places (V, 3) of all points at one key of the first animation, Y up (3.7.3)."""
        nodes = [dict(node) for node in self.json["nodes"]]
        animation = self.json["animations"][0]
        for channel in animation["channels"]:
            sampler = animation["samplers"][channel["sampler"]]
            nodes[channel["target"]["node"]][channel["target"]["path"]] = self.accessor(sampler["output"])[key]
        world: dict[int, np.ndarray] = {}

        def visit(number: int, above: np.ndarray) -> None:
            node = nodes[number]
            x, y, z, w = np.array(node.get("rotation", (0, 0, 0, 1))) / np.linalg.norm(node.get("rotation", (0, 0, 0, 1)))
            own = np.eye(4)
            own[:3, :3] = [
                [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
                [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
                [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
            ]
            own[:3, 3] = node.get("translation", (0, 0, 0))
            world[number] = above @ own
            for child in node.get("children", ()):
                visit(child, world[number])

        for number in self.json["scenes"][0]["nodes"]:
            visit(number, np.eye(4))
        skin = self.json["skins"][0]
        binds = self.accessor(skin["inverseBindMatrices"]).reshape(-1, 4, 4).transpose(0, 2, 1)
        joints = np.stack([world[number] for number in skin["joints"]]) @ binds
        attributes = self.json["meshes"][0]["primitives"][0]["attributes"]
        places = np.c_[self.accessor(attributes["POSITION"]), np.ones(self.json["accessors"][attributes["POSITION"]]["count"])]
        moving, weights = self.accessor(attributes["JOINTS_0"]).astype(int), self.accessor(attributes["WEIGHTS_0"])
        assert weights.sum(axis=1) == pytest.approx(1.0)
        return np.einsum("vk,vkij,vj->vi", weights, joints[moving], places)[:, :3]


def test_every_point_is_where_the_figure_is(made: tuple[Review, Rest, bytes]) -> None:
    """Quantised places, folded matrices, turned axes, rounded keys: any slip moves points by centimetres; allowed are 3 mm."""
    review, rest, data = made
    reader = Reader(data)
    motion = motion_of(review.movement, rest)
    skin = skin_of(rest, coarseness=COARSENESS)
    times = reader.accessor(reader.json["animations"][0]["samplers"][0]["input"])[:, 0]
    for key in (0, len(times) // 2, len(times) - 1):
        x, y, z = reader.skinned(key).T
        expected = skin_at(skin, at_samples(motion, times[key : key + 1] * review.take.rate_hz), rest)[0]
        apart = np.linalg.norm(np.stack([x, -z, y], axis=1) - expected, axis=1)
        assert np.quantile(apart, 0.999) < 0.003, key
        assert apart.max() < 0.008, key


def test_it_is_as_long_as_the_take_and_small(made: tuple[Review, Rest, bytes]) -> None:
    """The student's page has 7 MB for everything; the demo's prototype took 362 kB."""
    review, _, data = made
    reader = Reader(data)
    times = reader.accessor(reader.json["animations"][0]["samplers"][0]["input"])[:, 0]
    assert times[-1] == pytest.approx(review.take.duration_s, abs=0.05)
    assert (np.diff(times) > 0).all()
    assert len(zlib.compress(data)) < 600_000


def test_severity_comes_at_its_time_on_its_part(made: tuple[Review, Rest, bytes]) -> None:
    review, rest, data = made
    reader = Reader(data)
    told = reader.json["animations"][0]["extras"]
    levels = reader.accessor(told["levels"]).reshape(-1, len(SEGMENTS))
    known = reader.accessor(told["known"]).reshape(levels.shape)
    assert reader.json["meshes"][0]["extras"]["segments"] == list(SEGMENTS)
    finding = next(f for f in review.findings if f.fault == "axis-tilts")
    key = round(finding.peak_s * told["rate_hz"])
    assert levels[key].max() > 0.3
    assert known.mean() > 0.9
    calm = glb_of(rest, [clip_of("now", review, rest, findings=())])
    again = Reader(calm)
    assert again.accessor(again.json["animations"][0]["extras"]["levels"]).max() == 0.0


def test_two_takes_share_one_body(made: tuple[Review, Rest, bytes]) -> None:
    review, rest, _ = made
    reader = Reader(glb_of(rest, [clip_of("now", review, rest), clip_of("before", review, rest)]))
    assert [animation["name"] for animation in reader.json["animations"]] == ["now", "before"]
    assert len(reader.json["meshes"]) == len(reader.json["skins"]) == 1


def test_nothing_of_the_take_leaks_into_it(tmp_path: Path, made: tuple[Review, Rest, bytes]) -> None:
    """Names, dates, paths and hashes never reach a student's page."""
    review, _, _ = made
    path = tmp_path / "anna_muster.glb"
    write_glb(path, review)
    data = path.read_bytes()
    for secret in ("anna", review.take.file, review.take.sha256, str(tmp_path)):
        assert not secret or secret.encode() not in data
    with pytest.raises(OutputError, match="is there already"):
        write_glb(path, review)
