"""The truth as the product's own types: an exact movement and phrase, computed here by formulas of our own.

Angles follow the docstring of Movement and the catalogue's formulas, but share no code with the body model under test.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..analysis_core.body.anatomy import LEG_JOINTS, SIDE_SIGNS, SIDE_SUFFIXES, SIDES
from ..analysis_core.body.movement import ANGLES, JOINTS, SEGMENTS, Movement, Standing
from ..analysis_core.phrase.phase import Contact, Phase, Phrase
from ..analysis_core.phrase.properties import phase_from
from ..analysis_core.take import Source
from .body import Body
from .figure import Figure
from .markers import arch_places, exact_markers
from .rotations import Floats, unit
from .score import Score, Sided, Step

#: Height above its own flat height up to which a part of the foot counts as on the floor.
TOUCHING_M = {"toe": 0.001, "heel": 0.002}
_SIDES: tuple[tuple[Sided, str, float], ...] = tuple(zip(SIDES, SIDE_SUFFIXES, SIDE_SIGNS, strict=True))


def _azimuth_outward(vectors: Floats, forward: Floats, sign: float) -> Floats:
    """Azimuth (F,) of vectors (F, 3) on the floor from the pelvis' forward, positive outward for the side."""
    x, y, level = forward[:, 0], forward[:, 1], vectors[:, :2]
    right = np.stack([y, -x], axis=1)
    outward, ahead = np.sum(level * right, axis=1), np.sum(level * forward, axis=1)
    return np.asarray(np.arctan2(sign * outward, ahead))


def _flexion_abduction_rotation(proximal: Floats, distal: Floats, sign: float) -> tuple[Floats, Floats, Floats]:
    """Intrinsic Z-X-Y of distal in proximal (F, 3, 3), the left side mirrored: about Z, about the floating axis, about Y."""
    r = np.swapaxes(proximal, -1, -2) @ distal
    mirror = np.array([1.0, 1.0, sign])
    r = r * mirror[:, None] * mirror
    return np.arctan2(-r[:, 0, 1], r[:, 1, 1]), np.arcsin(np.clip(r[:, 2, 1], -1, 1)), np.arctan2(-r[:, 2, 0], r[:, 2, 2])


def _angle_between(first: Floats, second: Floats) -> Floats:
    # The half-angle form keeps its accuracy near 0 and 180 degrees.
    a, b = unit(first), unit(second)
    return np.asarray(2.0 * np.arctan2(np.linalg.norm(a - b, axis=1), np.linalg.norm(a + b, axis=1)), dtype=np.float64)


