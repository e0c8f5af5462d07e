"""The human body as all of the core knows it: sides, joints, segments and what moves them, landmarks, lengths, masses, sources.

The words for landmarks that are met in files stand beside it in ``landmarks.toml``, those for joints in ``joint_names.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

OneSide = Literal["left", "right"]
SIDES: tuple[OneSide, OneSide] = ("left", "right")
OTHER: dict[str, OneSide] = dict(zip(SIDES, reversed(SIDES), strict=True))
#: What follows the name of a joint, segment, angle or landmark of each side of SIDES.
SIDE_SUFFIXES = (".L", ".R")
SUFFIXES: dict[str, str] = dict(zip(SIDES, SIDE_SUFFIXES, strict=True))
OTHER_SUFFIX = dict(zip(SIDE_SUFFIXES, reversed(SIDE_SUFFIXES), strict=True))
#: Which way each side of SIDES lies along the axis to the right.
SIDE_SIGNS = (-1.0, 1.0)


def suffixes_of(side: str | None) -> tuple[str, ...]:
    """What follows the names of a side's joints and segments; of both sides where it is neither."""
    return (SUFFIXES[side],) if side in SUFFIXES else SIDE_SUFFIXES


#: Joints of a limb from the trunk outwards.
LEG_JOINTS, ARM_JOINTS = ("hip", "knee", "ankle"), ("shoulder", "elbow", "wrist")
JOINTS = (
    *(f"{name}{suffix}" for suffix in SIDE_SUFFIXES for name in (*LEG_JOINTS, "heel", "toe", *ARM_JOINTS, "hand")),
    "pelvis",
    "lumbar",
    "neck",
    "head",
)

#: Segments from the pelvis upwards, which markers of both sides share, and those of a limb from the trunk outwards.
TRUNK_SEGMENTS = ("pelvis", "lumbar", "thorax", "neck", "head")
LEG_SEGMENTS, ARM_SEGMENTS = ("thigh", "shank", "foot", "toes"), ("upper_arm", "forearm", "hand")
SIDED_SEGMENTS = ("clavicle", *ARM_SEGMENTS, *LEG_SEGMENTS)
SEGMENTS = (*TRUNK_SEGMENTS, *(f"{name}{suffix}" for suffix in SIDE_SUFFIXES for name in SIDED_SEGMENTS))

#: Where a segment aims: the one that begins at its far end; of those without any the end of the body.
NEXT = {
    first: second for chain in (TRUNK_SEGMENTS, ("clavicle", *ARM_SEGMENTS), LEG_SEGMENTS) for first, second in pairwise(chain)
}
#: Segments that move each segment; the pelvis is moved by none.
PARENTS = {
    **{
        second + suffix: first + suffix
        for suffix in ("", *SIDE_SUFFIXES)
        for first, second in NEXT.items()
        if second + suffix in SEGMENTS
    },
    **{f"clavicle{suffix}": "thorax" for suffix in SIDE_SUFFIXES},
    **{f"thigh{suffix}": "pelvis" for suffix in SIDE_SUFFIXES},
}
#: Segments of a limb from the trunk outwards, each with the joint it hangs on and the one at its far end.
LEG: tuple[tuple[str, str, str | None], ...] = (("thigh", "hip", "knee"), ("shank", "knee", "ankle"), ("foot", "ankle", None))
ARM: tuple[tuple[str, str, str | None], ...] = (("upper_arm", "shoulder", "elbow"), ("forearm", "elbow", "wrist"))
HAND = ("hand", "wrist", "hand")
#: The segment of a limb that begins at a joint, and the segment whose markers a joint centre rests on.
BEGINS_AT = {near: segment for segment, near, _ in (*LEG, *ARM, HAND)}
RESTS_ON = {
    **dict.fromkeys(("pelvis", "hip", "lumbar"), "pelvis"),
    **dict.fromkeys(("neck", "shoulder"), "thorax"),
    "head": "head",
    **{far: segment for segment, _, far in (*LEG, *ARM) if far},
    **dict.fromkeys(("heel", "toe"), "foot"),
    "hand": "forearm",
}
#: Points of a foot on the floor.
FOOT_POINTS = ("heel", "ball_medial", "ball_lateral", "toe")


@dataclass(frozen=True)
class Site:
    """A place on the body that a marker is stuck to. segment: what it moves with; central: it has no side; weight: how much it
    says of how its segment lies: skin over muscle slides more than skin over bone. Proposed default, no published norm."""

    segment: str
    central: bool = False
    weight: float = 1.0


