"""How the segments of a figure lie in every frame, so that it does what the dancer does and stays a human body.

Limbs point from joint to joint. What turns about a limb, and trunk, head, hands and feet, follow the axes that were measured,
within what a body can do: axes that are off throughout a take are set right, and no joint goes beyond its range. So the figure
holds together however badly joints or markers were placed. Everything is told as a turn away from rest, (F, 3, 3); NaN = unknown.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..body.anatomy import ARM_JOINTS, ARM_SEGMENTS, LEG_JOINTS, LEG_SEGMENTS, SIDE_SUFFIXES
from ..body.geometry import dot, frame_from_y, frame_from_y_and_x, reject, unit
from ..body.movement import SEGMENTS, Movement
from ..body.rotations import about, between, filled, softly_limited, turned_at_most, twisted_at_most, without_offset
from ..take import Floats
from .proportions import PARENTS, Rest

#: How far each segment turns away from the one before it at most, and how far it may be turned on the mean of a whole take.
#: Proposed defaults: the far ends of published ranges of motion, dancers' added, so that nothing real is held back.
_RANGE_RAD = {
    name: np.radians(angle)
    for name, angle in {"thorax": 95.0, "neck": 55.0, "head": 85.0, "clavicle": 45.0, "hand": 85.0, "foot": 78.0}.items()
}
_MEAN_RAD = {
    name: np.radians(angle) for name, angle in {"pelvis": 20.0, "neck": 15.0, "head": 20.0, "clavicle": 2.0, "foot": 35.0}.items()
}
_TOES_UP_RAD, _TOES_DOWN_RAD, _TOES_MEAN_RAD = np.radians(75.0), np.radians(25.0), np.radians(12.0)
_PELVIS_RANGE_RAD = np.radians(60.0)
#: How far the lower limb is twisted against the upper one at most: shank against thigh, forearm against upper arm.
_TWIST_RAD = {"shank": np.radians(30.0), "forearm": np.radians(85.0)}
#: How far a limb is rolled about itself at most against where it hangs, so that its skin is not wrung: a limb is nearly round.
_ROLL_RAD = {"upper_arm": np.radians(45.0)}
#: Between these bends the hinge of knee or elbow takes over from the measured axes as what says where the limb looks.
_HINGE_FROM_RAD, _HINGE_FULL_RAD = np.radians(15.0), np.radians(45.0)
_ROUNDS_OF_BENDING = 3


def _known(values: Floats) -> NDArray[np.bool_]:
    known: NDArray[np.bool_] = np.isfinite(values).reshape(len(values), -1).all(axis=1)
    return known


class Turns:
    """The turns of all segments away from rest, one after the other, each against the one before it."""

    def __init__(self, movement: Movement, rest: Rest) -> None:
        self.movement = movement
        self.rest = rest
        self.turned: dict[str, Floats] = {}
        self.known = np.zeros((movement.frames, len(SEGMENTS)), dtype=bool)

    def axes_at_rest(self, name: str) -> Floats:
        axes: Floats = self.rest.rotations[SEGMENTS.index(name)]
        return axes

    def axes(self, name: str) -> Floats:
        """Axes (F, 3, 3) of a segment that is put already."""
        axes: Floats = self.turned[name] @ self.axes_at_rest(name)
        return axes

    def put(self, name: str, axes: Floats, *, after: str | None = None, joints: bool = False) -> None:
        """Put a segment as its axes (F, 3, 3) say, within what its joint can do; unknown frames are bridged.

        after: the segment that its range is counted from, when it is not the one before it. joints: whether the axes run from
        joint to joint, and so cannot be off throughout the take.
        """
        base = name.partition(".")[0]
        known = _known(axes)
        self.known[:, SEGMENTS.index(name)] = known
        turned = np.where(known[:, None, None], np.nan_to_num(axes), self.axes_at_rest(name)) @ self.axes_at_rest(name).T
        if name not in PARENTS:
            self.turned[name] = filled(turned, known)
            return
        before = self.turned[after or PARENTS[name]]
        against = np.swapaxes(before, 1, 2) @ turned
        if not joints and known.any() and base in _MEAN_RAD:
            against = without_offset(against, known, _MEAN_RAD[base])
        if base in _RANGE_RAD:
            against = turned_at_most(against, _RANGE_RAD[base])
        if base in _ROLL_RAD:
            against = twisted_at_most(against, self.axes_at_rest(name)[:, 1], _ROLL_RAD[base])
        self.turned[name] = before @ filled(against, known)

    def offset(self, first: str, second: str) -> Floats:
        """From where one segment begins to where another one does, at rest (3,)."""
        offset: Floats = self.rest.head_of(second) - self.rest.head_of(first)
        return offset


def _pelvis(turns: Turns) -> None:
    """Sideways from hip to hip; tipped as measured, but never folded against the trunk."""
    movement = turns.movement
    across = unit(movement.joint("hip.R") - movement.joint("hip.L"))
    up = movement.segment("pelvis")[:, :, 1]
    trunk = movement.joint("neck") - movement.joint("pelvis")
    up = np.where(np.isfinite(up), up, trunk)
    up = unit(reject(up, across))
    trunk = unit(reject(trunk, across))
    # Positive: the trunk leans back over the pelvis (about the axis to the right, up turns backward).
    lean = np.arctan2(dot(np.cross(up, trunk), across), dot(up, trunk))
    seen = np.isfinite(lean)
    usual = float(np.median(lean[seen])) if seen.any() else 0.0
    offset = usual - float(np.clip(usual, -_MEAN_RAD["pelvis"], _MEAN_RAD["pelvis"]))
    kept = softly_limited(np.where(seen, lean, 0.0) - offset, _PELVIS_RANGE_RAD)
    turn = np.where(seen, np.where(seen, lean, 0.0) - kept, 0.0)
    known = _known(up)
    raised = np.full_like(up, np.nan)
    raised[known] = np.einsum("fij,fj->fi", about(across[known], turn[known]), up[known])
    turns.put("pelvis", frame_from_y(raised, across))


def _spine(turns: Turns) -> None:
    """From the pelvis to the base of the neck; the lumbar spine lies half-way between pelvis and ribcage."""
    movement = turns.movement
    pelvis = turns.turned["pelvis"]
    measured = movement.segment("thorax")
    shoulders = movement.joint("shoulder.R") - movement.joint("shoulder.L")
    across = np.where(np.isfinite(measured[:, :, 2]), measured[:, :, 2], shoulders)
    begin = movement.joint("pelvis") + pelvis @ turns.offset("pelvis", "lumbar")
    wanted = unit(movement.joint("neck") - begin)
    direction = wanted
    for _ in range(_ROUNDS_OF_BENDING):
        turns.put("thorax", frame_from_y(direction, across), after="pelvis", joints=True)
        turns.turned["lumbar"] = between(pelvis, turns.turned["thorax"], 0.5)
        reached = unit(
            turns.turned["lumbar"] @ turns.offset("lumbar", "thorax") + turns.turned["thorax"] @ turns.offset("thorax", "neck")
        )
        direction = unit(direction + (wanted - reached))
    turns.known[:, SEGMENTS.index("lumbar")] = turns.known[:, SEGMENTS.index("thorax")]


def _head(turns: Turns) -> None:
    """The head as measured; the neck towards it, looking half-way between chest and head."""
    movement = turns.movement
    head = movement.segment("head")
    turns.put("head", head, after="thorax")
    turns.turned["neck"] = between(turns.turned["thorax"], turns.turned["head"], 0.5)
    looks = turns.axes("neck")[:, :, 2]
    turns.put("neck", frame_from_y(movement.joint("head") - movement.joint("neck"), looks), after="thorax")


def _clavicle(turns: Turns, suffix: str) -> None:
    """From the inner end of the clavicle to the shoulder, seen from the base of the neck and on the scale of this body."""
    movement, name = turns.movement, f"clavicle{suffix}"
    thorax = turns.turned["thorax"]
    away = movement.joint(f"shoulder{suffix}") - movement.joint("neck")
    usual = turns.offset("neck", f"upper_arm{suffix}")
    length = np.linalg.norm(away, axis=1)
    scale = np.linalg.norm(usual) / np.median(length[np.isfinite(length)]) if np.isfinite(length).any() else np.nan
    shoulder = thorax @ turns.offset(name, "neck") + away * scale
    turns.put(name, frame_from_y_and_x(-shoulder, thorax[:, :, 0]))


def _hinged(upper: Floats, lower: Floats, looks: Floats) -> Floats:
    """Axis (F, 3) to the right that a limb's hinge turns about: of two directions (F, 3) down the limb where it is bent, else as
    measured ``looks`` (F, 3)."""
    normal = np.cross(upper, lower)
    bend = np.arctan2(np.linalg.norm(normal, axis=1), dot(upper, lower))
    share = np.clip((bend - _HINGE_FROM_RAD) / (_HINGE_FULL_RAD - _HINGE_FROM_RAD), 0.0, 1.0)[:, None]
    across = unit(reject(looks, upper))
    hinge = unit(normal)
    hinge = hinge * np.where(dot(hinge, across) < 0.0, -1.0, 1.0)[:, None]
    mixed = share * np.nan_to_num(hinge) + (1.0 - share) * np.nan_to_num(across)
    blended: Floats = np.where(np.isfinite(looks) & (np.linalg.norm(mixed, axis=1, keepdims=True) > 1e-6), mixed, hinge)
    return blended


def _limb(turns: Turns, suffix: str, segments: tuple[str, str], joints: tuple[str, str, str]) -> None:
    """Thigh and shank, or upper arm and forearm: from joint to joint, twisted against each other as a body can."""
    movement = turns.movement
    upper, lower = (name + suffix for name in segments)
    first, middle, last = (movement.joint(joint + suffix) for joint in joints)
    down, on = unit(middle - first), unit(last - middle)
    across = _hinged(down, on, movement.segment(upper)[:, :, 2])
    turns.put(upper, frame_from_y(-down, across), joints=True)
    # Where only the lower limb is known, the upper one's hinge still stands in for what is not measured.
    hinge = turns.axes(upper)[:, :, 2]
    straight = frame_from_y(-on, hinge)
    looks = np.where(np.isfinite(movement.segment(lower)[:, :, 2]), movement.segment(lower)[:, :, 2], hinge)
    twist = np.arctan2(dot(straight[:, :, 0], looks), dot(straight[:, :, 2], looks))
    known = np.isfinite(twist)
    twist = softly_limited(np.where(known, twist, 0.0), _TWIST_RAD[segments[1]])
    across = straight[:, :, 2] * np.cos(twist)[:, None] + straight[:, :, 0] * np.sin(twist)[:, None]
    turns.put(lower, frame_from_y(-on, across), joints=True)


def _toes(turns: Turns, suffix: str) -> None:
    """Toes turn up and down only, and hardly down."""
    foot = turns.axes(f"foot{suffix}")
    ahead = np.swapaxes(foot, 1, 2) @ turns.movement.segment(f"toes{suffix}")
    raised = np.arctan2(ahead[:, 1, 0], ahead[:, 0, 0])
    known = np.isfinite(raised)
    if known.any():
        usual = float(np.median(raised[known]))
        raised = raised - usual + float(np.clip(usual, -_TOES_MEAN_RAD, _TOES_MEAN_RAD))
    kept = np.where(raised > 0.0, softly_limited(raised, _TOES_UP_RAD), softly_limited(raised, _TOES_DOWN_RAD))
    bent = foot @ about(np.array([0.0, 0.0, 1.0]), np.where(known, kept, 0.0))
    turns.put(f"toes{suffix}", np.where(known[:, None, None], bent, np.nan), joints=True)


def turns_of(movement: Movement, rest: Rest) -> Turns:
    """The turns of all segments of a figure at rest that follow a movement."""
    turns = Turns(movement, rest)
    _pelvis(turns)
    _spine(turns)
    _head(turns)
    for suffix in SIDE_SUFFIXES:
        _clavicle(turns, suffix)
        _limb(turns, suffix, ARM_SEGMENTS[:2], ARM_JOINTS)
        wrist = movement.joint(f"wrist{suffix}") - movement.joint(f"hand{suffix}")
        looks = movement.segment(f"hand{suffix}")[:, :, 2]
        turns.put(
            f"hand{suffix}", frame_from_y(wrist, np.where(np.isfinite(looks), looks, turns.axes(f"forearm{suffix}")[:, :, 2]))
        )
        _limb(turns, suffix, LEG_SEGMENTS[:2], LEG_JOINTS)
        turns.put(f"foot{suffix}", movement.segment(f"foot{suffix}"))
        _toes(turns, suffix)
    return turns
