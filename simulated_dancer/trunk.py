"""Pelvis, spine, head and arms from their controls, relative to the middle of the hips."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .body import Body
from .rotations import Floats, about_x, about_y, about_z, apply, cross, heading, unit
from .timeline import minimum_jerk

#: Heights in statures over the mid-hip of the joints about which the spine bends (from memory: L5/S1, T12/L1).
LUMBAR, THORAX = 0.055, 0.150


@dataclass(frozen=True)
class ArmPose:
    """One arm relative to the mid-hip: joints (F, 3), rotations (F, 3, 3)."""

    shoulder: Floats
    elbow: Floats
    wrist: Floats
    hand: Floats
    clavicle: Floats
    upper_arm: Floats
    forearm: Floats
    hand_rotation: Floats


@dataclass(frozen=True)
class TrunkPose:
    """Everything above the legs, positions (F, 3) relative to the mid-hip, rotations (F, 3, 3) in the laboratory.

    pelvis: upright when the pelvis is; pelvis_anatomical: ISB frame through the iliac spines, tipped by the standing tilt.
    """

    pelvis: Floats
    pelvis_anatomical: Floats
    lumbar_rotation: Floats
    thorax: Floats
    neck_rotation: Floats
    head: Floats
    hips: tuple[Floats, Floats]
    lumbar: Floats
    thorax_origin: Floats
    seventh_cervical: Floats
    suprasternal: Floats
    neck: Floats
    skull_base: Floats
    head_centre: Floats
    vertex: Floats
    arms: tuple[ArmPose, ArmPose]


def _rotation(pitch: Floats, roll: Floats, yaw: Floats) -> Floats:
    return np.asarray(about_z(pitch) @ about_x(roll) @ about_y(yaw), dtype=np.float64)


def _arm(body: Body, side: float, thorax: Floats, origin: Floats, sternum: Floats, c: dict[str, Floats]) -> ArmPose:
    reach = body.upper_arm_m + body.forearm_m
    mirror = np.array([1.0, 1.0, side])
    rest = np.array([0.0, body.shoulder_height_m - THORAX * body.stature_m, side * body.shoulder_half_width_m])
    target = np.stack([c["hand_forward"], c["hand_up"], c["hand_out"]], axis=1) * reach * mirror
    # The girdle rises with the arm above shoulder height (scapulohumeral rhythm).
    rise = c["shoulder_lift"] + 0.03 * minimum_jerk((c["hand_up"] + 0.1) / 0.9)
    shoulder = np.zeros_like(target) + rest
    shoulder[:, 1] += rise
    line = rest + target - shoulder
    distance = np.linalg.norm(line, axis=1)
    along = line / distance[:, None]
    a, b = body.upper_arm_m, body.forearm_m
    distance = np.minimum(distance, reach * 0.9995)
    share = (a**2 - b**2 + distance**2) / (2.0 * distance)
    pole = np.stack([c["elbow_forward"], c["elbow_up"], c["elbow_out"]], axis=1) * mirror
    direction = unit(pole - np.sum(pole * along, axis=1)[:, None] * along)
    elbow = shoulder + share[:, None] * along + np.sqrt(np.maximum(a**2 - share**2, 0.0))[:, None] * direction
    wrist = shoulder + distance[:, None] * along
    rotations = []
    front = -direction
    for upper, lower in ((shoulder, elbow), (elbow, wrist)):
        up = unit(upper - lower)
        forward = unit(front - np.sum(front * up, axis=1)[:, None] * up)
        rotations.append(np.stack([forward, up, cross(forward, up)], axis=2))
    hand_rotation = rotations[1] @ about_z(np.full(distance.shape, 0.2))
    hand = wrist - hand_rotation[:, :, 1] * body.hand_m
    clavicle_local = unit(shoulder - (np.array([0.0, rest[1] + 0.02 * body.stature_m, side * 0.02])))
    outward = clavicle_local * side
    up = unit(np.array([0.0, 1.0, 0.0]) - outward[:, 1:2] * outward)
    clavicle = np.stack([cross(up, outward), up, outward], axis=2)
    place = [origin + apply(thorax, p) for p in (shoulder, elbow, wrist, hand)]
    return ArmPose(*place, *(thorax @ r for r in (clavicle, rotations[0], rotations[1], hand_rotation)))


def solve_trunk(body: Body, c: dict[str, Floats]) -> TrunkPose:
    """Trunk, head and arms of all frames from the controls (F,) of the names used below, radians and arm lengths."""
    stature = body.stature_m
    k = stature / 1.68
    pelvis = heading(c["yaw"]) @ about_x(-c["obliquity"]) @ about_z(-c["tilt"])
    anatomical = pelvis @ about_z(-body.pelvis_tilt_rad)
    half = _rotation(0.5 * c["thorax_extension"], 0.5 * c["thorax_side"], 0.5 * c["thorax_twist"])
    thorax = pelvis @ _rotation(c["thorax_extension"], c["thorax_side"], c["thorax_twist"])
    lumbar_rotation = pelvis @ half
    head = thorax @ _rotation(c["head_pitch"], c["head_roll"], c["head_yaw"])
    neck_rotation = thorax @ _rotation(0.5 * c["head_pitch"], 0.5 * c["head_roll"], 0.5 * c["head_yaw"])
    hips = tuple(apply(pelvis, np.array([0.0, 0.0, s * body.hip_half_width_m])) for s in (-1.0, 1.0))
    lumbar = apply(pelvis, np.array([0.0, LUMBAR * stature, 0.0]))
    origin = lumbar + apply(lumbar_rotation, np.array([0.0, (THORAX - LUMBAR) * stature, 0.0]))
    top = body.neck_m - THORAX * stature
    seventh = origin + apply(thorax, np.array([-0.052 * k, top, 0.0]))
    sternum = origin + apply(thorax, np.array([0.062 * k, top - 0.040 * k, 0.0]))
    neck = 0.5 * (seventh + sternum)
    length = body.head_m
    base = neck + apply(neck_rotation, np.array([0.0, 0.36 * length + 0.02 * k, 0.0]))
    vertex = base + apply(head, np.array([0.0, 0.64 * length, 0.0]))
    centre = base + apply(head, np.array([0.012 * k, 0.16 * length, 0.0]))
    arms = tuple(
        _arm(body, s, thorax, origin, sternum, {name.removesuffix(x): v for name, v in c.items() if name.endswith(x)})
        for s, x in ((-1.0, ".L"), (1.0, ".R"))
    )
    return TrunkPose(
        pelvis,
        anatomical,
        lumbar_rotation,
        thorax,
        neck_rotation,
        head,
        (hips[0], hips[1]),
        lumbar,
        origin,
        seventh,
        sternum,
        neck,
        base,
        centre,
        vertex,
        (arms[0], arms[1]),
    )