def _leg_angles(figure: Figure, x: str, sign: float, forward: Floats) -> dict[str, Floats]:
    hip, knee, ankle = (figure.joint(name + x) for name in LEG_JOINTS)
    foot, shank, pelvis = figure.rotation("foot" + x), figure.rotation("shank" + x), figure.rotation("pelvis")
    side = 0 if sign < 0 else 1
    flexion, adduction, _ = _flexion_abduction_rotation(pelvis, figure.rotation("thigh" + x), sign)
    dorsiflexion, _, _ = _flexion_abduction_rotation(shank, foot, sign)
    bend = np.pi - _angle_between(hip - knee, ankle - knee)
    along = unit(ankle - hip)
    away = (knee - hip) - np.sum((knee - hip) * along, axis=1)[:, None] * along
    bend = bend * np.where(np.sum(away * shank[:, :, 0], axis=1) < 0.0, -1.0, 1.0)
    knee_turnout = np.where(bend >= np.radians(25.0), _azimuth_outward(away, forward, sign), np.nan)
    ahead = foot[:, :, 0].copy()
    steep = ahead[:, 2] < -np.sin(np.radians(60.0))
    across = foot[:, :, 2]
    ahead[steep] = np.stack([-across[steep, 1], across[steep, 0], np.zeros(int(steep.sum()))], axis=1)
    line = ankle - hip
    elevation = _angle_between(line, np.broadcast_to(np.array([0.0, 0.0, -1.0]), line.shape))
    azimuth = np.where(elevation > np.radians(10.0), _azimuth_outward(line, forward, sign), np.nan)
    balls = 0.5 * (figure.foot_points[:, side, 1] + figure.foot_points[:, side, 2])
    lateral, forward_x, forward_y = shank[:, :, 2], forward[:, 0], forward[:, 1]
    deviation = np.arcsin(np.clip(np.sum(unit(balls - ankle) * lateral * sign, axis=1), -1.0, 1.0))
    right = np.stack([forward_y, -forward_x], axis=1)

    def in_front(v: Floats) -> Floats:
        level, height = v[:, :2], v[:, 2]
        return np.stack([np.sum(level * right, axis=1), height], axis=1)

    up, down = in_front(hip - knee), in_front(ankle - knee)
    up_x, up_z, down_x, down_z = up[:, 0], up[:, 1], down[:, 0], down[:, 1]
    frontal = np.pi - np.abs(np.arctan2(up_x * down_z - up_z * down_x, np.sum(up * down, axis=1)))
    # A leg that lies level has no height for its knee to be inside of: NaN.
    to_knee, to_ankle = in_front(knee - hip), in_front(ankle - hip)
    knee_x, knee_z, ankle_x, ankle_z = to_knee[:, 0], to_knee[:, 1], to_ankle[:, 0], to_ankle[:, 1]
    middle = knee_x - ankle_x * knee_z / np.where(ankle_z == 0.0, np.nan, ankle_z)
    elbow = np.pi - _angle_between(
        figure.joint("shoulder" + x) - figure.joint("elbow" + x), figure.joint("wrist" + x) - figure.joint("elbow" + x)
    )
    return {
        "hip_flexion": flexion, "hip_abduction": -adduction, "knee_flexion": bend, "ankle_dorsiflexion": dorsiflexion,
        "foot_turnout": _azimuth_outward(ahead, forward, sign), "knee_turnout": knee_turnout, "leg_elevation": elevation,
        "leg_azimuth": azimuth, "plantarflexion": _angle_between(shank[:, :, 1], foot[:, :, 0]) - np.pi / 2.0,
        "foot_deviation": deviation, "frontal_knee": frontal * np.where(sign * middle < 0.0, 1.0, -1.0),
        "elbow_flexion": elbow,
    }  # fmt: skip


def angles_of(figure: Figure) -> dict[str, Floats]:
    """All angles of ANGLES, radians, (F,) each."""
    pelvis, thorax, head = (figure.rotation(name) for name in ("pelvis", "thorax", "head"))
    ahead = pelvis[:, :, 0]
    forward = ahead[:, :2] / np.linalg.norm(ahead[:, :2], axis=1, keepdims=True)
    result: dict[str, Floats] = {}
    for _, x, sign in _SIDES:
        result |= {name + x: value for name, value in _leg_angles(figure, x, sign, forward).items()}

    def yaw(frame: Floats) -> Floats:
        return np.unwrap(np.arctan2(frame[:, 1, 0], frame[:, 0, 0]))

    trunk = 0.5 * (figure.points["seventh_cervical"] + figure.points["suprasternal"]) - figure.joint("pelvis")
    forward_x, forward_y = forward[:, 0], forward[:, 1]
    right = np.stack([forward_y, -forward_x], axis=1)
    shoulders = figure.joint("shoulder.R") - figure.joint("shoulder.L")
    extension, side_bend, twist = _flexion_abduction_rotation(pelvis, thorax, 1.0)
    pitch, roll, turn = _flexion_abduction_rotation(thorax, head, 1.0)
    pelvis_x, pelvis_y, pelvis_z = pelvis[:, 2, 0], pelvis[:, 2, 1], pelvis[:, 2, 2]
    obliquity = np.arcsin(np.clip(pelvis_z, -1.0, 1.0))
    trunk_level, trunk_up, shoulders_up = trunk[:, :2], trunk[:, 2], shoulders[:, 2]
    result |= {
        "pelvis_yaw": yaw(pelvis),
        "pelvis_tilt": np.arctan2(-pelvis_x, pelvis_y),
        "pelvis_obliquity": obliquity,
        "trunk_pitch": np.arctan2(np.sum(trunk_level * forward, axis=1), trunk_up),
        "trunk_roll": np.arctan2(np.sum(trunk_level * right, axis=1), trunk_up),
        "shoulder_roll": np.arcsin(shoulders_up / np.linalg.norm(shoulders, axis=1)),
        "thorax_yaw": yaw(thorax),
        "thorax_extension": extension,
        "thorax_side_bend": side_bend,
        "thorax_twist": twist,
        "head_yaw": np.unwrap(turn),
        "head_pitch": pitch,
        "head_roll": roll,
        "head_heading": yaw(head),
    }
    return result


