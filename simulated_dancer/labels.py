"""Label habits for the landmarks: their names, a studio's plain words, and the abbreviations of the landmark atlas."""

from __future__ import annotations

from typing import Literal

Habit = Literal["landmarks", "words", "atlas"]

#: landmark -> (words, abbreviation of the published atlas, or one like it where the atlas has none).
NAMES = {
    "anterior_superior_iliac_spine": ("front of waist", "IAS"),
    "posterior_superior_iliac_spine": ("back of waist", "IPS"),
    "sacrum": ("sacrum", "SAC"),
    "thigh_1": ("lateral thigh", "TH1"),
    "thigh_2": ("front thigh", "TH2"),
    "lateral_femoral_epicondyle": ("lateral knee", "FLE"),
    "medial_femoral_epicondyle": ("medial knee", "FME"),
    "shank_1": ("lateral shank", "SK1"),
    "lateral_malleolus": ("lateral ankle", "FAL"),
    "medial_malleolus": ("medial ankle", "TAM"),
    "calcaneus": ("heel", "FCC"),
    "first_metatarsal_head": ("first metatarsal head", "FM1"),
    "second_metatarsal_head": ("second metatarsal head", "FM2"),
    "fifth_metatarsal_head": ("fifth metatarsal head", "FM5"),
    "navicular_tuberosity": ("inner arch", "FNT"),
    "big_toe_tip": ("big toe tip", "DP1"),
    "acromion": ("shoulder", "SAE"),
    "upper_arm_1": ("upper arm", "UA1"),
    "lateral_elbow_epicondyle": ("lateral elbow", "HLE"),
    "medial_elbow_epicondyle": ("medial elbow", "HME"),
    "forearm_1": ("forearm", "FA1"),
    "radial_styloid": ("wrist thumb side", "RSP"),
    "ulnar_styloid": ("wrist little finger side", "USP"),
    "third_metacarpal_head": ("third metacarpal head", "HM3"),
    "front_of_head": ("front head", "HDF"),
    "back_of_head": ("back head", "HDB"),
    "seventh_cervical_vertebra": ("seventh cervical vertebra", "CV7"),
    "tenth_thoracic_vertebra": ("tenth thoracic vertebra", "TV10"),
    "suprasternal_notch": ("suprasternal notch", "SJN"),
    "xiphoid_process": ("xiphoid process", "SXS"),
}


def label_of(landmark: str, habit: Habit) -> str:
    """The label of a landmark (with .L / .R) by a habit: "left heel", "LFCC"."""
    if habit == "landmarks":
        return landmark
    name, _, suffix = landmark.partition(".")
    label = NAMES[name][("words", "atlas").index(habit)]
    if not suffix:
        return label
    return f"{'left' if suffix == 'L' else 'right'} {label}" if habit == "words" else suffix + label
