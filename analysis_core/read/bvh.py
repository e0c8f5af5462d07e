"""BVH: one skeleton take from a hierarchy and its motion; what the format leaves open is inferred and listed."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import TakeError
from ..medians import median_of_known
from ..settings import Settings
from ..take import Floats, Inference, Skeleton, Take
from ..units import METRES_PER_UNIT, to_z_up
from ..wording import numbers
from ..wording import reading as say
from ..wording.numbers import body_heights
from .bvh_motion import MotionBlock, read_motion
from .bvh_skeleton import Hierarchy, forward_kinematics, local_rotations, position_channels, read_hierarchy
from .infer import (
    Guess,
    body_height,
    choose_up,
    nominal_rate,
    rate_is_believable,
    some_frames,
    stature_from_legs,
    unit_from_stature,
    up_from_body,
)
from .labels import distinct, lower_end, upper_end

_COMMENT = re.compile(r"(?:^|(?<=\s))(?:#|//).*$", re.MULTILINE)
_DECIMAL_COMMA = re.compile(r"(?<![\d,.])([-+]?\d+),(\d+)(?![\d,.])")

#: Joints that a root carries when it is a person and not a prop. Proposed default, no published norm.
_JOINTS_OF_A_PERSON = 8

#: How near its rest pose a first frame lies, and how far it jumps to the next, in body heights, to be left out as no part
#: of the movement. Proposed defaults, no published norm.
_NEAR_REST, _JUMP_FROM_REST = 0.06, 0.02


def decoded(data: bytes) -> str:
    """The text of a BVH file: UTF-8 or UTF-16 with a byte-order mark, UTF-8 without, or Western single bytes."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace").removeprefix("\ufeff")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _tidy(text: str) -> str:
    """The text without comments, with points as decimal signs and newlines as line ends."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "#" in text or "//" in text:
        text = _COMMENT.sub("", text)
    if "," in text:
        if not re.search(r"\d\.\d", text):
            text = _DECIMAL_COMMA.sub(r"\1.\2", text)
        text = text.replace(",", " ")
    return text


def _split(text: str, name: str) -> tuple[str, str]:
    start = re.search(r"\bHIERARCHY\b", text, re.IGNORECASE)
    motion = re.search(r"^\s*MOTION\b|\}\s*MOTION\b", text, re.IGNORECASE | re.MULTILINE)
    if not start or not motion or motion.start() < start.end():
        raise TakeError(f"{name}: it has no HIERARCHY followed by MOTION, so it is no whole BVH file. Export the take again.")
    return text[start.end() : motion.end() - len("MOTION")], text[motion.end() :]


def _rate(motion: MotionBlock, settings: Settings, name: str) -> tuple[float, Inference]:
    if settings.rate_hz is not None:
        return settings.rate_hz, Inference("rate", numbers.hertz(settings.rate_hz), say.AS_ASKED)
    if motion.frame_time is None:
        raise TakeError(f"{name}: it does not say how fast it was captured (no Frame Time). Give the rate, such as --rate 120.")
    try:
        rate, why = nominal_rate(motion.frame_time)
    except (ValueError, ZeroDivisionError, OverflowError):
        raise TakeError(f"{name}: its frame time is {motion.frame_time}. Give the rate, such as --rate 120.") from None
    if not rate_is_believable(rate):
        raise TakeError(
            f"{name}: its frame time is {numbers.as_written(motion.frame_time, 's')}, that is {numbers.frame_rate(rate)}, which "
            "cannot be right. Give the rate, such as --rate 120."
        )
    return rate, Inference("rate", numbers.hertz(rate), why)


def _starts_with_rest_pose(positions: Floats, rest: Floats, size: float) -> bool:
    """Whether the first frame only shows the pose of the skeleton: close to it, and left with a jump.

    positions (F, N, 3), rest (N, 3) in the file's units; the place in the room does not count.
    """
    if len(positions) < 4 or len(rest) < _JOINTS_OF_A_PERSON:
        return False
    pose = positions - positions[:, :1]
    steps = np.linalg.norm(np.diff(pose, axis=0), axis=2).mean(axis=1)
    later = steps[1:][np.isfinite(steps[1:])]
    usual = float(np.percentile(later, 99)) if len(later) else np.inf
    off_rest = float(np.linalg.norm(pose[0] - (rest - rest[0]), axis=1).mean())
    return bool(off_rest < _NEAR_REST * size and steps[0] > max(_JUMP_FROM_REST * size, 3 * usual))


def _person(hierarchy: Hierarchy, settings: Settings, name: str) -> tuple[list[int], list[Inference], list[str]]:
    """Indices of the joints of the person asked for, or of the first one when the file holds several."""
    groups = [np.flatnonzero(hierarchy.roots == root).tolist() for root in np.unique(hierarchy.roots)]
    people = [group for group in groups if len(group) >= _JOINTS_OF_A_PERSON]
    names = [hierarchy.joints[group[0]].name for group in people]
    if settings.person is not None:
        asked = settings.person.strip()
        for number, group in enumerate(people, start=1):
            root = hierarchy.joints[group[0]].name
            if asked in (str(number), root) or root.startswith((f"{asked}:", f"{asked}_")):
                return group, [Inference("person", root, say.AS_ASKED)], []
        held = ", ".join(names) or "none"
        raise TakeError(f"{name}: there is no person “{asked}” in it (it holds: {held}). Choose one of these with --person.")
    if len(people) > 1:
        warning = say.several_people(len(people), ", ".join(names))
        return people[0], [Inference("person", names[0], say.first_of(len(people)))], [warning]
    return [index for group in groups for index in group], [], []


def _only(hierarchy: Hierarchy, chosen: list[int]) -> Hierarchy:
    """The hierarchy of the chosen joints; columns keep their numbers."""
    place = {old: new for new, old in enumerate(chosen)}
    joints = tuple(replace(hierarchy.joints[index], parent=place.get(hierarchy.joints[index].parent, -1)) for index in chosen)
    return Hierarchy(joints, hierarchy.columns)


def _translations(hierarchy: Hierarchy, rows: Floats) -> tuple[Floats, list[Inference]]:
    """Translation of every joint in its parent's frame (F, N, 3); roots without their OFFSET."""
    values, present = position_channels(hierarchy, rows)
    offsets, parents = hierarchy.offsets, hierarchy.parents
    result = np.broadcast_to(offsets, values.shape).copy()
    result[:, parents < 0] = values[:, parents < 0]
    moving = np.flatnonzero((parents >= 0) & present.any(axis=1))
    if not len(moving):
        return result, []
    # Position channels below the root either take the place of the OFFSET or add to it: the bones tell.
    middle = median_of_known(values[:, moving])
    replaces = np.abs(middle - offsets[moving]).sum() <= np.abs(middle).sum()
    here = present[moving]
    added = np.where(here, 0.0 if replaces else offsets[moving], offsets[moving])
    result[:, moving] = values[:, moving] + added
    value = say.INSTEAD_OF_OFFSET if replaces else say.ADDED_TO_OFFSET
    return result, [Inference(say.CHANNELS_BELOW_ROOT, value, say.BONES_KEEP_LENGTH)]


