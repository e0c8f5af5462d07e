"""Legs fitted to the whole of a movement: joints where movement and human proportions put them, whatever markers are called.

Hip, knee and ankle are unknown, and so is where every marker sits on its segment; what is known is that segments are rigid, that
they share joints, that a knee is a hinge, and how long human legs are. Least squares with these as prior knowledge (maximum a
posteriori; the segments' poses in every frame follow every guess, so that only the body is unknown).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..medians import median_of_known
from ..take import Floats
from .anatomy import (
    ANKLE_BREADTH,
    BESIDE_JOINT,
    HEEL_BEHIND_ANKLE,
    HEEL_MARKER_ABOVE_SOLE,
    KNEE_BREADTH,
    LENGTHS,
    MARKER_RADIUS_M,
    SIDES_DIFFER,
)
from .rigid_slopes import FittedGroup
from .robust_fit import fit_robustly

#: So many frames, spread over the take, are fitted: more of them err in the same way. Proposed default; 60 gave the same joints.
MOST_FRAMES = 40
#: How far a marker is from its rigid segment while dancing, 1 SD, by segment, metres. Source: magnitudes of catalogue 3.5.
_SKIN_M = {"thigh": 0.012, "shank": 0.009, "joint": 0.006, "foot": 0.008}
#: How far the long axis of the shank leaves the plane of the knee's hinge, and the shank twists against the thigh, radians, 1 SD.
#: Source: catalogue 3.5 (knee rotations up to 13°); rounded.
_BEYOND_HINGE_RAD, _TWIST_RAD = 0.08, 0.20
#: How far a hip lies from where a rule puts it when the pelvis' own markers may sit elsewhere, metres, 1 SD. Harrington 2007
#: against CT: 12.3 ± 5.9 mm; twice that for markers on a belt. Proposed default.
_HIP_SD_M = 0.018
#: Where an outer marker sits from the middle of its joint, metres, 1 SD: forward, along the segment, outward. Along the segment
#: it may be anywhere near (tape on a shoe's shaft). Proposed defaults; the fit is robust, so that far outliers pull less.
_KNEE_MARKER_SD_M, _ANKLE_MARKER_SD_M = np.array([0.012, 0.020, 0.008]), np.array([0.015, 0.030, 0.010])
#: The same where inner and outer markers make a leg that a body has: twice what a marker is stuck beside its landmark.
_BELIEVED_SD_M = np.array([0.010, 0.010, 0.008])
_FREE_MARKER_SD_M = 0.15
#: Markers beside a joint: on which side (+1 outside), the joint's breadth as a share of stature, and how far they may be off.
_BESIDE_JOINT = {
    name: (outward, breadth, spread)
    for joint, breadth, spread in (("knee", KNEE_BREADTH, _KNEE_MARKER_SD_M), ("ankle", ANKLE_BREADTH, _ANKLE_MARKER_SD_M))
    for outward, name in zip((1.0, -1.0), BESIDE_JOINT[joint], strict=True)
}
#: Markers that may sit anywhere are put where they lie so many times before the fit: more of it gained no step on real legs.
_PLACED_TIMES = 2
#: The ankle in the foot ahead of the heel's marker, share of stature, and how far it may be from there, metres (shoes lift both).
_ANKLE_AHEAD_OF_HEEL = HEEL_BEHIND_ANKLE * LENGTHS["foot"].mean
_ANKLE_IN_FOOT_SD_M = np.array([0.015, 0.020, 0.012])


#: Where the unknowns of a leg stand: hip in the pelvis, lengths, ankle in the foot, then three for each marker.
_HIP, _LENGTH_OF, _ANKLE, _FIRST_MARKER = slice(0, 3), {"thigh": 3, "shank": 4}, slice(5, 8), 8
#: The long axis of a segment.
_ALONG = np.array([0.0, 1.0, 0.0])


@dataclass(frozen=True)
class LegSeen:
    """What is known of one leg in N frames; sign: +1 right, -1 left.

    pelvis: rotation (N, 3, 3), origin (N, 3). hip (3,): where a rule puts it in the pelvis. thigh, shank: measured places (N, 3)
    of their markers by landmark; outer knee and outer ankle among them. foot: rotation, origin of the foot's own markers (None:
    not known); ankle_in_foot (3,): expected there. in_doubt: whether the markers beside knee and ankle may sit anywhere near.
    """

    sign: float
    pelvis: tuple[Floats, Floats]
    hip: Floats
    thigh: Mapping[str, Floats]
    shank: Mapping[str, Floats]
    foot: tuple[Floats, Floats] | None
    ankle_in_foot: Floats = field(default_factory=lambda: np.zeros(3))
    in_doubt: bool = True


@dataclass(frozen=True)
class FittedLeg:
    """A leg in its own axes: X forward, Y up along the segment, Z to the right; metres.

    hip (3,) in the pelvis; thigh: knee at 0, hip above it; shank: ankle at 0, knee above it. markers: place by landmark in the
    segment. ankle_in_foot (3,) in the foot's axes. sd: 1-SD error by what is not known: "hip", "knee", "ankle" (distance),
    "thigh", "shank" (length). residual_m: root mean square of the markers from their segments.
    """

    hip: Floats
    thigh_m: float
    shank_m: float
    thigh: Mapping[str, Floats]
    shank: Mapping[str, Floats]
    ankle_in_foot: Floats
    sd: Mapping[str, float]
    residual_m: float


def expected_ankle_in_foot(stature_m: float) -> Floats:
    """Where (3,) an ankle lies from the marker on the heel: ahead, up, to the right."""
    up = LENGTHS["ankle_height"].mean - HEEL_MARKER_ABOVE_SOLE
    return np.array([_ANKLE_AHEAD_OF_HEEL * stature_m + MARKER_RADIUS_M, up * stature_m, 0.0])


class _Leg:
    """One leg as a vector of unknowns: hip (3), two lengths, ankle in the foot (3), then the markers of thigh and shank (3 each).

    Markers are kept as if of a right leg: Z outward.
    """

    def __init__(self, seen: LegSeen, stature_m: float) -> None:
        self.seen, self.stature = seen, stature_m
        self.names = [("thigh", name) for name in seen.thigh] + [("shank", name) for name in seen.shank]
        self.mirror = np.array([1.0, 1.0, seen.sign])
        self.mean, self.spread = self._expected()

    def _expected(self) -> tuple[Floats, Floats]:
        seen, stature = self.seen, self.stature
        thigh, shank = LENGTHS["thigh"], LENGTHS["shank"]
        mean: list[Floats] = [
            seen.hip * self.mirror,
            np.array([thigh.mean, shank.mean]) * stature,
            seen.ankle_in_foot * self.mirror,
        ]
        spread: list[Floats] = [np.full(3, _HIP_SD_M), np.array([thigh.spread, shank.spread]) * stature, _ANKLE_IN_FOOT_SD_M]
        for segment, name in self.names:
            stem = name.partition(".")[0]
            if stem in _BESIDE_JOINT:
                # An inner marker that started outside would turn the whole segment round: a knee that bends backwards.
                outward, breadth, sd = _BESIDE_JOINT[stem]
                sd = sd if seen.in_doubt else _BELIEVED_SD_M
                mean.append(np.array([0.0, 0.0, outward * (breadth * stature / 2 + MARKER_RADIUS_M)]))
                spread.append(sd)
            else:
                length = (thigh if segment == "thigh" else shank).mean * stature
                mean.append(np.array([0.02, 0.5 * length, 0.04]))
                spread.append(np.full(3, _FREE_MARKER_SD_M))
        return np.concatenate(mean), np.concatenate(spread)

    def markers(self, unknown: Floats, segment: str) -> dict[str, Floats]:
        """Places (3,) of the markers of a segment by unknowns (U,), on the leg's own side."""
        places = unknown[_FIRST_MARKER:].reshape(-1, 3) * self.mirror
        return {name: places[i] for i, (part, name) in enumerate(self.names) if part == segment}

    def residuals(self, unknown: Floats) -> Floats:
        """All that disagrees (R,), in standard deviations, for unknowns (U,): markers, joints, hinge, and what is expected of a
        human body (the last U)."""
        return self._disagree(unknown, *self._posed(unknown))

    def _disagree(self, unknown: Floats, thigh: FittedGroup, shank: FittedGroup) -> Floats:
        between = _between(thigh, shank)
        parts = [group.left * np.sqrt(group.weights)[:, None] for group in (thigh, shank)]
        parts += [between[:, 2, 1] / _BEYOND_HINGE_RAD, between[:, 0, 2] / _TWIST_RAD]
        return np.concatenate([*(np.nan_to_num(part).ravel() for part in parts), (unknown - self.mean) / self.spread])

    def start(self) -> Floats:
        """Unknowns (U,) to begin from: as expected, but for markers that may sit anywhere on a segment, which are put where they
        lie on it."""
        unknown = self.mean
        free = {i: named for i, named in enumerate(self.names) if named[1].partition(".")[0] not in _BESIDE_JOINT}
        for _ in range(_PLACED_TIMES if free else 0):
            pose = {name: group.pose for name, group in zip(("thigh", "shank"), self._posed(unknown), strict=True)}
            unknown = unknown.copy()
            apart = np.stack([getattr(self.seen, segment)[name] - pose[segment][1] for segment, name in free.values()])
            rotation = np.stack([pose[segment][0] for segment, _ in free.values()])
            median = median_of_known(np.einsum("knij,kni->knj", rotation, apart), axis=1) * self.mirror
            for i, lies in zip(free, median, strict=True):
                unknown[_marker(i)] = np.where(np.isfinite(lies), lies, self.mean[_marker(i)])
        return unknown

    def _posed(self, unknown: Floats) -> tuple[FittedGroup, FittedGroup]:
        """Thigh and shank in every frame, carried by their markers and then their joints: hip; knee and, where known, ankle."""
        hip = _carried(self.seen.pelvis, unknown[_HIP] * self.mirror)
        thigh = self._segment("thigh", unknown, [(unknown[_LENGTH_OF["thigh"]] * _ALONG, hip, "joint")])
        joints = [(unknown[_LENGTH_OF["shank"]] * _ALONG, thigh.pose[1], "joint")]
        if self.seen.foot is not None:
            joints.append((np.zeros(3), _carried(self.seen.foot, unknown[_ANKLE] * self.mirror), "foot"))
        return thigh, self._segment("shank", unknown, joints)

    def _segment(self, segment: str, unknown: Floats, joints: Sequence[tuple[Floats, Floats, str]]) -> FittedGroup:
        """A segment on its markers and its joints, each with its place (3,) in the segment, where it is (N, 3), and its skin."""
        measured, local = getattr(self.seen, segment), self.markers(unknown, segment)
        sd = np.array([_SKIN_M[segment]] * len(local) + [_SKIN_M[skin] for _, _, skin in joints])
        return FittedGroup(
            np.stack([*local.values(), *(place for place, _, _ in joints)]),
            np.stack([*(measured[name] for name in local), *(place for _, place, _ in joints)], axis=1),
            1.0 / sd**2,
        )

    def slopes(self, unknown: Floats) -> tuple[Floats, Floats]:
        """Residuals (R,) and how they change (R, U) with the unknowns (U,)."""
        thigh, shank = self._posed(unknown)
        seen_by = np.zeros((unknown.size, *thigh.pose[1].shape))
        seen_by[_HIP] = (self.seen.pelvis[0] * self.mirror).transpose(2, 0, 1)
        by_thigh = thigh.followed(*self._moves("thigh"), seen_by)
        # What moves the thigh moves the knee that the shank hangs on.
        seen_by = by_thigh.origin
        if self.seen.foot is not None:
            seen_by[_ANKLE] = (self.seen.foot[0] * self.mirror).transpose(2, 0, 1)
        by_shank = shank.followed(*self._moves("shank"), seen_by)
        parts = [by.left * np.sqrt(group.weights)[:, None] for by, group in ((by_thigh, thigh), (by_shank, shank))]
        between = _between(thigh, shank)
        # A turn ω before and one after the rotation between them: -[ω]× B and B [ω]×, of which two entries are asked for.
        before, after = by_thigh.turn, by_shank.turn
        xx, xy, yy = between[:, 0, 0], between[:, 0, 1], between[:, 1, 1]
        yz, zx, zz = between[:, 1, 2], between[:, 2, 0], between[:, 2, 2]
        x, y, z = before[..., 0], before[..., 1], before[..., 2]
        hinge = y * xy - x * yy
        twist = z * yz - y * zz
        x, y, z = after[..., 0], after[..., 1], after[..., 2]
        hinge += x * zz - z * zx
        twist += y * xx - x * xy
        parts += [np.nan_to_num(hinge) / _BEYOND_HINGE_RAD, np.nan_to_num(twist) / _TWIST_RAD]
        change = np.concatenate([*(part.reshape(unknown.size, -1) for part in parts), np.diag(1 / self.spread)], axis=1)
        return self._disagree(unknown, thigh, shank), change.T

    def _moves(self, segment: str) -> tuple[NDArray[np.int64], Floats]:
        """Which point of a segment each unknown moves (U,), and how in the segment's axes (U, 3).

        One of its own markers, the ankle, or the joint that it hangs on, which comes first after the markers.
        """
        own = [_marker(i) for i, (part, _) in enumerate(self.names) if part == segment]
        point, moved = np.full(self.mean.size, len(own)), np.zeros((self.mean.size, 3))
        moved[_LENGTH_OF[segment]] = _ALONG
        for place, unknowns in enumerate(own):
            point[unknowns], moved[unknowns] = place, np.diag(self.mirror)
        if segment == "shank" and self.seen.foot is not None:
            point[_ANKLE] = len(own) + 1
        return point, moved

    def told(self, unknown: Floats, covariance: Floats, residual_m: float) -> FittedLeg:
        sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
        place = {name: _marker(i) for i, (_, name) in enumerate(self.names)}
        of = {"hip": _HIP, **{segment: slice(number, number + 1) for segment, number in _LENGTH_OF.items()}}
        # How far a joint is from where it is put shows in how far its own marker is from it.
        for joint, stem in ((joint, BESIDE_JOINT[joint][0]) for joint in ("knee", "ankle")):
            name = next((name for name in place if name.partition(".")[0] == stem), None)
            of[joint] = _ANKLE if name is None else place[name]
        thigh_m, shank_m = (float(unknown[_LENGTH_OF[segment]]) for segment in ("thigh", "shank"))
        return FittedLeg(
            unknown[_HIP] * self.mirror, thigh_m, shank_m, self.markers(unknown, "thigh"),
            self.markers(unknown, "shank"), unknown[_ANKLE] * self.mirror,
            {name: float(np.linalg.norm(sd[part])) for name, part in of.items()}, residual_m,
        )  # fmt: skip