#: Landmarks after the published atlas of skeletal landmark definitions (van Sint Jan 2007, from memory), and markers that follow
#: a segment anywhere on it.
LANDMARKS = {
    "anterior_superior_iliac_spine": Site("pelvis"),
    "posterior_superior_iliac_spine": Site("pelvis"),
    "sacrum": Site("pelvis", central=True),
    "greater_trochanter": Site("thigh", weight=0.2),
    "thigh_1": Site("thigh", weight=0.3),
    "thigh_2": Site("thigh", weight=0.3),
    "thigh_3": Site("thigh", weight=0.3),
    "lateral_femoral_epicondyle": Site("thigh"),
    "medial_femoral_epicondyle": Site("thigh"),
    "fibula_head": Site("shank"),
    "tibial_tuberosity": Site("shank"),
    "shank_1": Site("shank", weight=0.5),
    "shank_2": Site("shank", weight=0.5),
    "shank_3": Site("shank", weight=0.5),
    "lateral_malleolus": Site("shank"),
    "medial_malleolus": Site("shank"),
    "calcaneus": Site("foot"),
    "first_metatarsal_head": Site("foot"),
    "second_metatarsal_head": Site("foot"),
    "fifth_metatarsal_head": Site("foot"),
    # It sinks against the rest of the foot: how the foot lies is not read from it.
    "navicular_tuberosity": Site("foot", weight=0.05),
    "big_toe_tip": Site("toes"),
    "acromion": Site("clavicle"),
    "upper_arm_1": Site("upper_arm", weight=0.3),
    "upper_arm_2": Site("upper_arm", weight=0.3),
    "lateral_elbow_epicondyle": Site("upper_arm"),
    "medial_elbow_epicondyle": Site("upper_arm"),
    "forearm_1": Site("forearm", weight=0.5),
    "forearm_2": Site("forearm", weight=0.5),
    "radial_styloid": Site("forearm"),
    "ulnar_styloid": Site("forearm"),
    "third_metacarpal_head": Site("hand"),
    "seventh_cervical_vertebra": Site("thorax", central=True),
    "tenth_thoracic_vertebra": Site("thorax", central=True),
    "suprasternal_notch": Site("thorax", central=True),
    "xiphoid_process": Site("thorax", central=True, weight=0.7),
    "right_back": Site("thorax", central=True, weight=0.3),
    "front_of_head": Site("head"),
    "back_of_head": Site("head"),
}


def weight_of(landmark: str) -> float:
    """How much a landmark, with or without its side, says of how its segment lies; 1 for a studio's own."""
    site = LANDMARKS.get(landmark.partition(".")[0])
    return 1.0 if site is None else site.weight


#: Landmarks at both sides of a joint, the outer one first; at the wrist that of the thumb.
BESIDE_JOINT = {
    "knee": ("lateral_femoral_epicondyle", "medial_femoral_epicondyle"),
    "ankle": ("lateral_malleolus", "medial_malleolus"),
    "elbow": ("lateral_elbow_epicondyle", "medial_elbow_epicondyle"),
    "wrist": ("radial_styloid", "ulnar_styloid"),
}
#: Those on the axis of the joint at the near end of a segment: the wrist has more than one axis.
ON_AXIS = {BEGINS_AT[joint]: pair for joint, pair in BESIDE_JOINT.items() if joint != "wrist"}
#: Two of one height, of which the first lies in front of the second whatever the dancer does.
HIP_BONES = ("anterior_superior_iliac_spine", "posterior_superior_iliac_spine")
TOP_OF_TRUNK = ("suprasternal_notch", "seventh_cervical_vertebra")
MIDDLE_OF_TRUNK = ("xiphoid_process", "tenth_thoracic_vertebra")
HEAD_FRONT_AND_BACK = ("front_of_head", "back_of_head")
OPPOSITE = (HIP_BONES, TOP_OF_TRUNK, MIDDLE_OF_TRUNK, HEAD_FRONT_AND_BACK)
#: Landmarks of the ball of the foot, those nearer to its middle first, and two of them each of which the first lies outside.
BALL = ("second_metatarsal_head", "first_metatarsal_head", "fifth_metatarsal_head")
ACROSS_BALL = (("fifth_metatarsal_head", "first_metatarsal_head"), ("fifth_metatarsal_head", "second_metatarsal_head"))
HEEL, FOREFOOT = "calcaneus", ("first_metatarsal_head", "second_metatarsal_head", "fifth_metatarsal_head", "big_toe_tip")
#: The height of the inner arch.
ARCH = "navicular_tuberosity"
#: What tells where the front of a part is: the landmarks in front, and those behind.
FRONT_AND_BACK: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "pelvis": (HIP_BONES[:1], (*HIP_BONES[1:], "sacrum")),
    "thorax": ((TOP_OF_TRUNK[0], MIDDLE_OF_TRUNK[0]), (TOP_OF_TRUNK[1], MIDDLE_OF_TRUNK[1])),
    "head": (HEAD_FRONT_AND_BACK[:1], HEAD_FRONT_AND_BACK[1:]),
    "foot": (FOREFOOT, (HEEL,)),
}


