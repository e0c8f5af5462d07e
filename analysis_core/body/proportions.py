"""What is taken from tables when a recording does not show it: segment masses and body breadths."""

from __future__ import annotations

from dataclasses import dataclass

#: Skin-to-centre distance of a usual marker of 14 mm; common practice, no source.
MARKER_RADIUS_M = 0.007

#: Breadths as a share of stature; from memory of common anthropometric tables, ± 10 %.
KNEE_BREADTH = 0.056
ANKLE_BREADTH = 0.041
ELBOW_BREADTH = 0.039
FOOT_LENGTH = 0.152
FOOT_BREADTH = 0.058
#: Shoulder joint centre below the acromion, share of stature; from memory, ± 15 mm.
SHOULDER_BELOW_ACROMION = 0.025
#: Heel behind the ankle centre and ankle centre above the sole, shares of foot length; from memory.
HEEL_BEHIND_ANKLE = 0.24
ANKLE_HEIGHT = 0.27
#: Toe joints behind the tip of the big toe, share of foot length; from memory.
TOES_LENGTH = 0.26
#: Thigh and shank together, as a share of stature; from memory of a common table (0.245 + 0.246).
LEG_SHARE_OF_STATURE = 0.491
#: Wrist to third metacarpal head, share of stature; from memory.
HAND_SHARE_OF_STATURE = 0.048
#: Joint of the skull's base to the centre of the head, share of stature; from memory.
SKULL_BASE_TO_HEAD_CENTRE = 0.05
#: Centre of the head to its top, and middle of the neck's base to the centre of the head, shares of stature; from memory.
HEAD_CENTRE_TO_VERTEX = 0.066
NECK_TO_HEAD_CENTRE = 0.115


@dataclass(frozen=True)
class Share:
    """A length as a share of stature, and how much people differ in it (1 SD, share of stature)."""

    mean: float
    spread: float


#: What a human body measures. Means: Drillis and Contini 1966 as in Winter 2009 (thigh 0.245, shank 0.246, ankle 0.039, foot
#: 0.152, upper arm 0.186 from the top of the shoulder, forearm 0.146); base of the neck to the middle of the head from de Leva
#: 1996 (seventh cervical vertebra to vertex 0.140). Spreads: 4 to 5 % of a length between adults, wide enough for
#: children, whose legs are shorter by 6 to 8 %; from memory, proposed defaults.
SHARES = {
    "thigh": Share(0.245, 0.012),
    "shank": Share(0.246, 0.012),
    "foot": Share(0.152, 0.008),
    "ankle height": Share(0.039, 0.007),
    "upper arm": Share(0.172, 0.010),
    "forearm": Share(0.146, 0.008),
    "neck to head": Share(0.115, 0.012),
}
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
