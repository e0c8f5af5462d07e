"""The pose as named joints and segments in the laboratory, in the order of the movement type; placed, turned or mirrored."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..analysis_core.body.anatomy import SIDE_SUFFIXES
from ..analysis_core.body.movement import JOINTS, SEGMENTS
from .body import Body
from .rotations import Floats, about_z, apply
from .solver import Pose


@dataclass(frozen=True)
class Figure:
    """Exact motion: joints (F, J, 3), rotations (F, S, 3, 3), origins (F, S, 3), foot points (F, 2, 4, 3) left and right,
    arch_sink_m (F, 2): how far the inner arches sink, centre of mass (F, 3), and named points (F, 3): seventh_cervical,
    suprasternal, mid_iliac, vertex, ball.L, ball.R."""

    time_s: Floats
    joints: Floats
    rotations: Floats
    origins: Floats
    foot_points: Floats
    arch_sink_m: Floats
    centre_of_mass: Floats
    points: dict[str, Floats]

    def joint(self, name: str) -> Floats:
        """One joint (F, 3)."""
        return self.joints[:, JOINTS.index(name)]

    def rotation(self, name: str) -> Floats:
        """One segment's axes (F, 3, 3)."""
        return self.rotations[:, SEGMENTS.index(name)]


def figure_of(body: Body, pose: Pose) -> Figure:
    """Name the joints and segments of a pose."""
    trunk, base = pose.trunk, pose.mid_hip
    in_pelvis = body.hip_in_pelvis_m * np.array([1.0, 1.0, 0.0])
    joints = {
        "pelvis": base,
        "lumbar": base + trunk.lumbar,
        "neck": base + trunk.neck,
        "head": base + trunk.head_centre,
    }
    sternum = base + trunk.suprasternal
    segments = {
        "pelvis": (trunk.pelvis_anatomical, base),
        "lumbar": (trunk.lumbar_rotation, base + trunk.lumbar),
        "thorax": (trunk.thorax, base + trunk.thorax_origin),
        "neck": (trunk.neck_rotation, base + trunk.neck),
        "head": (trunk.head, base + trunk.skull_base),
    }
    points = {
        "seventh_cervical": base + trunk.seventh_cervical,
        "suprasternal": sternum,
        "mid_iliac": base - apply(trunk.pelvis_anatomical, in_pelvis),
        "vertex": base + trunk.vertex,
    }
    for x, leg, arm in zip(SIDE_SUFFIXES, pose.legs, trunk.arms, strict=True):
        shoulder, elbow, wrist, hand = (base + p for p in (arm.shoulder, arm.elbow, arm.wrist, arm.hand))
        joints |= {
            "hip" + x: leg.hip, "knee" + x: leg.knee, "ankle" + x: leg.ankle, "heel" + x: leg.points[:, 0],
            "toe" + x: leg.points[:, 3], "shoulder" + x: shoulder, "elbow" + x: elbow, "wrist" + x: wrist, "hand" + x: hand,
        }  # fmt: skip
        segments |= {
            "clavicle" + x: (arm.clavicle, sternum), "upper_arm" + x: (arm.upper_arm, shoulder),
            "forearm" + x: (arm.forearm, elbow), "hand" + x: (arm.hand_rotation, wrist), "thigh" + x: (leg.thigh, leg.hip),
            "shank" + x: (leg.shank, leg.knee), "foot" + x: (leg.foot, leg.ankle), "toes" + x: (leg.toes, leg.ball),
        }  # fmt: skip
        points["ball" + x] = leg.ball
    return Figure(
        pose.time_s,
        np.stack([joints[name] for name in JOINTS], axis=1),
        np.stack([segments[name][0] for name in SEGMENTS], axis=1),
        np.stack([segments[name][1] for name in SEGMENTS], axis=1),
        np.stack([leg.points for leg in pose.legs], axis=1),
        np.stack([pose.controls["arch_sink" + x] for x in SIDE_SUFFIXES], axis=1),
        pose.centre_of_mass,
        points,
    )


def placed(figure: Figure, facing_rad: float, place_m: tuple[float, float]) -> Figure:
    """The same motion facing another way (positive to the left) and somewhere else on the floor."""
    turn = about_z(facing_rad)[0]
    move = np.array([*place_m, 0.0])

    def at(points: Floats) -> Floats:
        return np.asarray(points @ turn.T + move, dtype=np.float64)

    return Figure(
        figure.time_s, at(figure.joints), turn @ figure.rotations, at(figure.origins), at(figure.foot_points),
        figure.arch_sink_m, at(figure.centre_of_mass), {name: at(points) for name, points in figure.points.items()},
    )  # fmt: skip


def _other_side(name: str) -> str:
    return {"L": name[:-1] + "R", "R": name[:-1] + "L"}[name[-1]] if name.endswith(SIDE_SUFFIXES) else name


def mirrored(figure: Figure) -> Figure:
    """The mirror twin: what was done with the right is done with the left; the mirror stands along the laboratory's x."""
    flip = np.array([1.0, -1.0, 1.0])
    joint_order = [JOINTS.index(_other_side(name)) for name in JOINTS]
    segment_order = [SEGMENTS.index(_other_side(name)) for name in SEGMENTS]
    # A mirrored frame is left-handed; turning its Z round again keeps "Z to the dancer's right".
    rotations = figure.rotations[:, segment_order] * flip[:, None] * np.array([1.0, 1.0, -1.0])
    return replace(
        figure,
        joints=figure.joints[:, joint_order] * flip,
        rotations=rotations,
        origins=figure.origins[:, segment_order] * flip,
        foot_points=figure.foot_points[:, ::-1] * flip,
        arch_sink_m=figure.arch_sink_m[:, ::-1],
        centre_of_mass=figure.centre_of_mass * flip,
        points={_other_side(name): points * flip for name, points in figure.points.items()},
    )
