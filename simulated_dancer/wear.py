"""How the markers are worn: sets without some of them, markers that sit where their names do not say, habits of labelling."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..analysis_core.body.anatomy import ARCH, BESIDE_JOINT
from .labels import Habit
from .markers import MarkerPlace

#: The inner markers of knee and ankle, which most sets go without.
INNER = (BESIDE_JOINT["knee"][1], BESIDE_JOINT["ankle"][1])
#: What a small set goes without beside them.
SPARE = (
    *INNER, "sacrum", "thigh_2", "tenth_thoracic_vertebra", "medial_elbow_epicondyle", "upper_arm_1", "forearm_1",
    "first_metatarsal_head",
)  # fmt: skip


@dataclass(frozen=True)
class Wear:
    """without: landmarks (no side) that carry no marker. moved_m: landmark, with or without .L / .R, and how far from its place
    its marker sits in the segment's own axes, outward Z. habit: of the labels. arch: whether the inner arches carry a marker:
    most sets go without."""

    without: tuple[str, ...] = ()
    moved_m: tuple[tuple[str, tuple[float, float, float]], ...] = ()
    habit: Habit = "landmarks"
    arch: bool = False


AS_NAMED = Wear()


def worn(places: tuple[MarkerPlace, ...], wear: Wear) -> tuple[MarkerPlace, ...]:
    """The places that carry a marker, where it sits."""
    kept = []
    for place in places:
        name, _, side = place.landmark.partition(".")
        if name in wear.without or (name == ARCH and not wear.arch):
            continue
        x, y, z = place.place_m
        for landmark, (forward, up, outward) in wear.moved_m:
            if landmark in (name, place.landmark):
                x, y, z = x + forward, y + up, z + (-outward if side == "L" else outward)
        kept.append(replace(place, place_m=(x, y, z)))
    return tuple(kept)