def _marker(number: int) -> slice:
    """Where the three unknowns of a marker stand."""
    return slice(_FIRST_MARKER + 3 * number, _FIRST_MARKER + 3 * number + 3)


def _carried(pose: tuple[Floats, Floats], local: Floats) -> Floats:
    """A place (3,) on a body in the laboratory (N, 3)."""
    return np.asarray(pose[1] + pose[0] @ local)


def _between(thigh: FittedGroup, shank: FittedGroup) -> Floats:
    """Rotations (N, 3, 3) of the shank seen from the thigh."""
    return np.asarray(np.swapaxes(thigh.pose[0], 1, 2) @ shank.pose[0])


def fit_legs(seen: Mapping[str, LegSeen], stature_m: float) -> dict[str, FittedLeg]:
    """Both legs (or one), by side, fitted together: left and right of one person are nearly alike.

    Frames in which something is missing take part with what is there. Source of the proportions: ``LENGTHS``.
    """
    legs = {side: _Leg(one, stature_m) for side, one in seen.items()}
    # What was never seen together (damaged files) gives no place to begin from: such a leg cannot be fitted.
    legs = {side: leg for side, leg in legs.items() if np.isfinite(leg.mean).all()}
    if not legs:
        return {}
    sizes = [leg.mean.size for leg in legs.values()]
    parts = [slice(a, b) for a, b in zip(np.cumsum([0, *sizes[:-1]]), np.cumsum(sizes), strict=True)]
    alike = SIDES_DIFFER * np.array([LENGTHS["thigh"].mean, LENGTHS["shank"].mean]) * stature_m * np.sqrt(2.0)

    def sides(unknown: Floats) -> Floats:
        if len(parts) < 2:
            return np.zeros(0)
        first, second = (unknown[part] for part in parts)
        lengths = slice(_LENGTH_OF["thigh"], _LENGTH_OF["shank"] + 1)
        return np.concatenate([(first[lengths] - second[lengths]) / alike, (first[_HIP] - second[_HIP]) / (0.5 * _HIP_SD_M)])

    # It is linear: what a unit of each unknown gives is how it changes.
    of_sides = np.stack([sides(one) for one in np.eye(sum(sizes))], axis=1)

    def slopes(unknown: Floats) -> tuple[Floats, Floats]:
        """Each leg's residuals change with its own unknowns only, those between the sides with both."""
        own = [leg.slopes(unknown[part]) for leg, part in zip(legs.values(), parts, strict=True)]
        residuals = np.concatenate([*(apart for apart, _ in own), sides(unknown)])
        # Laid out by unknowns, as each leg's are.
        change = np.zeros((unknown.size, residuals.size)).T
        row = 0
        for (apart, by_unknown), part in zip(own, parts, strict=True):
            change[row : row + apart.size, part] = by_unknown
            row += apart.size
        change[row:] = of_sides
        return residuals, change

    found = fit_robustly(slopes, np.concatenate([leg.start() for leg in legs.values()]))
    covariance = np.linalg.inv(found.curvature)
    result = {}
    for (side, leg), part in zip(legs.items(), parts, strict=True):
        told = leg.residuals(found.unknown[part])[: -leg.mean.size]
        result[side] = leg.told(found.unknown[part], covariance[part, part], float(np.sqrt(np.mean(told**2))))
    return result
