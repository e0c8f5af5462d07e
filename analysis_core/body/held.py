"""Segments that have lost their markers, held by the segments beside them and the joints between."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import CleanedTake, Floats
from .anatomy import ARM, LEG, SIDE_SUFFIXES
from .calibration import Calibration
from .geometry import apply
from .rigid import nearest_rotation
from .whole_body import Link, fit_tree, places_in_time, rotations_in_time

#: The joint that turns about one axis only: what lies across it is parallel but for the bend. (A forearm turns about itself too.)
_HINGE = "knee"
#: Two trees: between pelvis and thorax the trunk bends too much for one joint to hold both.
_TREES = (("pelvis", LEG), ("thorax", ARM))
#: Markers that ride on a segment rather than sit on it, as those of the shoulder blades do on the ribcage. Proposed default.
_RIDING_WEIGHT = 0.2
#: A segment stays unknown when its long axis (the whole of a root) is less certain than this, 1 SD. Proposed default.
_LEAST_CERTAIN_RAD = 0.15


#: Segments of a tree, parents first: each with what it hangs on (None for the root) and the joint between them.
_Order = list[tuple[str, str | None, str]]


@dataclass(frozen=True)
class Seen:
    """A body of F frames as far as each segment's own markers tell it, and what it was told from.

    index_of: marker by landmark; weight_of: what a landmark weighs in a segment. rotations (F, 3, 3), origins (F, 3) by segment,
    joints (F, 3) by joint; NaN where they are not known.
    """

    calibration: Calibration
    cleaned: CleanedTake
    index_of: Mapping[str, int]
    weight_of: Callable[[str, str], float]
    rotations: Mapping[str, Floats]
    origins: Mapping[str, Floats]
    joints: Mapping[str, Floats]

    def unknown(self, segment: str) -> NDArray[np.bool_]:
        """Where (F,) a segment's own markers do not tell its pose."""
        lost: NDArray[np.bool_] = ~np.isfinite(self.rotations[segment]).all(axis=(1, 2))
        return lost


@dataclass(frozen=True)
class Held:
    """Pose of one segment in the frames (N,) in which its own markers do not tell it.

    rotation (N, 3, 3), origin (N, 3); residual_m (N,): of the markers that are left, NaN without any; error_m (N,): expected
    1-SD error of the segment's far end.
    """

    frames: NDArray[np.int64]
    rotation: Floats
    origin: Floats
    residual_m: Floats
    error_m: Floats


def _order(root: str, limb: tuple[tuple[str, str, str | None], ...], calibration: Calibration) -> _Order:
    """The tree of a root and its limbs on both sides, as far as the body has them."""
    order: _Order = [(root, None, "")]
    for suffix in SIDE_SUFFIXES:
        carrier = root
        for stem, near, _ in limb:
            segment, name = stem + suffix, near + suffix
            if name not in calibration.joints.get(segment, {}) or name not in calibration.joints.get(carrier, {}):
                break
            order.append((segment, carrier, name))
            carrier = segment
    return order


def _links(order: _Order, seen: Seen, frames: NDArray[np.int64]) -> list[Link]:
    place = {segment: i for i, (segment, _, _) in enumerate(order)}
    links = []
    for segment, carrier, joint in order:
        local = seen.calibration.joints[segment]
        markers = {name: (at, seen.weight_of(name, segment)) for name, at in seen.calibration.landmarks[segment].items()}
        markers |= {name: (at, _RIDING_WEIGHT) for name, at in local.items() if name not in markers}
        markers = {name: both for name, both in markers.items() if name in seen.index_of}
        in_carrier = np.zeros((frames.size, 3))
        if carrier is not None:
            # A shoulder moves against the ribcage: it is where its own marker has it, as far as that is known.
            there = seen.joints[joint][frames] - seen.origins[carrier][frames]
            there = apply(seen.rotations[carrier][frames].swapaxes(1, 2), there)
            in_carrier = np.where(np.isfinite(there), there, seen.calibration.joints[carrier][joint])
        links.append(
            Link(
                -1 if carrier is None else place[carrier],
                in_carrier,
                np.zeros(3) if carrier is None else local[joint],
                np.array([at for at, _ in markers.values()]).reshape(-1, 3),
                tuple(seen.index_of[name] for name in markers),
                np.array([weight for _, weight in markers.values()]),
            )
        )
    return links


