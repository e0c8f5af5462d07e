"""What Blender's file of a hand-over is made of, in plain arrays: whoever has Blender only puts it together.

Made in one process (for_blender.py) and sent to another that has Blender and loads nothing else of the core: little is imported
here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]


@dataclass(frozen=True)
class Bone:
    """A bone at rest: parent: its number, -1 for none; head (3,), metres; axes (3, 3), rows of the matrix whose columns are the
    bone's own axes; length, metres."""

    name: str
    parent: int
    head: list[float]
    axes: list[list[float]]
    length_m: float


@dataclass(frozen=True)
class BoneKeys:
    """Keys of a bone's turns (quaternions w, x, y, z) or places, in its own axes at rest.

    values (C, K): on every frame from 0 on, joined by straight lines; or on frames (K,), rising, of a cubic with slopes (C, K) a
    frame.
    """

    bone: str
    path: Literal["rotation_quaternion", "location"]
    values: Singles
    frames: NDArray[np.int64] | None = None
    slopes: Singles | None = None


@dataclass(frozen=True)
class Action:
    """A stretch of the take over frames 0 ≤ t < frames. about: what it is, in words. catalogue: identifier of the place where it
    is filed. start: the frame of the take on which it is danced as a strip; None for what is no strip."""

    name: str
    frames: int
    keys: tuple[BoneKeys, ...]
    about: str
    catalogue: str
    loops: bool
    start: int | None


@dataclass(frozen=True)
class SkinnedMesh:
    """vertices_m (V, 3), quads (Q, 4). whole: for every bone the vertices that hang on it alone; shared: those that it moves with
    others, each with its weight."""

    vertices_m: Singles
    quads: NDArray[np.int32]
    whole: tuple[list[int], ...]
    shared: tuple[list[tuple[int, float]], ...]


@dataclass(frozen=True)
class BlenderFile:
    """The file: the first of the actions is the whole take and plays, every other one is a step or a loop. markers: words and
    frame; properties: what the armature carries in words."""

    rate_hz: float
    frames: int
    bones: tuple[Bone, ...]
    body: SkinnedMesh
    properties: dict[str, str]
    markers: tuple[tuple[str, int], ...]
    actions: tuple[Action, ...]


#: Previews (P, P, 4) of the actions, in their order, lowest row first.
Pictures = list[NDArray[np.float32]]
