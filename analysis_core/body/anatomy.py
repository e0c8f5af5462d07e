"""The human body as all of the core knows it: sides, joints, segments and what moves them, lengths and masses with their sources.

The places that markers are stuck to stand beside it in ``landmarks.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass

SIDES = ("left", "right")
SUFFIXES = {"left": ".L", "right": ".R"}
#: Which way each side of SIDES lies along the axis to the right.
SIDE_SIGNS = (-1.0, 1.0)

JOINTS = (
    *(
        f"{name}{suffix}"
        for suffix in (".L", ".R")
        for name in ("hip", "knee", "ankle", "heel", "toe", "shoulder", "elbow", "wrist", "hand")
    ),
    "pelvis",
    "lumbar",
    "neck",
    "head",
)

SEGMENTS = (
    "pelvis",
    "lumbar",
    "thorax",
    "neck",
    "head",
    *(
        f"{name}{suffix}"
        for suffix in (".L", ".R")
        for name in ("clavicle", "upper_arm", "forearm", "hand", "thigh", "shank", "foot", "toes")
    ),
)

#: Segments that move each segment; the pelvis is moved by none.
PARENTS = {
    "lumbar": "pelvis",
    "thorax": "lumbar",
    "neck": "thorax",
    "head": "neck",
    **{
        f"{name}{suffix}": parent if parent in ("pelvis", "thorax") else f"{parent}{suffix}"
        for suffix in (".L", ".R")
        for name, parent in (
            ("clavicle", "thorax"),
            ("upper_arm", "clavicle"),
            ("forearm", "upper_arm"),
            ("hand", "forearm"),
            ("thigh", "pelvis"),
            ("shank", "thigh"),
            ("foot", "shank"),
            ("toes", "foot"),
        )
    },
}
#: Where a segment aims: the one that begins at its far end; of those without any the end of the body.
NEXT = {
    "pelvis": "lumbar", "lumbar": "thorax", "thorax": "neck", "neck": "head", "clavicle": "upper_arm", "upper_arm": "forearm",
    "forearm": "hand", "thigh": "shank", "shank": "foot", "foot": "toes",
}  # fmt: skip
#: Points of a foot on the floor.
FOOT_POINTS = ("heel", "ball_medial", "ball_lateral", "toe")


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
#: Shoulder joint centre below the acromion, share of stature; from memory, ± 15 mm.
SHOULDER_BELOW_ACROMION = 0.025
#: Heel behind the ankle centre and ankle centre above the sole, shares of foot length; from memory.
HEEL_BEHIND_ANKLE = 0.24
ANKLE_HEIGHT = 0.27
#: Toe joints behind the tip of the big toe, share of foot length; from memory.
TOES_LENGTH = 0.26
#: Joint of the skull's base to the centre of the head, and that to its top, shares of stature; from memory.
SKULL_BASE_TO_HEAD_CENTRE = 0.05
HEAD_CENTRE_TO_VERTEX = 0.066
#: Left and right of one person differ by so much, 1 SD, as a share of the length; from memory, proposed default.
SIDES_DIFFER = 0.015
#: Heights of landmarks on a standing person as shares of stature: what stature is read from when the legs' markers are in doubt.
#: From the same figure as ``standing_places.toml``; from memory, good to 3 hundredths each.
STANDING_HEIGHTS = {
    "front_of_head": 0.953, "back_of_head": 0.959, "acromion": 0.837, "seventh_cervical_vertebra": 0.848,
    "suprasternal_notch": 0.825, "tenth_thoracic_vertebra": 0.724, "xiphoid_process": 0.731,
    "anterior_superior_iliac_spine": 0.564, "posterior_superior_iliac_spine": 0.578, "lateral_femoral_epicondyle": 0.279,
}  # fmt: skip


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
PAIRED_SEGMENTS = ("upper_arm", "forearm", "hand", "thigh", "shank", "foot")