def _told(order: _Order, seen: Seen) -> NDArray[np.bool_]:
    """Whether (S, F) a segment, or one that hangs on it, has a marker beyond those on the joint that it hangs on."""
    there = np.isfinite(seen.cleaned.smooth_m[:, :, 0])
    landmarks = seen.calibration.landmarks
    told = np.zeros((len(order), there.shape[0]), dtype=np.bool_)
    place = {segment: i for i, (segment, _, _) in enumerate(order)}
    for i, (segment, carrier, _) in reversed(list(enumerate(order))):
        borrowed = landmarks[carrier] if carrier is not None else {}
        columns = [seen.index_of[name] for name in landmarks[segment] if name in seen.index_of and name not in borrowed]
        told[i] |= there[:, columns].any(axis=1)
        if carrier is not None:
            told[place[carrier]] |= told[i]
    return told


def _starts(order: _Order, body: Seen, frames: NDArray[np.int64]) -> tuple[Floats, NDArray[np.bool_]]:
    """Rotations (N, S, 3, 3) from where to begin, and whether (S,) anything tells how a segment is turned about its long axis.

    As measured; else as the segment was turned, just before and after, against those beside it; else as it was turned in the
    laboratory. A segment that was never seen starts parallel to the one across a hinge from it.
    """
    rotations = body.rotations
    known = {segment: ~body.unknown(segment) for segment, _, _ in order}
    beside: dict[str, list[tuple[str, Floats]]] = {segment: [] for segment, _, _ in order}
    above: dict[str, Floats] = {}
    for segment, carrier, joint in order:
        if carrier is not None:
            # How a segment is turned in the axes of the one it hangs on, in every frame.
            turned = rotations_in_time(rotations[carrier].swapaxes(1, 2) @ rotations[segment])
            seen = np.isfinite(turned).any()
            above[segment] = turned if seen else np.broadcast_to(np.eye(3), turned.shape)
            if seen or joint.startswith(_HINGE):
                beside[segment].append((carrier, above[segment]))
                beside[carrier].append((segment, above[segment].swapaxes(1, 2)))
    starts: dict[str, Floats] = {}
    for segment, carrier, _ in order:
        total = np.zeros((frames.size, 3, 3))
        for other, turned in beside[segment]:
            use = known[other][frames][:, None, None]
            total += np.where(use, np.nan_to_num(rotations[other][frames]) @ turned[frames], 0.0)
        told = np.abs(total).max(axis=(1, 2)) > 0
        if carrier is None:
            else_ = np.nan_to_num(rotations_in_time(rotations[segment])[frames])
        else:
            else_ = starts[carrier] @ above[segment][frames]
        start = np.where(told[:, None, None], total, else_)
        start = np.where(known[segment][frames][:, None, None], rotations[segment][frames], nearest_rotation(start))
        starts[segment] = start
    told_about = np.array([known[segment].any() or len(beside[segment]) > 0 for segment, _, _ in order])
    return np.stack([starts[segment] for segment, _, _ in order], axis=1), told_about


def _hold(order: _Order, seen: Seen) -> dict[str, Held]:
    unknown = np.stack([seen.unknown(segment) for segment, _, _ in order])
    frames = np.flatnonzero((unknown & _told(order, seen)).any(axis=0) & ~unknown.all(axis=0))
    if not frames.size:
        return {}
    links = _links(order, seen, frames)
    (start, turned), measured = _starts(order, seen, frames), seen.cleaned.smooth_m[frames]
    root = places_in_time(seen.origins[order[0][0]])[frames]
    middle = np.nanmean(measured[:, [c for link in links for c in link.columns]], axis=1)
    root = np.where(np.isfinite(root), root, middle)
    fit = fit_tree(links, measured, seen.cleaned.error_m[frames], start, root)
    held = {}
    for i, (segment, carrier, _) in enumerate(order):
        swing = fit.turn_sd_rad[:, i].max(axis=1) if carrier is None else fit.turn_sd_rad[:, i, ::2].max(axis=1)
        take = unknown[i, frames] & (swing < _LEAST_CERTAIN_RAD) & turned[i]
        if take.any():
            reach = max(float(np.linalg.norm(at - links[i].joint_in_own)) for at in seen.calibration.joints[segment].values())
            error = np.hypot(fit.place_sd_m[:, i], swing * reach)
            held[segment] = Held(frames[take], fit.rotations[take, i], fit.origins[take, i], fit.residual_m[take, i], error[take])
    return held


def hold_by_neighbours(seen: Seen) -> dict[str, Held]:
    """Poses of segments in the frames in which their own markers do not tell them, by segment; those that are not told either by
    what is beside them are missing.

    Whatever the segment's own markers tell is left as it is: a fit of the whole body is smoother there, not truer (Fiorentino
    2017). Source: catalogue 1.6.
    """
    held = {}
    for root, limb in _TREES:
        held.update(_hold(_order(root, limb, seen.calibration), seen))
    return held
