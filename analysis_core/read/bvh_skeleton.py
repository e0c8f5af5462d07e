"""The hierarchy of a BVH file, and joint positions from it by forward kinematics."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..errors import TakeError
from ..take import Floats

_CHANNEL = re.compile(r"^([xyz])(position|rotation|scale)$", re.IGNORECASE)

#: Deepest chain and largest skeleton that are read; real ones stay far below. Proposed default, no published norm.
MOST_JOINTS = 2000


#: No length or angle of a body is a larger number, whatever its unit. Proposed default.
LARGEST_NUMBER = 1e7


@dataclass
class Joint:
    """One joint while the hierarchy is read. channels: (column, axis, kind) in the order of the file."""

    name: str
    parent: int
    end_site: bool
    offset: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    channels: list[tuple[int, int, str]] = field(default_factory=list)


@dataclass(frozen=True)
class Hierarchy:
    """All joints, parents before children, and the number of columns that a row of motion has."""

    joints: tuple[Joint, ...]
    columns: int

    @property
    def parents(self) -> NDArray[np.int64]:
        """Index of each joint's parent (N,), -1 for a root."""
        return np.array([joint.parent for joint in self.joints], dtype=np.int64)

    @property
    def roots(self) -> NDArray[np.int64]:
        """Index of each joint's root (N,)."""
        result = np.arange(len(self.joints))
        for index, joint in enumerate(self.joints):
            if joint.parent >= 0:
                result[index] = result[joint.parent]
        return result

    @property
    def offsets(self) -> Floats:
        """Offsets from the parent (N, 3) in the file's units and axes."""
        return np.array([joint.offset for joint in self.joints], dtype=np.float64).reshape(-1, 3)


class _Words:
    """The words of the hierarchy, read one after the other."""

    def __init__(self, text: str, name: str) -> None:
        self.words = text.replace("{", " { ").replace("}", " } ").split()
        self.at = 0
        self.name = name

    def fail(self, what: str) -> TakeError:
        return TakeError(f"{self.name}: its skeleton cannot be read ({what}). Export the take again as BVH.")

    def next(self) -> str:
        if self.at >= len(self.words):
            raise self.fail("it breaks off")
        self.at += 1
        return self.words[self.at - 1]

    def until_brace(self) -> str:
        start = self.at
        while self.next() != "{":
            if self.words[self.at - 1] == "}":
                raise self.fail("a joint has no opening brace")
        return " ".join(self.words[start : self.at - 1])

    def number(self) -> float:
        word = self.next()
        try:
            value = float(word)
        except ValueError:
            raise self.fail(f"“{word[:40]}” stands where a number should") from None
        if not abs(value) <= LARGEST_NUMBER:
            raise self.fail("an offset makes no sense")
        return value


def _read_channels(words: _Words, joint: Joint, columns: int) -> int:
    count = words.next()
    if not count.isdigit() or int(count) > 9:
        raise words.fail(f"“{count[:40]}” is no number of channels")
    for _ in range(int(count)):
        found = _CHANNEL.match(words.next())
        if not found:
            raise words.fail(f"“{words.words[words.at - 1][:40]}” is no channel")
        joint.channels.append((columns, "xyz".index(found[1].lower()), found[2].lower()))
        columns += 1
    return columns


def read_hierarchy(text: str, name: str) -> Hierarchy:
    """Read what stands between HIERARCHY and MOTION; ``name`` of the file is for messages.

    Raises TakeError when it breaks off or makes no sense.
    """
    words = _Words(text, name)
    joints: list[Joint] = []
    open_joints: list[int] = []
    columns = 0
    while words.at < len(words.words):
        word = words.next()
        kind = word.lower()
        if kind in ("root", "joint") or (kind in ("end", "endsite") and open_joints):
            label = words.until_brace()
            parent = open_joints[-1] if open_joints else -1
            end_site = kind.startswith("end")
            if end_site:
                label = f"{joints[parent].name}_End"
            joints.append(Joint(label, parent, end_site))
            open_joints.append(len(joints) - 1)
            if len(joints) > MOST_JOINTS:
                raise words.fail(f"more than {MOST_JOINTS} joints")
        elif not open_joints:
            raise words.fail(f"“{word[:40]}” stands outside the skeleton")
        elif kind == "offset":
            joints[open_joints[-1]].offset = [words.number() for _ in range(3)]
        elif kind == "channels":
            columns = _read_channels(words, joints[open_joints[-1]], columns)
        elif word == "}":
            open_joints.pop()
        else:
            raise words.fail(f"“{word[:40]}” is not understood")
    if not joints:
        raise words.fail("it has no joint")
    if open_joints:
        raise words.fail("it breaks off")
    return Hierarchy(tuple(joints), columns)


def _axis_rotations(angles_rad: Floats, axis: int) -> Floats:
    """Rotations (F, M, 3, 3) about one axis by angles (F, M)."""
    result = np.zeros((*angles_rad.shape, 3, 3))
    sine, cosine = np.sin(angles_rad), np.cos(angles_rad)
    first, second = (axis + 1) % 3, (axis + 2) % 3
    result[..., axis, axis] = 1.0
    result[..., first, first] = result[..., second, second] = cosine
    result[..., second, first] = sine
    result[..., first, second] = -sine
    return result


def local_rotations(hierarchy: Hierarchy, rows: Floats) -> Floats:
    """Rotation of every joint against its parent (F, N, 3, 3); channels apply in the order in which they are listed."""
    frames = len(rows)
    result = np.broadcast_to(np.eye(3), (frames, len(hierarchy.joints), 3, 3)).copy()
    by_order: dict[tuple[int, ...], list[int]] = {}
    for index, joint in enumerate(hierarchy.joints):
        order = tuple(axis for _, axis, kind in joint.channels if kind == "rotation")
        if order:
            by_order.setdefault(order, []).append(index)
    for order, members in by_order.items():
        columns = np.array(
            [[column for column, _, kind in hierarchy.joints[index].channels if kind == "rotation"] for index in members]
        )
        total = None
        for place, axis in enumerate(order):
            turn = _axis_rotations(np.radians(rows[:, columns[:, place]]), axis)
            total = turn if total is None else total @ turn
        result[:, members] = total
    return result


def position_channels(hierarchy: Hierarchy, rows: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Values of the position channels (F, N, 3), 0 where a joint has none, and which there are (N, 3)."""
    values = np.zeros((len(rows), len(hierarchy.joints), 3))
    present = np.zeros((len(hierarchy.joints), 3), dtype=bool)
    for index, joint in enumerate(hierarchy.joints):
        for column, axis, kind in joint.channels:
            if kind == "position":
                values[:, index, axis] = rows[:, column]
                present[index, axis] = True
    return values, present


def forward_kinematics(parents: NDArray[np.int64], translations: Floats, local: Floats) -> tuple[Floats, Floats]:
    """Positions (F, N, 3) and orientations (F, N, 3, 3) of all joints in the file's axes.

    translations (F, N, 3) of each joint in its parent's frame; local (F, N, 3, 3) rotations. NaN spreads to the children.
    """
    positions = np.empty_like(translations)
    orientations = np.empty_like(local)
    for index, parent in enumerate(parents):
        if parent < 0:
            positions[:, index] = translations[:, index]
            orientations[:, index] = local[:, index]
        else:
            turned = orientations[:, parent] @ translations[:, index, :, None]
            positions[:, index] = positions[:, parent] + turned[..., 0]
            orientations[:, index] = orientations[:, parent] @ local[:, index]
    return positions, orientations
