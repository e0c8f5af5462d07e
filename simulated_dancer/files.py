"""Simulated takes as files: C3D with float or integer samples, and BVH."""

from __future__ import annotations

import struct
from pathlib import Path

import ezc3d
import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from ..analysis_core.body.anatomy import SIDE_SUFFIXES
from ..analysis_core.body.movement import Movement
from ..analysis_core.take import Floats, Take
from ..analysis_core.write.files import whole_file


def write_c3d(
    path: Path, take: Take, labels: tuple[str, ...], *, integer_step_mm: float | None = None, overwrite: bool = False
) -> None:
    """Write a marker take in millimetres, Z up; a missing sample gets a negative residual (the C3D standard's way).

    integer_step_mm: code the samples as 16-bit integers of this step, half the size of floats.
    """
    frames, markers = take.positions_m.shape[:2]
    missing = ~np.isfinite(take.positions_m).all(axis=2)
    points = np.zeros((4, markers, frames))
    points[:3] = np.where(missing[..., None], 0.0, take.positions_m * 1000.0).transpose(2, 1, 0)
    points[3] = 1.0
    c3d = ezc3d.c3d()
    for name, value in (("UNITS", ["mm"]), ("RATE", [take.rate_hz]), ("LABELS", list(labels)), ("X_SCREEN", ["+X"])):
        c3d["parameters"]["POINT"][name] = {**c3d["parameters"]["POINT"].get(name, {"type": -1}), "value": value}
    c3d["parameters"]["POINT"].pop("X_SCREEN", None)
    c3d["data"]["points"] = points
    residuals = np.zeros((1, markers, frames))
    residuals[0] = np.where(missing, -1.0, 0.0).T
    c3d["data"]["meta_points"]["residuals"] = residuals
    with whole_file(path, overwrite=overwrite) as temporary:
        c3d.write(str(temporary))
        if integer_step_mm is not None:
            temporary.write_bytes(_as_integers(temporary.read_bytes(), points, missing, integer_step_mm))


def _as_integers(floats: bytes, points: Floats, missing: NDArray[np.bool_], step_mm: float) -> bytes:
    """The bytes of a float C3D file with its samples as integers: a positive scale says so in header and parameters."""
    start = 512 * (struct.unpack_from("<H", floats, 16)[0] - 1)
    before = bytearray(floats[:start])
    struct.pack_into("<f", before, 12, step_mm)
    at = before.index(b"SCALE", 512)
    # Name, offset to the next parameter (2 bytes), type (4 = float), number of dimensions (0), then the value.
    if before[at + 7] != 4 or before[at + 8] != 0:
        raise ValueError("the parameter section is not laid out as expected")
    struct.pack_into("<f", before, at + 9, step_mm)
    samples = np.zeros((missing.shape[0], missing.shape[1], 4), dtype="<i2")
    samples[..., :3] = np.round(points[:3].transpose(2, 1, 0) / step_mm)
    samples[..., 3] = np.where(missing, -1, 0)
    return bytes(before) + samples.tobytes()


#: Parent of every joint of a simulated skeleton; parents before children.
SKELETON = (
    ("pelvis", ""), ("lumbar", "pelvis"), ("neck", "lumbar"), ("head", "neck"),
    *(
        pair
        for x in SIDE_SUFFIXES
        for pair in (
            ("shoulder" + x, "lumbar"), ("elbow" + x, "shoulder" + x), ("wrist" + x, "elbow" + x), ("hand" + x, "wrist" + x),
            ("hip" + x, "pelvis"), ("knee" + x, "hip" + x), ("ankle" + x, "knee" + x), ("toe" + x, "ankle" + x),
        )
    ),
)  # fmt: skip
#: The segment whose rotation a joint carries.
_TURNS_WITH = {
    "pelvis": "pelvis", "lumbar": "thorax", "neck": "neck", "head": "head", "shoulder": "upper_arm", "elbow": "forearm",
    "wrist": "hand", "hand": "hand", "hip": "thigh", "knee": "shank", "ankle": "foot", "toe": "toes",
}  # fmt: skip
_BVH_NAMES = {
    "pelvis": "Hips", "lumbar": "Spine", "neck": "Neck", "head": "Head", "shoulder": "Arm", "elbow": "ForeArm", "wrist": "Hand",
    "hand": "HandEnd", "hip": "UpLeg", "knee": "Leg", "ankle": "Foot", "toe": "ToeEnd",
}  # fmt: skip


def _bvh_name(joint: str) -> str:
    name, _, suffix = joint.partition(".")
    return {"L": "Left", "R": "Right", "": ""}[suffix] + _BVH_NAMES[name]


def write_bvh(path: Path, movement: Movement, *, overwrite: bool = False) -> None:
    """Write the joints as BVH: centimetres, Y up, rotations Z-X-Y, every joint with rotations, positions at the root only.

    Bones keep the length of the first frame; where the body stretches (shoulder girdle, spine) joints differ by millimetres.
    """
    # The laboratory's x stays x, its up becomes y; the rest pose faces the file's +z.
    to_y_up = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
    rest_axes = np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]])
    turned: dict[str, Floats] = {}
    for joint, _ in SKELETON:
        name, _, suffix = joint.partition(".")
        segment = _TURNS_WITH[name] + (f".{suffix}" if suffix else "")
        turned[joint] = to_y_up @ movement.segment(segment) @ rest_axes.T
    children = {joint: [child for child, parent in SKELETON if parent == joint] for joint, _ in SKELETON}
    place = {joint: 100.0 * movement.joint(joint) @ to_y_up.T for joint, _ in SKELETON}
    lines: list[str] = ["HIERARCHY"]
    columns: list[Floats] = []

    def write(joint: str, parent: str, depth: int) -> None:
        pad = "  " * depth
        offset = np.zeros(3)
        if parent:
            apart = place[joint] - place[parent]
            offset = np.einsum("ij,i->j", turned[parent][0], apart[0])
        text = " ".join(f"{value:.6f}" for value in offset)
        if not children[joint]:
            lines.extend([f"{pad}End Site", f"{pad}{{", f"{pad}  OFFSET {text}", f"{pad}}}"])
            return
        lines.extend([f"{pad}{'JOINT' if parent else 'ROOT'} {_bvh_name(joint)}", f"{pad}{{", f"{pad}  OFFSET {text}"])
        positions = "" if parent else "Xposition Yposition Zposition "
        lines.append(f"{pad}  CHANNELS {3 if parent else 6} {positions}Zrotation Xrotation Yrotation")
        local = turned[joint] if not parent else np.swapaxes(turned[parent], -1, -2) @ turned[joint]
        if not parent:
            columns.extend(place[joint].T)
        columns.extend(np.degrees(Rotation.from_matrix(local).as_euler("ZXY")).T)
        for child in children[joint]:
            write(child, joint, depth + 1)
        lines.append(f"{pad}}}")

    write("pelvis", "", 0)
    lines += ["MOTION", f"Frames: {movement.frames}", f"Frame Time: {1.0 / movement.rate_hz:.8f}"]
    rows = "\n".join(" ".join(f"{value:.5f}" for value in row) for row in np.stack(columns, axis=1).tolist())
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_text("\n".join(lines) + "\n" + rows + "\n", encoding="utf-8")
