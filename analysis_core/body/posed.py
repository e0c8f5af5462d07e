"""Where every joint and segment is in every frame: what markers and skeletons have in common."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..paths import side_by_side
from ..take import Floats
from .anatomy import SIDE_SUFFIXES
from .movement import JOINTS, SEGMENTS


@dataclass(frozen=True)
class Posed:
    """Joints and segments of F frames in the recording's own laboratory (floor not yet at 0).

    joints: positions (F, 3) by name of JOINTS. rotations: (F, 3, 3) by name of SEGMENTS. foot_points (F, 2, 4, 3). arches
    (F, 2, 3): markers at the inner arches, NaN where there is none.
    joint_error: expected 1-SD error (F,) by joint. joint_source: least direct Source (F,) uint8 by joint.
    segment_residual: root mean square distance (F,) of its markers from the rigid segment, by name of those that have markers.
    stature_m: from the standing body; NaN when unknown.
    """

    joints: dict[str, Floats]
    rotations: dict[str, Floats]
    foot_points: Floats
    arches: Floats
    joint_error: dict[str, Floats]
    joint_source: dict[str, NDArray[np.uint8]]
    stature_m: float
    segment_residual: dict[str, Floats] = field(default_factory=dict)

    @property
    def frames(self) -> int:
        """Number of samples."""
        return int(self.foot_points.shape[0])

    def centres(self) -> Floats:
        """Joint centres (F, J, 3) in the order of JOINTS."""
        return side_by_side(self.joints[name] for name in JOINTS)

    def frames_of_segments(self) -> Floats:
        """Segment rotations (F, S, 3, 3) in the order of SEGMENTS."""
        return side_by_side(self.rotations[name] for name in SEGMENTS)

    def residuals(self) -> Floats:
        """Residuals (F, S) in the order of SEGMENTS, NaN where no markers hold a segment."""
        nothing = np.full(self.frames, np.nan)
        return side_by_side(self.segment_residual.get(name, nothing) for name in SEGMENTS)

    def origins(self) -> Floats:
        """Proximal ends of the segments (F, S, 3) in the order of SEGMENTS."""
        ends = {"pelvis": "pelvis", "lumbar": "lumbar", "neck": "neck", "head": "head"}
        joints = self.joints
        middle = 0.5 * (joints["lumbar"] + joints["neck"])
        origins: dict[str, Floats] = {name: joints[joint] for name, joint in ends.items()}
        # The ribcage begins half-way between the lumbosacral joint and the base of the neck; the head at the skull's base.
        origins["thorax"] = middle
        origins["head"] = 0.5 * (joints["neck"] + joints["head"])
        for index, suffix in enumerate(SIDE_SUFFIXES):
            origins |= {
                "clavicle" + suffix: 0.7 * joints["neck"] + 0.3 * joints["shoulder" + suffix],
                "upper_arm" + suffix: joints["shoulder" + suffix],
                "forearm" + suffix: joints["elbow" + suffix],
                "hand" + suffix: joints["wrist" + suffix],
                "thigh" + suffix: joints["hip" + suffix],
                "shank" + suffix: joints["knee" + suffix],
                "foot" + suffix: joints["ankle" + suffix],
                "toes" + suffix: 0.5 * (self.foot_points[:, index, 1] + self.foot_points[:, index, 2]),
            }
        return side_by_side(origins[name] for name in SEGMENTS)
