"""Markers in the words of the person who sticks them on."""

from __future__ import annotations

_PLACES = {
    "anterior_superior_iliac_spine": "front hip bone",
    "posterior_superior_iliac_spine": "back hip bone",
    "sacrum": "sacrum",
    "greater_trochanter": "side of the hip",
    "thigh_1": "outer thigh",
    "thigh_2": "front thigh",
    "thigh_3": "third thigh",
    "lateral_femoral_epicondyle": "outer knee",
    "medial_femoral_epicondyle": "inner knee",
    "fibula_head": "outer knee below the joint",
    "tibial_tuberosity": "front of the shin below the knee",
    "shank_1": "outer shin",
    "shank_2": "front shin",
    "shank_3": "third shin",
    "lateral_malleolus": "outer ankle",
    "medial_malleolus": "inner ankle",
    "calcaneus": "heel",
    "first_metatarsal_head": "big-toe ball",
    "second_metatarsal_head": "middle of the ball",
    "fifth_metatarsal_head": "little-toe ball",
    "navicular_tuberosity": "inner arch",
    "big_toe_tip": "big-toe tip",
    "acromion": "shoulder",
    "upper_arm_1": "outer upper arm",
    "upper_arm_2": "second upper arm",
    "lateral_elbow_epicondyle": "outer elbow",
    "medial_elbow_epicondyle": "inner elbow",
    "forearm_1": "forearm",
    "forearm_2": "second forearm",
    "radial_styloid": "thumb side of the wrist",
    "ulnar_styloid": "little-finger side of the wrist",
    "third_metacarpal_head": "middle knuckle",
    "seventh_cervical_vertebra": "back of the neck",
    "tenth_thoracic_vertebra": "middle of the back",
    "suprasternal_notch": "top of the breastbone",
    "xiphoid_process": "bottom of the breastbone",
    "right_back": "right back",
    "front_of_head": "front of the head",
    "back_of_head": "back of the head",
}
#: What a body part's markers are needed for, by the first part of the landmark's name or by its place.
_SERVES = {
    "calcaneus": "heel and foot findings",
    "first_metatarsal_head": "foot findings",
    "second_metatarsal_head": "foot findings",
    "fifth_metatarsal_head": "foot findings",
    "navicular_tuberosity": "arch findings",
    "big_toe_tip": "toe findings",
    "lateral_malleolus": "ankle and foot findings",
    "medial_malleolus": "ankle and foot findings",
    "shank_1": "knee and ankle findings",
    "shank_2": "knee and ankle findings",
    "shank_3": "knee and ankle findings",
    "fibula_head": "knee and ankle findings",
    "tibial_tuberosity": "knee and ankle findings",
    "lateral_femoral_epicondyle": "knee findings",
    "medial_femoral_epicondyle": "knee findings",
    "greater_trochanter": "hip and knee findings",
    "thigh_1": "hip and knee findings",
    "thigh_2": "hip and knee findings",
    "thigh_3": "hip and knee findings",
    "anterior_superior_iliac_spine": "hip findings",
    "posterior_superior_iliac_spine": "hip findings",
    "sacrum": "hip findings",
    "seventh_cervical_vertebra": "upper-body findings",
    "tenth_thoracic_vertebra": "upper-body findings",
    "suprasternal_notch": "upper-body findings",
    "xiphoid_process": "upper-body findings",
    "right_back": "upper-body findings",
    "front_of_head": "head and spotting findings",
    "back_of_head": "head and spotting findings",
}


def marker_in_words(label: str, landmark: str | None) -> str:
    """A marker as one calls it in the room, such as "Left heel"; an unknown one by its label in quotation marks."""
    if landmark is None:
        return f"“{label}”"
    stem, _, side = landmark.partition(".")
    place = _PLACES.get(stem, stem.replace("_", " "))
    words = {"L": "left ", "R": "right "}.get(side, "") + place
    return words[0].upper() + words[1:]


def what_it_serves(landmark: str | None) -> str:
    """The findings that need a landmark; "what it shows" for an unknown marker."""
    if landmark is None:
        return "what it shows"
    return _SERVES.get(landmark.partition(".")[0], "arm findings")


def head_of_table(take: str) -> tuple[str, str]:
    """What stands over a table of landmarks that were proposed."""
    return (
        f"Proposed from where the markers of {take} lie on the body. Check every line; correct or delete what is wrong.",
        "Confidence runs from 0 to 1. Lines behind # are not used: take the # away when they are right.",
    )


def not_proposed(label: str) -> str:
    """A marker that could be anything."""
    return f"no proposal: {label}"