def _anywhere_on(segment: str) -> tuple[str, ...]:
    """Markers that follow a segment anywhere on it."""
    return tuple(name for name in LANDMARKS if name.rstrip("_0123456789") == segment)


#: Landmarks of a limb from the trunk outwards, those at one height together, after what the limb hangs on.
ALONG_LEG = (HIP_BONES, _anywhere_on("thigh"), BESIDE_JOINT["knee"], _anywhere_on("shank"), BESIDE_JOINT["ankle"])
ALONG_ARM = (
    ("acromion",), _anywhere_on("upper_arm"), BESIDE_JOINT["elbow"], _anywhere_on("forearm"), BESIDE_JOINT["wrist"],
    ("third_metacarpal_head",),
)  # fmt: skip
#: Landmarks of a segment's neighbour on or near the axis of the joint between them, which hold their distance to both.
HELD_ACROSS: dict[str, tuple[str, ...]] = {
    **ON_AXIS,
    "hand": BESIDE_JOINT["wrist"],
    "toes": (HEEL, BALL[0]),
    "upper_arm": ("acromion",),
    "clavicle": TOP_OF_TRUNK,
}


@dataclass(frozen=True)
class Share:
    """A length as a share of stature, and how much people differ in it (1 SD, share of stature)."""

    mean: float
    spread: float


#: What a human body measures between its joint centres. Drillis and Contini 1966 as in Winter 2009: leg (hip above the floor)
#: 0.530, thigh 0.245, shank 0.246, ankle 0.039 above the floor, foot 0.152. Arms, trunk (hips to the middle of the neck's base)
#: and shoulders after de Leva 1996 (upper arm 0.160, forearm 0.153, hips to suprasternale 0.305); hips and neck to the middle of
#: the head (seventh cervical vertebra to vertex 0.140) too. Spreads: 4 to 8 % of a length between adults, wide enough for
#: children, whose legs are shorter by 6 to 8 %; from memory, proposed defaults.
LENGTHS = {
    "leg": Share(0.530, 0.030),
    "thigh": Share(0.245, 0.012),
    "shank": Share(0.246, 0.012),
    "ankle_height": Share(0.039, 0.007),
    "foot": Share(0.152, 0.010),
    "hips": Share(0.104, 0.014),
    "trunk": Share(0.300, 0.025),
    "shoulders": Share(0.205, 0.022),
    "upper_arm": Share(0.163, 0.014),
    "forearm": Share(0.152, 0.013),
    "neck_to_head": Share(0.115, 0.012),
}
#: Thigh and shank together, share of stature: the only one there is.
LEG_SHARE = LENGTHS["thigh"].mean + LENGTHS["shank"].mean
#: Thigh as a share of thigh and shank, and how much people differ in it (about two standard deviations). The same source.
THIGH_OF_LEG = Share(LENGTHS["thigh"].mean / LEG_SHARE, 0.022)
#: Wrist to the tip of the middle finger, and to the third metacarpal head, shares of stature. Winter 2009; from memory.
HAND_SHARE, PALM_SHARE = 0.108, 0.048
#: Statures of dancers that are believed: from about three years on to a tall man. Proposed default, no published norm.
STATURE_M = (0.9, 2.15)
#: Stature of a dancer of whom nothing is known. Proposed default.
USUAL_STATURE_M = 1.68
#: How tall people are, as a share, 1 SD; statures of grown dancers that are believed of a fall alone. From memory, proposed
#: defaults.
STATURE_SPREAD = 0.055
GROWN_M = (1.45, 1.95)
#: Chin to crown: of an adult of usual stature, and how much it grows with stature; children have large heads.
#: From memory of growth tables.
HEAD_M, HEAD_PER_M = 0.222, 0.04

