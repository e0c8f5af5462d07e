"""Legs that reach their held feet, so that the measured knee stays, the pelvis gives way and no straight knee pops.

Kovar, Schreiner and Gleicher 2002 show why: a knee near full stretch turns by several degrees for a millimetre of reach.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..body.anatomy import LEG_SEGMENTS, SIDE_SUFFIXES
from ..body.geometry import cross, dot, reject, unit
from ..body.movement import SEGMENTS
from ..body.rotations import turned_by
from ..smoothed import mean, most
from ..take import Floats
from .least_squares import Smooth
from .limits import limits
from .skeleton import Skeleton

_SUFFIXES = SIDE_SUFFIXES
_NEWTON_STEPS = 6
#: A knee this near to the line from hip to ankle shows no direction of its own, metres. Proposed default.
_STRAIGHT_M = 0.01
#: Directions whose cosine is nearer to -1 than this have no smallest rotation onto each other.
_OPPOSITE = 1e-12
#: Segments that ride on the pelvis: all but the legs.
_UPPER = tuple(index for index, name in enumerate(SEGMENTS) if name.partition(".")[0] not in LEG_SEGMENTS)


@dataclass(frozen=True)
class Limbs:
    """Both legs or both arms of a skeleton, left then right: first, last (F, 2, 3): hip and ankle, or shoulder and wrist; bend
    (F, 2): signed flexion of knee or elbow, radians; aside (F, 2, 3): the side to which that joint goes when the limb bends;
    upper_m, lower_m (2,)."""

    first: Floats
    last: Floats
    bend: Floats
    aside: Floats
    upper_m: Floats
    lower_m: Floats


def _ahead(skeleton: Skeleton, name: str) -> Floats:
    """The forward axis (F, 3) of a segment in motion."""
    index = SEGMENTS.index(name)
    axis: Floats = skeleton.turned[:, index] @ skeleton.rest.axes[index][:, 0]
    return axis


def limbs_of(skeleton: Skeleton, names: tuple[str, str, str], ahead: tuple[str, ...], sign: float, *, past: bool) -> Limbs:
    """Limbs of the segments ``names`` as they are; flexion is negative past straight, where ``past`` says that one may go there.

    The middle joint goes ``sign`` times along the forward axes of the segments ``ahead`` when the limb bends.
    """
    heads = skeleton.heads_m
    firsts, lasts, bends, asides, uppers, lowers = [], [], [], [], [], []
    for suffix in _SUFFIXES:
        first, middle, last = (heads[:, SEGMENTS.index(name + suffix)] for name in names)
        usual = sign * unit(np.sum([_ahead(skeleton, name + suffix) for name in ahead], axis=0))
        upper, lower = middle - first, last - middle
        bend = np.arctan2(np.linalg.norm(np.cross(upper, lower), axis=1), dot(upper, lower))
        # The sign comes from the side of the line from end to end on which the joint lies, against the dancer's own.
        aside = reject(upper, unit(last - first))
        side = np.where(past & (dot(aside, usual) < 0), -1.0, 1.0)
        firsts.append(first)
        lasts.append(last)
        bends.append(side * bend)
        # A bent joint shows its own direction; a straight one has none, and there the axes of the segments go on.
        asides.append(unit(side[:, None] * aside + _STRAIGHT_M * usual))
        uppers.append(np.linalg.norm(upper[0]))
        lowers.append(np.linalg.norm(lower[0]))
    first, last, bend, aside = (np.stack(each, 1) for each in (firsts, lasts, bends, asides))
    return Limbs(first, last, bend, aside, np.array(uppers), np.array(lowers))


def legs_of(skeleton: Skeleton) -> Limbs:
    """Both legs: a knee goes forward."""
    return limbs_of(skeleton, LEG_SEGMENTS[:3], ("thigh", "shank"), 1.0, past=True)


def reach(limbs: Limbs, bend: Floats) -> Floats:
    """Distance (F, 2) from end to end with knees or elbows bent so far."""
    a, b = limbs.upper_m, limbs.lower_m
    distance: Floats = np.sqrt(a**2 + b**2 + 2.0 * a * b * np.cos(bend))
    return distance


def slope_of(limbs: Limbs, bend: Floats) -> Floats:
    """Change of the reach with the bend, metres a radian."""
    slope: Floats = -limbs.upper_m * limbs.lower_m * np.sin(bend) / reach(limbs, bend)
    return slope


def pelvis_gives_way(legs: Limbs, ankle_m: Floats, pelvis_m: Floats, loaded: Floats, rate_hz: float) -> tuple[Floats, Floats]:
    """Shift (F, 3) and turn (F, 3, rotation vectors) of the pelvis by which the held ankles are reached with the measured knees.

    loaded (F, 2): 1 where a foot is in contact, 0 elsewhere.
    """
    limit = limits()["pelvis"]
    span = ankle_m - legs.first
    distance = np.linalg.norm(span, axis=2)
    missing = distance - reach(legs, legs.bend)
    weights = loaded / (slope_of(legs, legs.bend) ** 2 + limit["knee_m_per_rad"] ** 2)
    turning = limit["turn_arm_m"] ** 2
    pull = np.array([1.0, 1.0, 1.0, turning, turning, turning])
    system = Smooth(len(pelvis_m), pull, limit["smooth_s"] * rate_hz)
    frames = np.arange(len(pelvis_m))
    for side in range(2):
        toward = span[:, side] / distance[:, side, None]
        rows = np.concatenate([toward, np.cross(legs.first[:, side] - pelvis_m, toward)], axis=1)
        system.ask(frames, rows, missing[:, side], weights[:, side])
    solution = system.solve()
    return solution[:, :3], solution[:, 3:]


def _bound(loaded: Floats, rate_hz: float) -> Floats:
    """How far (F, 2) a foot is bound to its place: 1 in contact, falling to 0 on both sides of it as corrections do."""
    width = max(1, round(limits()["pelvis"]["release_s"] * rate_hz))
    wide = most(loaded, width)
    # Twice, so that the stiffness has no kink; both windows together are as wide as the margin, so that contact stays bound.
    return mean(mean(wide, width), width)


def _knees_for(legs: Limbs, distance: Floats, bound: Floats) -> Floats:
    """Flexion (F, 2) of knees that reaches a distance (F, 2) as nearly as it may without leaving the measured one.

    Minimises (distance − reach)² + stiffness · (θ − θ measured)² by Newton's method, keeping the sign of a straight knee. The
    straighter a knee, the stiffer: it pops, where a bent one hardly turns. A foot in the air (bound (F, 2) = 0) has no place to
    keep, so that there the knee stays as measured.
    """
    limit = limits()["pelvis"]
    share = slope_of(legs, legs.bend) / limit["bent_m_per_rad"]
    stiffness = limit["knee_m_per_rad"] ** 2 / (1.0 + share**4) * 10.0 ** (limit["free_decades"] * (1.0 - bound))
    knee = legs.bend.copy()
    for _ in range(_NEWTON_STEPS):
        slope = slope_of(legs, knee)
        gradient = (reach(legs, knee) - distance) * slope + stiffness * (knee - legs.bend)
        knee = knee - gradient / (slope**2 + stiffness)
    return knee


def swing(before: Floats, after: Floats) -> Floats:
    """The smallest rotations (F, 3, 3) that bring directions (F, 3) onto others (F, 3); none where they are opposite.

    Rodrigues' formula with sine and cosine as the products of the directions give them: no angle is taken.
    """
    first, second = unit(before), unit(after)
    x, y, z = np.ascontiguousarray(cross(first, second).T)
    cosine, both = dot(first, second), first + second
    # One and the cosine together, to the last digit where they nearly cancel.
    together = 0.5 * dot(both, both)
    opposite = together < _OPPOSITE
    share = 1.0 / np.where(opposite, 1.0, together)
    xy, xz, yz = share * x * y, share * x * z, share * y * z
    entries = np.empty((3, 3, len(cosine)))
    entries[0] = cosine + share * x * x, xy - z, xz + y
    entries[1] = xy + z, cosine + share * y * y, yz - x
    entries[2] = xz - y, yz + x, cosine + share * z * z
    turned = np.ascontiguousarray(entries.transpose(2, 0, 1))
    turned[opposite] = np.eye(3)
    return turned


def joints_of(limbs: Limbs, side: int, first: Floats, toward: Floats, bend: Floats) -> tuple[Floats, Floats]:
    """Middle and last joint (F, 3) of one limb that begins at ``first`` and runs ``toward`` (F, 3) with a bend (F,)."""
    upper, lower = limbs.upper_m[side], limbs.lower_m[side]
    reached = np.sqrt(upper**2 + lower**2 + 2.0 * upper * lower * np.cos(bend))
    aside = unit(reject(limbs.aside[:, side], toward))
    # Along the line to the end and beside it: the two sides of the triangle of the limb.
    beside = upper * lower * np.sin(bend) / reached
    along = np.sqrt(np.maximum(upper**2 - beside**2, 0.0))
    return first + toward * along[:, None] + aside * beside[:, None], first + toward * reached[:, None]


def swung(skeleton: Skeleton, turned: Floats, names: tuple[str, str, str], joints: tuple[Floats, Floats, Floats]) -> None:
    """Swing the two segments that lie between three joints (F, 3) onto them; names: of the segments that begin there. ``turned``
    (F, S, 3, 3) is changed."""
    heads = skeleton.heads_m
    for name, after, begin, end in zip(names, names[1:], joints, joints[1:], strict=False):
        index, last = SEGMENTS.index(name), SEGMENTS.index(after)
        turned[:, index] = swing(heads[:, last] - heads[:, index], end - begin) @ skeleton.turned[:, index]


def with_legs(skeleton: Skeleton, ankle_m: Floats, feet_turned: Floats, loaded: Floats) -> Skeleton:
    """The skeleton with its feet where they are held: ankle_m (F, 2, 3), feet_turned (F, 2, 3, 3) away from rest.

    The pelvis moves a little and trunk, arms and head ride along; what a leg cannot reach without popping its knee (tenths of
    a millimetre) is given back by the foot.
    """
    legs = legs_of(skeleton)
    shift, turn = pelvis_gives_way(legs, ankle_m, skeleton.pelvis_m, loaded, skeleton.rate_hz)
    given = turned_by(turn)
    turned = skeleton.turned.copy()
    turned[:, _UPPER] = given[:, None] @ turned[:, _UPPER]
    pelvis = skeleton.pelvis_m + shift
    hips = pelvis[:, None] + np.einsum("fij,fsj->fsi", given, legs.first - skeleton.pelvis_m[:, None])
    span = ankle_m - hips
    knee = _knees_for(legs, np.linalg.norm(span, axis=2), _bound(loaded, skeleton.rate_hz))
    toward = unit(span)
    for side, suffix in enumerate(_SUFFIXES):
        middle, last = joints_of(legs, side, hips[:, side], toward[:, side], knee[:, side])
        swung(skeleton, turned, ("thigh" + suffix, "shank" + suffix, "foot" + suffix), (hips[:, side], middle, last))
        foot, toes = SEGMENTS.index("foot" + suffix), SEGMENTS.index("toes" + suffix)
        away = feet_turned[:, side] @ np.swapaxes(skeleton.turned[:, foot], -1, -2)
        turned[:, foot] = feet_turned[:, side]
        turned[:, toes] = away @ skeleton.turned[:, toes]
    return replace(skeleton, turned=turned, pelvis_m=pelvis)
