"""BVH: bones of constant length with their motion; centimetres, Y up, facing +Z, rest rotations of identity."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..hand_over.rig import Y_UP, Rig
from .euler import euler_zxy
from .files import whole_file

#: Rigs that read BVH expect centimetres (common practice; the format names no unit).
_PER_METRE = 100.0


def _hierarchy(rig: Rig) -> tuple[list[str], list[int]]:
    """Lines of the hierarchy, and the bones in the order of the channels."""
    offsets, tips = _PER_METRE * rig.offsets @ Y_UP.T, _PER_METRE * (rig.tails - rig.heads) @ Y_UP.T
    lines, order = ["HIERARCHY"], []

    def write(index: int, depth: int) -> None:
        tab = "\t" * depth
        order.append(index)
        moved = index in rig.moved
        # A joint with channels of place is moved by them alone: its OFFSET is zero, since some readers add and others replace it.
        offset = np.zeros(3) if moved else offsets[index]
        lines.extend([f"{tab}{'JOINT' if depth else 'ROOT'} {rig.names[index]}", f"{tab}{{"])
        lines.append(f"{tab}\tOFFSET " + " ".join(f"{value:.9f}" for value in offset))
        lines.append(f"{tab}\tCHANNELS {'6 Xposition Yposition Zposition' if moved else '3'} Zrotation Xrotation Yrotation")
        children = rig.children(index)
        for child in children:
            write(child, depth + 1)
        if not children:
            end = " ".join(f"{value:.9f}" for value in tips[index])
            lines.extend([f"{tab}\tEnd Site", f"{tab}\t{{", f"{tab}\t\tOFFSET {end}", f"{tab}\t}}"])
        lines.append(f"{tab}}}")

    write(0, 0)
    return lines, order


def write_bvh(rig: Rig, path: Path, *, overwrite: bool = False) -> None:
    """Write bones and their motion as BVH.

    Zrotation Xrotation Yrotation, degrees without jumps; rest is the rig's T- or A-pose with all rotations zero. Raises
    OutputError when the file is there or cannot be written.
    """
    lines, order = _hierarchy(rig)
    angles = np.degrees(euler_zxy(Y_UP @ rig.local() @ Y_UP.T))
    columns = []
    for index in order:
        if index in rig.moved:
            columns.append(_PER_METRE * rig.places(index) @ Y_UP.T)
        columns.append(angles[:, index])
    numbers = np.concatenate(columns, axis=1)
    row = " ".join(["%.6f"] * numbers.shape[1])
    lines += ["MOTION", f"Frames: {rig.frames}", f"Frame Time: {1.0 / rig.rate_hz:.12f}"]
    lines += [row % tuple(values) for values in numbers.tolist()]
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_text("\n".join(lines) + "\n", encoding="utf-8")