def _root_offset(hierarchy: Hierarchy, positions: Floats, up: Floats, size: float) -> tuple[Floats, list[Inference]]:
    """What to add to all joints of each root (N, 3): its OFFSET or nothing, whichever puts the feet nearer to height 0."""
    shift = np.zeros((len(hierarchy.joints), 3))
    offsets, roots = hierarchy.offsets, hierarchy.roots
    inferred = []
    for root in np.unique(roots):
        if not offsets[root].any():
            continue
        members = roots == root
        heights = (positions[:, members] @ up).min(axis=1)
        lowest = float(np.percentile(heights[np.isfinite(heights)], 10))
        raised = float(offsets[root] @ up)
        added = abs(lowest + raised) <= abs(lowest)
        if abs(raised) < 0.02 * size:
            added, why = True, say.HEIGHT_UNCHANGED
        else:
            heights_after = body_heights((lowest + raised) / size), body_heights(lowest / size)
            why = say.lowest_joint(*(heights_after if added else heights_after[::-1]))
        if added:
            shift[members] = offsets[root]
        inferred.append(Inference("root OFFSET", "added" if added else "not added", why))
    return shift, inferred


def _up(settings: Settings, labels: tuple[str, ...], positions: Floats, rest: Floats) -> Guess:
    upper, lower = upper_end(labels), lower_end(labels)
    body = up_from_body(positions, upper, lower) or up_from_body(rest[None], upper, lower)
    return choose_up(settings.up, body, None, Guess("y", say.BVH_UP_BY_CUSTOM, False))


