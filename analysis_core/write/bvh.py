"""BVH: a skeleton of constant lengths with its motion; centimetres, Y up, facing +Z, rest rotations of identity."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..body.movement import SEGMENTS
from ..hand_over.skeleton import PARENT_OF, Skeleton
from ..take import Floats
from .files import whole_file

#: Columns of this matrix turn Z up, facing −Y into Y up, facing +Z: (x, y, z) becomes (x, z, −y).
Y_UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
#: Rigs that read BVH expect centimetres (common practice; the format names no unit).
_PER_METRE = 100.0


def local_rotations(skeleton: Skeleton) -> Floats:
    """Rotation (F, S, 3, 3) of every segment against the one that moves it, away from rest, in Y-up axes."""
    turned = skeleton.turned
    local = np.empty_like(turned)
    for index, parent in enumerate(PARENT_OF):
        above = np.eye(3) if parent < 0 else np.swapaxes(turned[:, parent], -1, -2)
        local[:, index] = Y_UP @ (above @ turned[:, index]) @ Y_UP.T
    return local


def euler_zxy(rotations: Floats) -> Floats:
    """Intrinsic Z-X-Y angles (F, …, 3), radians, of rotations (F, …, 3, 3), without jumps from frame to frame.

    A rotation has two triples, (z, x, y) and (z + π, π − x, y + π): of the two the one nearer to the frame before is taken.
    """
    x = np.arcsin(np.clip(rotations[..., 2, 1], -1.0, 1.0))
    z = np.arctan2(-rotations[..., 0, 1], rotations[..., 1, 1])
    y = np.arctan2(-rotations[..., 2, 0], rotations[..., 2, 2])
    first = np.stack([z, x, y], axis=-1)
    second = np.stack([z + np.pi, np.pi - x, y + np.pi], axis=-1)

    def apart(one: Floats, other: Floats) -> Floats:
        step: Floats = np.abs(np.angle(np.exp(1j * (one - other)))).sum(axis=-1)
        return step

    # Whether "the other triple" is nearer is the same question from either one, so the choice is a running exclusive-or.
    changes = apart(second[1:], first[:-1]) < apart(first[1:], first[:-1])
    other = np.concatenate([np.zeros_like(changes[:1]), np.cumsum(changes, axis=0) % 2 == 1])
    chosen = np.where(other[..., None], second, first)
    unwrapped: Floats = np.unwrap(chosen, axis=0)
    return unwrapped


def _hierarchy(skeleton: Skeleton) -> tuple[list[str], list[int]]:
    """Lines of the hierarchy, and the segments in the order of the channels."""
    rest = skeleton.rest
    heads, tails = _PER_METRE * rest.heads @ Y_UP.T, _PER_METRE * rest.tails @ Y_UP.T
    lines, order = ["HIERARCHY"], []

    def write(index: int, depth: int) -> None:
        parent = int(PARENT_OF[index])
        tab = "\t" * depth
        order.append(index)
        # A joint with channels of place is moved by them alone: its OFFSET is zero, since some readers add and others replace it.
        offset = np.zeros(3) if parent < 0 else heads[index] - heads[parent]
        lines.extend([f"{tab}{'ROOT' if parent < 0 else 'JOINT'} {SEGMENTS[index]}", f"{tab}{{"])
        lines.append(f"{tab}\tOFFSET " + " ".join(f"{value:.9f}" for value in offset))
        places = "6 Xposition Yposition Zposition" if parent < 0 else "3"
        lines.append(f"{tab}\tCHANNELS {places} Zrotation Xrotation Yrotation")
        children = [child for child, above in enumerate(PARENT_OF) if above == index]
        for child in children:
            write(child, depth + 1)
        if not children:
            end = " ".join(f"{value:.9f}" for value in tails[index] - heads[index])
            lines.extend([f"{tab}\tEnd Site", f"{tab}\t{{", f"{tab}\t\tOFFSET {end}", f"{tab}\t}}"])
        lines.append(f"{tab}}}")

    write(0, 0)
    return lines, order


def write_bvh(skeleton: Skeleton, path: Path, *, overwrite: bool = False) -> None:
    """Write a skeleton and its motion as BVH.

    ROOT is the pelvis; Zrotation Xrotation Yrotation, degrees without jumps; rest is the skeleton's T- or A-pose with all
    rotations zero. Raises OutputError when the file is there or cannot be written.
    """
    lines, order = _hierarchy(skeleton)
    angles = np.degrees(euler_zxy(local_rotations(skeleton)))[:, order].reshape(skeleton.frames, -1)
    places = _PER_METRE * skeleton.pelvis_m @ Y_UP.T
    numbers = np.concatenate([places, angles], axis=1)
    row = " ".join(["%.6f"] * numbers.shape[1])
    lines += ["MOTION", f"Frames: {skeleton.frames}", f"Frame Time: {1.0 / skeleton.rate_hz:.12f}"]
    lines += [row % tuple(values) for values in numbers.tolist()]
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_text("\n".join(lines) + "\n", encoding="utf-8")
