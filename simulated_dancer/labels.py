"""Label habits for the landmarks: words, the landmark atlas' abbreviations, and short codes (shared label tables)."""

from __future__ import annotations

from typing import Literal

Habit = Literal["landmarks", "words", "atlas", "short"]

#: landmark -> (words, abbreviation of the published atlas, short code); markers without an abbreviation keep the short code.
_NAMES = {
    "anterior_superior_iliac_spine": ("front of waist", "IAS", "ASI"),
    "posterior_superior_iliac_spine": ("back of waist", "IPS", "PSI"),
    "sacrum": ("sacrum", "SAC", "SACR"),
    "thigh_1": ("lateral thigh", "TH1", "THI"),
    "thigh_2": ("front thigh", "TH2", "TH2"),
    "lateral_femoral_epicondyle": ("lateral knee", "FLE", "KNE"),
    "medial_femoral_epicondyle": ("medial knee", "FME", "KNM"),
    "shank_1": ("lateral shank", "SK1", "TIB"),
    "lateral_malleolus": ("lateral ankle", "FAL", "ANK"),
    "medial_malleolus": ("medial ankle", "TAM", "ANM"),
    "calcaneus": ("heel", "FCC", "HEE"),
    "first_metatarsal_head": ("first metatarsal head", "FM1", "MT1"),
    "second_metatarsal_head": ("second metatarsal head", "FM2", "TOE"),
    "fifth_metatarsal_head": ("fifth metatarsal head", "FM5", "MT5"),
    "big_toe_tip": ("big toe tip", "DP1", "HLX"),
    "acromion": ("shoulder", "SAE", "SHO"),
    "upper_arm_1": ("upper arm", "UA1", "UPA"),
    "lateral_elbow_epicondyle": ("lateral elbow", "HLE", "ELB"),
    "medial_elbow_epicondyle": ("medial elbow", "HME", "ELM"),
    "forearm_1": ("forearm", "FA1", "FRM"),
    "radial_styloid": ("wrist thumb side", "RSP", "WRA"),
    "ulnar_styloid": ("wrist little finger side", "USP", "WRB"),
    "third_metacarpal_head": ("third metacarpal head", "HM3", "FIN"),
    "front_of_head": ("front head", "HDF", "FHD"),
    "back_of_head": ("back head", "HDB", "BHD"),
    "seventh_cervical_vertebra": ("seventh cervical vertebra", "CV7", "C7"),
    "tenth_thoracic_vertebra": ("tenth thoracic vertebra", "TV10", "T10"),
    "suprasternal_notch": ("suprasternal notch", "SJN", "CLAV"),
    "xiphoid_process": ("xiphoid process", "SXS", "STRN"),
}


def label_of(landmark: str, habit: Habit) -> str:
    """The label of a landmark (with .L / .R) by a habit: "left heel", "LFCC", "LHEE"."""
    if habit == "landmarks":
        return landmark
    name, _, suffix = landmark.partition(".")
    label = _NAMES[name][("words", "atlas", "short").index(habit)]
    if not suffix:
        return label
    return f"{'left' if suffix == 'L' else 'right'} {label}" if habit == "words" else suffix + label