#: Skin-to-centre distance of a usual marker of 14 mm; common practice, no source.
MARKER_RADIUS_M = 0.007
#: Breadths as a share of stature; from memory of common anthropometric tables, ± 10 %.
KNEE_BREADTH = 0.056
ANKLE_BREADTH = 0.041
ELBOW_BREADTH = 0.039
FOOT_BREADTH = 0.058
#: Front of the pelvis above the hip centres, from one front of it to the other, and at most from one back of it to the other
#: (0.058 ± 0.009, 1 SD, and three of them), shares of stature; from memory.
PELVIS_FRONT_ABOVE_HIPS, PELVIS_BREADTH, BACK_OF_PELVIS_AT_MOST = 0.06, 0.145, 0.085
#: Shoulder joint centre below the acromion, share of stature; from memory, ± 15 mm.
SHOULDER_BELOW_ACROMION = 0.025
#: Heel behind the ankle centre, share of foot length; from memory.
HEEL_BEHIND_ANKLE = 0.24
#: The heel's marker above the sole, share of stature; from memory.
HEEL_MARKER_ABOVE_SOLE = 0.0155
#: Toe joints behind the tip of the big toe, share of foot length; from memory.
TOES_LENGTH = 0.26
#: Joint of the skull's base to the centre of the head, and that to its top, shares of stature; from memory.
SKULL_BASE_TO_HEAD_CENTRE = 0.05
HEAD_CENTRE_TO_VERTEX = 0.066
#: The trunk at rest, along it from the middle of the hips (0) to the base of the neck (1): where the lumbar spine and the ribcage
#: begin.
LUMBAR_AT, THORAX_AT = 0.185, 0.50
#: Base of the neck and skull's base, forward and up, and the clavicle's inner end, forward and below the neck, shares of stature;
#: the base of the neck lies 0.12 below the centre of the head (C7 to head centre, from memory).
NECK_FORWARD, SKULL_BASE_UP = 0.003, 0.062
CLAVICLE_FORWARD, CLAVICLE_OUT, CLAVICLE_DOWN = 0.022, 0.012, 0.014
#: Shoulder joint below the base of the neck: by heights of landmarks from memory 0.025 to 0.045; looked at on skeletons.
SHOULDER_BELOW_NECK = 0.034
#: Centre of the head before and above the skull's base, shares of the head's height.
HEAD_CENTRE_FORWARD, HEAD_CENTRE_UP = 0.07, 0.42
#: FOOT_POINTS seen from the ankle: forward, up from the floor, outward; and where the toes begin; shares of the foot's length,
#: from memory.
FOOT_SHAPE = ((-0.218, 0.080, 0.0), (0.530, 0.068, -0.160), (0.497, 0.068, 0.160), (0.782, 0.041, -0.068))
TOES_AT = 0.515
#: Left and right of one person differ by so much, 1 SD, as a share of the length; from memory, proposed default.
SIDES_DIFFER = 0.015
#: What stature is read from when the legs' markers are in doubt: how high these are on a standing person.
TELL_STATURE = (*(name for pair in OPPOSITE for name in pair), "acromion", BESIDE_JOINT["knee"][0])


@dataclass(frozen=True)
class SegmentMass:
    """Mass as a share of the body and centre of mass as a share of the length from the proximal end, women and men."""

    mass: tuple[float, float]
    centre: tuple[float, float]


#: de Leva 1996, table 4 (young adults). Trunk: measured from suprasternale and from the seventh cervical vertebra; the middle
#: of both points serves as upper end here, so the mean of the two rows is used. Hand: wrist to third metacarpal head.
SEGMENT_MASSES = {
    "head": SegmentMass((0.0668, 0.0694), (0.4841, 0.5002)),
    "trunk": SegmentMass((0.4257, 0.4346), ((0.4151 + 0.4964) / 2, (0.4486 + 0.5138) / 2)),
    "upper_arm": SegmentMass((0.0255, 0.0271), (0.5754, 0.5772)),
    "forearm": SegmentMass((0.0138, 0.0162), (0.4559, 0.4574)),
    "hand": SegmentMass((0.0056, 0.0061), (0.7474, 0.7900)),
    "thigh": SegmentMass((0.1478, 0.1416), (0.3612, 0.4095)),
    "shank": SegmentMass((0.0481, 0.0433), (0.4352, 0.4395)),
    "foot": SegmentMass((0.0129, 0.0137), (0.4014, 0.4415)),
}
PAIRED_SEGMENTS = (*ARM_SEGMENTS, *LEG_SEGMENTS[:3])
