"""Joints of a skeleton to body parts: by name where it decides, by hierarchy and geometry where it does not."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import resources

import numpy as np

from ..errors import LandmarkError
from ..take import Floats, Skeleton, Take
from .anatomy import ARM_SEGMENTS, LEG_SEGMENTS, SIDE_SUFFIXES
from .landmarks import side_of, without_person

_NEEDED = (*LEG_SEGMENTS[:3], *ARM_SEGMENTS)


@dataclass(frozen=True)
class SkeletonMap:
    """Index of the joint at the proximal end of each body part (names of SEGMENTS); -1 where the skeleton has none.

    toe_end: index of the joint or end site at the tip of the foot, left and right; hand_end likewise.
    """

    joint_of: dict[str, int]
    toe_end: tuple[int, int]
    hand_end: tuple[int, int]
    head_end: int

    def has_toe(self, index: int) -> bool:
        """Whether the skeleton has anything beyond the ankle of the left (0) or right (1) foot."""
        return self.toe_end[index] != self.joint_of["foot" + SIDE_SUFFIXES[index]]


def _names() -> dict[str, dict[str, list[str]]]:
    return tomllib.loads(resources.files(__package__).joinpath("joint_names.toml").read_text(encoding="utf-8"))


def _children(skeleton: Skeleton) -> list[list[int]]:
    children: list[list[int]] = [[] for _ in skeleton.parents]
    for joint, parent in enumerate(skeleton.parents):
        if parent >= 0:
            children[parent].append(joint)
    return children


def _ancestors(skeleton: Skeleton, joint: int) -> list[int]:
    """The joint and its ancestors, root last."""
    chain = [joint]
    while skeleton.parents[chain[-1]] >= 0:
        chain.append(int(skeleton.parents[chain[-1]]))
    return chain


def _by_name(take: Take) -> tuple[dict[str, int], dict[tuple[str, str], int]]:
    plain: dict[str, int] = {}
    sided: dict[tuple[str, str], int] = {}
    names = [without_person(label) for label in take.labels]
    begins = len(_common_beginning(names))
    for index, name in enumerate(names):
        suffix, rest = side_of(name[begins:])
        sided.setdefault((rest, suffix), index)
        plain.setdefault("".join(c for c in name[begins:].lower() if c.isalnum()), index)
    return plain, sided


def _common_beginning(names: Sequence[str]) -> str:
    """What all joints of a rig are called first ("dancer1_", "rig-"), up to a separator; "" where they have no such thing.

    A root that is called by it alone does not hinder it.
    """
    longer = sorted(name for name in names if len(name) > min(map(len, names))) or sorted(names)
    # What the first and the last in the alphabet share, all do.
    ends = (place for place, letter in enumerate(longer[0], start=1) if not letter.isalnum())
    return max((longer[0][:end] for end in ends if longer[-1].startswith(longer[0][:end])), key=len, default="")


def _end_of(children: list[list[int]], joint: int, positions: Floats) -> int:
    """The farthest descendant of a joint (tip of a foot, a hand or the head)."""
    reach, stack = [joint], [joint]
    while stack:
        following = children[stack.pop()]
        reach += following
        stack += following
    distance = np.linalg.norm(positions[reach] - positions[joint], axis=1)
    return reach[int(np.argmax(distance))]


def map_skeleton(take: Take) -> SkeletonMap:
    """Find the body in a skeleton take.

    Raises LandmarkError naming the parts that no joint stands for.
    """
    skeleton = take.skeleton
    if skeleton is None:
        raise LandmarkError(f"{take.file} holds markers, not a skeleton.")
    tables = _names()
    plain, sided = _by_name(take)
    children = _children(skeleton)
    joint_of: dict[str, int] = {}
    for suffix in SIDE_SUFFIXES:
        for part, words in tables["sided"].items():
            taken = set(joint_of.values())
            found = [sided[word, suffix] for word in words if (word, suffix) in sided and sided[word, suffix] not in taken]
            if part == "clavicle":
                # A "shoulder" is a clavicle only when another joint is the upper arm.
                arm = [sided[w, suffix] for w in tables["sided"]["upper_arm"] if (w, suffix) in sided]
                found = [joint for joint in found if arm and joint != arm[0]]
            joint_of[part + suffix] = found[0] if found else -1
    missing = [part + suffix for part in _NEEDED for suffix in SIDE_SUFFIXES if joint_of[part + suffix] < 0]
    if missing:
        raise LandmarkError(
            f"{take.file}: no joint could be recognised as {', '.join(missing[:4])}{' …' if len(missing) > 4 else ''}. "
            f"The skeleton has: {', '.join(take.labels[:12])}{' …' if len(take.labels) > 12 else ''}. Name its joints after the "
            "parts that begin there (left thigh, left shank, left foot, left upper arm, left forearm, left hand, …)."
        )
    legs = [set(_ancestors(skeleton, joint_of["thigh" + suffix])) for suffix in SIDE_SUFFIXES]
    shared = [joint for joint in _ancestors(skeleton, joint_of["thigh.L"]) if joint in legs[1]]
    pelvis = shared[0] if shared else _ancestors(skeleton, joint_of["thigh.L"])[-1]
    joint_of["pelvis"] = pelvis
    arms = _ancestors(skeleton, joint_of["upper_arm.L"])
    right_arm = set(_ancestors(skeleton, joint_of["upper_arm.R"]))
    thorax = next((joint for joint in arms if joint in right_arm), pelvis)
    joint_of["thorax"] = thorax
    trunk = [joint for joint in _ancestors(skeleton, thorax) if joint not in set(_ancestors(skeleton, pelvis))]
    joint_of["lumbar"] = trunk[-1] if trunk else thorax
    heads = [plain[word] for word in tables["central"]["head"] if word in plain]
    joint_of["head"] = heads[0] if heads else -1
    neck = [joint for joint in _ancestors(skeleton, heads[0]) if skeleton.parents[joint] == thorax] if heads else []
    joint_of["neck"] = neck[0] if neck else joint_of["head"]
    rest = skeleton.rest_positions_m
    toe_end, hand_end = [], []
    for suffix in SIDE_SUFFIXES:
        toe_end.append(_end_of(children, joint_of["foot" + suffix], rest))
        hand_end.append(_end_of(children, joint_of["hand" + suffix], rest))
    head_end = _end_of(children, joint_of["head"], rest) if joint_of["head"] >= 0 else -1
    return SkeletonMap(joint_of, (toe_end[0], toe_end[1]), (hand_end[0], hand_end[1]), head_end)
