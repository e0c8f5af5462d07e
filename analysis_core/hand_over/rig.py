"""What every writer takes: bones with their rest and their motion, with the dancer's travel where it is wanted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..body.movement import SEGMENTS
from ..body.rotations import turned_by
from ..smoothed import bell
from ..take import Floats
from .limits import limits
from .skeleton import PARENT_OF, Skeleton
from .wishes import RestPose, Root

#: The bone on the floor.
ROOT = "root"
#: Columns of this matrix turn Z up, facing −Y into Y up, facing +Z: (x, y, z) becomes (x, z, −y).
Y_UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])


@dataclass(frozen=True)
class Rig:
    """Bones in motion, every parent before its children; metres, Z up, facing −Y at rest.

    names, parents (B,), -1 for the first. heads (B, 3), axes (B, 3, 3) and lengths_m (B,) at rest: columns of axes are the bone's
    own, Y along it, X the hinge of knee and elbow. turned (F, B, 3, 3): world rotation away from rest; origins_m (F, B, 3): where
    each bone begins. moved: bones that change their place against their parent; all others only turn. pose: which rest this is.
    """

    names: tuple[str, ...]
    parents: NDArray[np.int64]
    heads: Floats
    axes: Floats
    lengths_m: Floats
    turned: Floats
    origins_m: Floats
    moved: tuple[int, ...]
    rate_hz: float
    pose: RestPose

    @property
    def frames(self) -> int:
        """Number of samples."""
        return len(self.turned)

    @property
    def tails(self) -> Floats:
        """Where every bone ends at rest (B, 3)."""
        ends: Floats = self.heads + self.axes[:, :, 1] * self.lengths_m[:, None]
        return ends

    @property
    def offsets(self) -> Floats:
        """From each parent's head to the bone's own at rest (B, 3); the first bone's from the origin."""
        before = np.where(self.parents[:, None] < 0, 0.0, self.heads[self.parents])
        offsets: Floats = self.heads - before
        return offsets

    def children(self, index: int) -> list[int]:
        """Bones that hang on a bone."""
        found: list[int] = np.flatnonzero(self.parents == index).tolist()
        return found

    def local(self) -> Floats:
        """Rotations (F, B, 3, 3) of every bone against its parent, away from rest, in the world's axes at rest."""
        above = np.swapaxes(self.turned[:, self.parents], -1, -2)
        above[:, self.parents < 0] = np.eye(3)
        local: Floats = above @ self.turned
        return local

    def local_in_bones(self) -> Floats:
        """The same in each bone's own axes (F, B, 3, 3)."""
        local: Floats = np.swapaxes(self.axes, -1, -2) @ self.local() @ self.axes
        return local

    def places(self, index: int) -> Floats:
        """Where a bone begins (F, 3), from its parent's head in the parent's axes at rest, or in the world."""
        parent = int(self.parents[index])
        if parent < 0:
            return self.origins_m[:, index]
        away = self.origins_m[:, index] - self.origins_m[:, parent]
        places: Floats = np.einsum("fji,fj->fi", self.turned[:, parent], away)
        return places

    def rows(self, frames: slice) -> Rig:
        """A stretch of the motion."""
        return replace(self, turned=self.turned[frames], origins_m=self.origins_m[frames])


def travel_of(skeleton: Skeleton) -> tuple[Floats, Floats]:
    """The dancer's way: place on the floor (F, 3) below the pelvis, and heading (F,) away from rest, radians, both without what
    is quicker than travel (a sway, the shake of a turn)."""
    width = limits()["root"]["travel_s"] * skeleton.rate_hz
    way = bell(skeleton.pelvis_m, width) * [1.0, 1.0, 0.0]
    forward = skeleton.turned[:, 0] @ np.array([0.0, -1.0, 0.0])
    # A pelvis that tips over has no heading for a moment: its forward axis counts by how level it lies.
    heading = np.unwrap(np.arctan2(forward[:, 0], -forward[:, 1]))
    return way, bell(heading, width)


def _with_root(skeleton: Skeleton, origins: Floats) -> Rig:
    rest = skeleton.rest
    way, heading = travel_of(skeleton)
    turn = turned_by(heading[:, None] * [0.0, 0.0, 1.0])
    return Rig(
        (ROOT, *SEGMENTS),
        np.concatenate([[-1], PARENT_OF + 1]),
        np.concatenate([np.zeros((1, 3)), rest.heads]),
        np.concatenate([np.eye(3)[None], rest.bones]),
        np.concatenate([[limits()["root"]["length_m"]], rest.lengths_m]),
        np.concatenate([turn[:, None], skeleton.turned], axis=1),
        np.concatenate([way[:, None], origins], axis=1),
        (0, 1),
        skeleton.rate_hz,
        rest.pose,
    )


def rig_of(skeleton: Skeleton, root: Root) -> Rig:
    """The bones of a skeleton in motion: its travel on the pelvis, on a bone ``root`` of its own, or left away."""
    origins = skeleton.heads_m
    if root == "bone":
        return _with_root(skeleton, origins)
    if root == "in-place":
        origins = origins - travel_of(skeleton)[0][:, None]
    rest = skeleton.rest
    return Rig(
        SEGMENTS, PARENT_OF, rest.heads, rest.bones, rest.lengths_m, skeleton.turned, origins, (0,), skeleton.rate_hz, rest.pose
    )
