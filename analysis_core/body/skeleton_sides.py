"""A skeleton whose names say left for right, or whose file is a mirror image: told by where its feet point, and put right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import LandmarkError
from ..take import Floats, Take
from ..wording import capture as say
from .anatomy import OTHER_SUFFIX, SIDE_SUFFIXES
from .joint_names import map_skeleton
from .landmarks import side_of, without_person

#: Frames that are looked at; hips and shoulders must both lie the wrong way round in this share of them. Proposed defaults.
_MOST_FRAMES, _MOSTLY = 300, 0.8


def sides_put_right(take: Take) -> Take:
    """The take with left and right exchanged in the names of its joints where the body would face backwards otherwise.

    Markers, and skeletons in which no body is found, come back as they are. Source: the construction of a body: left is to the
    left of where the feet point.
    """
    if take.kind != "skeleton" or not _faces_backwards(take):
        return take
    sides = [side_of(without_person(label)) for label in take.labels]
    label_of = dict(zip(reversed(sides), reversed(take.labels), strict=True))
    labels = tuple(
        label_of.get((OTHER_SUFFIX.get(suffix, ""), rest), label)
        for (suffix, rest), label in zip(sides, take.labels, strict=True)
    )
    if len(set(labels)) != len(labels):
        return take
    return replace(take, labels=labels, warnings=(*take.warnings, say.all_sides_exchanged()))


def _faces_backwards(take: Take) -> bool:
    try:
        body = map_skeleton(take)
    except LandmarkError:
        return False
    some = take.positions_m[:: max(1, take.frames // _MOST_FRAMES)]
    place = {part: some[:, joint] for part, joint in body.joint_of.items() if joint >= 0}
    toes = [some[:, body.toe_end[index]] - place["foot" + suffix] for index, suffix in enumerate(SIDE_SUFFIXES)]
    leftward: Floats = np.cross(place["thorax"] - place["pelvis"], toes[0] + toes[1])
    wrong = [((place[part + ".L"] - place[part + ".R"]) * leftward).sum(axis=1) < 0 for part in ("thigh", "upper_arm")]
    return bool(np.mean(wrong[0] & wrong[1]) > _MOSTLY)
