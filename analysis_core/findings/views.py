"""Where to stand to see a fault: along the normal of the plane in which it lives (catalogue, section 8)."""

from __future__ import annotations

import numpy as np

from ..body.movement import SIDES, SUFFIXES, Movement
from ..known import nothing_known_gives_nan
from ..take import Floats
from .evidence import Evidence
from .finding import View
from .observation import Observation

#: The camera stands this many framed heights away, with a lens of 50 mm or more. Source: catalogue, section 8.
HEIGHTS_AWAY = 2.2
#: What is framed, metres: the whole body for directions of the body, a leg, a foot, a head.
BODY_M, LEG_M, FOOT_M, TRUNK_M = 1.9, 1.3, 0.8, 1.2
LOW_M = 0.15
STEEP_RAD = np.radians(50.0)
UP = np.array([0.0, 0.0, 1.0])


def _unit(vector: Floats, otherwise: Floats) -> Floats:
    """Horizontal direction of a vector; another one where it has none."""
    flat = np.array([vector[0], vector[1], 0.0])
    length = np.linalg.norm(flat)
    return flat / length if np.isfinite(length) and length > 1e-6 else otherwise


def view_of(name: str, told: Observation, evidence: Evidence) -> View:
    """Camera and aim for one observation at its decisive frame. Places that are not known are taken from the body's middle."""
    movement, frame = evidence.movement, told.peak
    centre = _known(movement.centre_of_mass_m[frame], evidence.once("middle of the body", lambda: _middle(movement)))
    forward = _unit(movement.segment("pelvis")[frame, :, 0], np.array([1.0, 0.0, 0.0]))
    right = np.cross(forward, UP)
    side = told.side if told.side in SIDES else "right"
    outward = right if side == "right" else -right
    foot = _known(evidence.ball(str(side))[frame], centre * [1, 1, 0])
    aim, framed, direction = centre, BODY_M, outward
    if name in ("low side", "along the foot", "side of the leg", "front of the leg", "above the foot"):
        foot_ahead = _unit(movement.foot_line(str(side), frame), forward)
        foot_outward = np.cross(foot_ahead, UP) * (1.0 if side == "right" else -1.0)
        knee = _known(evidence.joint("knee", str(side))[frame], centre)
        ankle = _known(evidence.joint("ankle", str(side))[frame], foot)
        if name == "low side":
            aim, framed, direction = foot + UP * LOW_M, FOOT_M, foot_outward
        elif name == "above the foot":
            # Straight from above the body hides its own feet: steeply down, from where the toes point.
            steep = np.cos(STEEP_RAD) * foot_ahead + np.sin(STEEP_RAD) * UP
            aim, framed, direction = 0.5 * (foot + centre), BODY_M, steep
        elif name == "along the foot":
            aim, framed, direction = 0.5 * (knee + ankle), LEG_M, foot_ahead
        elif name == "front of the leg":
            aim, framed = ankle, FOOT_M
            direction = _unit(evidence.movement.segment("shank" + SUFFIXES[str(side)])[frame, :, 0], forward)
        else:
            aim, framed = knee, LEG_M
            hip = _known(evidence.joint("hip", str(side))[frame], centre)
            normal = np.cross(knee - hip, ankle - knee)
            direction = _unit(normal, outward)
            direction = direction if direction @ outward >= 0 else -direction
    elif name in ("front", "back"):
        direction = forward if name == "front" else -forward
        upper = told.joints and told.joints[0].partition(".")[0] in ("head", "neck", "shoulder", "wrist", "hand")
        if upper:
            aim, framed = _known(movement.joint("neck")[frame], centre), TRUNK_M
    elif name == "side" and told.joints and told.joints[0] == "head":
        aim, framed = _known(movement.joint("head")[frame], centre), TRUNK_M
    elif name == "across the tilt":
        lean = centre - foot
        direction = np.cross(UP, _unit(lean, forward))
        direction = direction if direction @ (forward + 0.3 * right) >= 0 else -direction
    if name == "top":
        # Straight down, a hand's breadth behind, so that the dancer's front stays at the top of the picture.
        return _view(aim + UP * HEIGHTS_AWAY * BODY_M - 0.05 * forward, aim, name)
    return _view(aim + HEIGHTS_AWAY * framed * direction, aim, name)


def front_of(movement: Movement, frame: int) -> View:
    """The whole dancer at a frame, from the front."""
    aim = _known(movement.centre_of_mass_m[frame], _middle(movement))
    forward = _unit(movement.segment("pelvis")[frame, :, 0], np.array([1.0, 0.0, 0.0]))
    return _view(aim + HEIGHTS_AWAY * BODY_M * forward, aim, "front")


def _middle(movement: Movement) -> Floats:
    """The middle of where the body is throughout the take (3,), metres."""
    with nothing_known_gives_nan():
        return np.asarray(np.nanmedian(movement.centre_of_mass_m, axis=0))


def _known(place: Floats, otherwise: Floats) -> Floats:
    chosen = place if np.isfinite(place).all() else otherwise
    return np.asarray(np.nan_to_num(chosen, nan=0.0), dtype=np.float64)


def _view(position: Floats, aim: Floats, name: str) -> View:
    position = position.copy()
    position[2] = max(position[2], LOW_M)
    return View((float(position[0]), float(position[1]), float(position[2])), (float(aim[0]), float(aim[1]), float(aim[2])), name)