def movement_of(
    body: Body,
    figure: Figure,
    angles: dict[str, Floats],
    standing_figure: Figure,
    standing_angles: dict[str, Floats],
    rate_hz: float,
) -> Movement:
    """The exact movement; standing_figure is the same dancer standing still for the static take. angles: ``angles_of`` each."""
    still = {name: float(np.nanmedian(v)) if np.isfinite(v).any() else np.nan for name, v in standing_angles.items()}
    frames = figure.time_s.size
    flat = standing_figure.foot_points[0, :, :, 2]
    heights = figure.foot_points[..., 2] - flat
    arches = arch_places(body)
    foot_length = float(np.linalg.norm(body.foot.toe - body.foot.heel))
    pointed = np.array([body.pointed_rad, body.pointed_rad])
    releve = body.foot.length_heel_to_ball_m * np.sin(body.releve_rad)
    releve += body.foot.heel[1] * (np.cos(body.releve_rad) - 1.0)
    upright = standing_figure.rotation("thorax")[0, :, 1]
    shoulders = [standing_figure.joint("shoulder" + x)[0] - standing_figure.joint("neck")[0] for _, x, _ in _SIDES]
    shoulder_heights = np.array([float(away @ upright) for away in shoulders])
    standing = Standing(
        from_static=True,
        angles_rad=still,
        leg_length_m=body.thigh_m + body.shank_m,
        thigh_length_m=body.thigh_m,
        shank_length_m=body.shank_m,
        foot_length_m=foot_length,
        stature_m=body.stature_m,
        demi_plie_rad=np.full(2, body.demi_plie_rad),
        releve_m=np.full(2, releve),
        pointed_rad=pointed,
        shoulder_height_m=shoulder_heights,
    )
    return Movement(
        kind="markers",
        rate_hz=rate_hz,
        time_s=figure.time_s,
        joint_centres_m=figure.joints,
        segment_rotations=figure.rotations,
        segment_origins_m=figure.origins,
        angles_rad=np.stack([angles[name] for name in ANGLES], axis=1),
        foot_points_m=figure.foot_points,
        foot_heights_m=heights,
        arch_heights_m=(exact_markers(figure, arches) - exact_markers(standing_figure, arches)[:1])[..., 2],
        ground_m=np.zeros((frames, 2)),
        centre_of_mass_m=figure.centre_of_mass,
        centre_of_mass_share=np.ones(frames),
        trust=np.ones((frames, len(JOINTS))),
        joint_error_m=np.zeros((frames, len(JOINTS))),
        joint_source=np.full((frames, len(JOINTS)), int(Source.MEASURED), dtype=np.uint8),
        segment_residual_m=np.zeros((frames, len(SEGMENTS))),
        standing=standing,
    )