def _stature(labels: tuple[str, ...], parents: NDArray[np.int64], positions: Floats, rest: Floats, up: Floats) -> float:
    """Height of the body in the file's units: by its legs, else as it stands in the take, else of the rest pose."""
    lower = lower_end(labels)
    by_legs = stature_from_legs(rest, parents, lower)
    if by_legs > 0:
        return by_legs
    height = body_height(positions, upper_end(labels), lower, up)
    return height if height > 0 else float(np.ptp(rest @ up))


def _unit(settings: Settings, stature: float) -> tuple[float, Guess]:
    if settings.unit is not None:
        return METRES_PER_UNIT[settings.unit], Guess(settings.unit, say.AS_ASKED, True)
    return unit_from_stature(stature)


def read_bvh(path: Path, data: bytes, sha256: str, settings: Settings) -> Take:
    """Read a BVH file whose bytes are ``data``.

    Raises TakeError with a sentence when it is damaged, holds no motion, or does not tell its rate.
    """
    name = path.name
    skeleton_text, motion_text = _split(_tidy(decoded(data)), name)
    whole = read_hierarchy(skeleton_text, name)
    motion = read_motion(motion_text, whole.columns, name)
    rate_hz, rate = _rate(motion, settings, name)
    chosen, person, warnings = _person(whole, settings, name)
    hierarchy = _only(whole, chosen)
    labels = distinct(joint.name for joint in hierarchy.joints)
    local = local_rotations(hierarchy, motion.rows)
    translations, inside = _translations(hierarchy, motion.rows)
    positions, orientations = forward_kinematics(hierarchy.parents, translations, local)
    still = np.broadcast_to(np.eye(3), (1, len(labels), 3, 3))
    rest = forward_kinematics(hierarchy.parents, hierarchy.offsets[None], still)[0][0]
    some = some_frames(positions)
    up = _up(settings, labels, some, rest)
    turn = to_z_up(up.value)
    stature = _stature(labels, hierarchy.parents, some, rest, turn[2])
    first, skipped = 0, []
    if _starts_with_rest_pose(positions, rest, stature):
        first = 1
        skipped = [Inference("first frame", "left out", say.REST_POSE_FIRST)]
        positions, orientations = positions[1:], orientations[1:]
    shift, root = _root_offset(hierarchy, some_frames(positions), turn[2], stature or 1.0)
    metres, unit = _unit(settings, stature)
    if not unit.firm:
        warnings.append(say.size_not_known(unit.why))
    return Take(
        file=path,
        sha256=sha256,
        kind="skeleton",
        rate_hz=rate_hz,
        first_frame=1 + first,
        labels=labels,
        positions_m=(positions + shift) @ turn.T * metres,
        skeleton=Skeleton(hierarchy.parents, rest @ turn.T * metres, turn @ orientations @ turn.T),
        inferred=(
            Inference("up axis", up.value, up.why),
            Inference("unit", unit.value, unit.why),
            rate,
            *root,
            *inside,
            *skipped,
            *person,
        ),
        warnings=(*motion.warnings, *warnings),
    )