def _intervals(on: NDArray[np.bool_], time_s: Floats) -> list[tuple[float, float]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], on.astype(np.int8), [0]])))
    return [(float(time_s[a]), float(time_s[b - 1])) for a, b in edges.reshape(-1, 2)]


def contacts_of(movement: Movement) -> tuple[Contact, ...]:
    """When each foot and each part of it is on the floor, from the exact heights."""
    contacts: list[Contact] = []
    for i, (side, _, _) in enumerate(_SIDES):
        heights = movement.foot_heights_m[:, i]
        toe = np.minimum(heights[:, 1], heights[:, 3]) < TOUCHING_M["toe"]
        heel = heights[:, 0] < TOUCHING_M["heel"]
        parts: dict[Literal["foot", "heel", "toe"], NDArray[np.bool_]] = {"foot": toe | heel, "heel": heel, "toe": toe}
        for part, on in parts.items():
            contacts += [Contact(side, part, a, b) for a, b in _intervals(on, movement.time_s)]
    return tuple(sorted(contacts, key=lambda c: (c.start_s, c.foot, c.part)))


def phrase_of(score: Score, movement: Movement) -> Phrase:
    """The phases as they were planned, with properties measured on the exact movement."""
    phases = [_phase(step, score.steps, movement) for step in score.steps]
    return Phrase(contacts_of(movement), tuple(sorted(phases, key=lambda p: p.start_s)))


def _phase(step: Step, steps: list[Step], movement: Movement) -> Phase:
    rate, time = movement.rate_hz, movement.time_s
    start, end = (int(np.clip(round(s * rate), 0, time.size - 1)) for s in (step.start_s, step.end_s))
    com = movement.centre_of_mass_m[:, 2]
    m, properties = step.moments, dict(step.facts)

    def height(at_s: float) -> float:
        return float(np.interp(at_s, time, com))

    if step.kind == "turn":
        properties |= {"preparation_s": m["preparation_s"], "releve_s": m["heel_s"], "close_s": m["close_s"]}
    elif step.kind == "jump":
        before, after = m["take_off_s"], m["landing_s"]
        properties |= {
            "height_m": height(m["apex_s"]) - height(before), "flight_s": after - before, "take_off_s": before,
            "landing_s": after, "apex_s": m["apex_s"], "fitted_gravity": 9.81,
        }  # fmt: skip
    elif step.kind == "plie":
        bottom = m["bottom_s"]
        knees = [float(np.interp(bottom, time, movement.angle("knee_flexion" + x))) for _, x, _ in _SIDES]
        depth = max(height(step.start_s), height(step.end_s)) - height(bottom)
        properties |= {
            "bottom_s": bottom, "depth_m": depth, "knee_flexion_deg": float(np.degrees(np.mean(knees))),
            "depth_ratio": float(np.mean(knees) / movement.standing.demi_plie_rad[0]),
        }  # fmt: skip
    elif step.kind == "releve":
        sides = [i for i, (side, _, _) in enumerate(_SIDES) if step.side in (side, "both")]
        properties["height_m"] = float(movement.foot_heights_m[start : end + 1, sides, 0].mean(axis=1).max())
    elif step.kind == "balance":
        properties["hold_s"] = step.end_s - step.start_s
    elif step.kind == "leg-gesture":
        properties["peak_s"] = m["peak_s"]
        properties["elevation_deg"] = float(
            np.degrees(np.interp(m["peak_s"], time, movement.angle(f"leg_elevation.{'L' if step.side == 'left' else 'R'}")))
        )
    elif step.kind == "landing":
        jumps = [s.id for s in steps if s.kind == "jump" and abs(s.end_s - step.start_s) < 1e-6]
        properties |= {"jump": jumps[0] if jumps else None, "lowest_s": m["lowest_s"]}
    return phase_from(
        step.kind, id=step.id, side=step.side, start=start, end=end, start_s=step.start_s, end_s=step.end_s, properties=properties
    )
