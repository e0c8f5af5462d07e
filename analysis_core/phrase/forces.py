"""Contacts from force plates: the floor itself tells when it is stood on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..body.movement import Movement
from ..runs import runs
from ..take import ForcePlate
from ..wording import capture as say
from .carrying import stance_mask
from .contacts import Feet
from .signals import bridged, lasting

#: A plate carries a foot above this vertical force, N: the limit of ForcePlate.centre_of_pressure_m; common practice, no source.
LOADED_N = 20.0
#: Forces below this may be an empty plate's, N; the load must exceed its spread so many times.
IDLE_N = 50.0
HUM_FACTOR = 5.0
#: The centre of pressure of a foot lies within this of the foot's points, m.
UNDER_FOOT_M = 0.15
#: A foot stands for at least this share of a plate's loading, and the other foot for less than the second.
OWN_SHARE = 0.6
OTHER_SHARE = 0.5
#: Events of plate and markers that are further apart than this are different events, s.
SAME_EVENT_S = 0.15
#: Shortest loading of a plate, and shortest unloading, s.
SHORTEST_S = 0.04


@dataclass(frozen=True)
class Agreement:
    """Contacts from the markers against the force plates: events compared, median and 95th percentile of |difference|, s."""

    events: int
    median_s: float
    worst_s: float

    def said(self) -> str:
        """In words."""
        return say.agrees_with_plates(self.events, self.median_s, self.worst_s)


def _plate_events(movement: Movement, feet: Feet, plate: ForcePlate) -> list[tuple[int, float, float]]:
    """Foot, start and end in seconds of every loading of one plate by one foot alone."""
    vertical = np.nan_to_num(plate.force_n[:, 2])
    shortest = max(1, round(SHORTEST_S * plate.rate_hz))
    # Plates drift and hum: loaded means so much above what the plate shows while nobody is on it.
    idle = vertical[np.abs(vertical) < IDLE_N]
    rest = float(np.median(idle)) if idle.size else 0.0
    hum = float(np.median(np.abs(idle - rest))) if idle.size else 0.0
    loaded = lasting(bridged(vertical > rest + max(LOADED_N, HUM_FACTOR * hum), shortest), shortest)
    time = np.arange(vertical.size) / plate.rate_hz
    events = []
    for start, stop in runs(loaded):
        inside = np.linspace(start, stop - 1, num=min(25, stop - start)).round().astype(np.int64)
        frame = np.clip((time[inside] * movement.rate_hz).round().astype(np.int64), 0, movement.frames - 1)
        points, pressure = movement.foot_points_m[frame][..., :2], plate.centre_of_pressure_m[inside, None, None, :2]
        across = np.linalg.norm(points - pressure, axis=-1)
        gap = np.median(np.where(np.isfinite(across), across, np.inf).min(axis=2), axis=0)
        standing = feet.on[frame].mean(axis=0)
        foot = int(np.argmax(np.where(gap < UNDER_FOOT_M, standing, -1.0)))
        other = 1 - foot
        # A plate that both feet stand on does not tell them apart.
        alone = standing[other] < OTHER_SHARE or gap[other] > UNDER_FOOT_M
        if gap[foot] < UNDER_FOOT_M and standing[foot] > OWN_SHARE and alone:
            first = -float("inf") if start == 0 else float(time[start])
            last = float("inf") if stop == vertical.size else float(time[stop - 1])
            events.append((foot, first, last))
    return events


def with_force_plates(movement: Movement, feet: Feet, plates: Sequence[ForcePlate]) -> tuple[Feet, Agreement | None]:
    """Feet whose touch-downs and lift-offs come from the plates where a plate carries one foot alone, and the agreement.

    A stance that begins before or ends after a plate keeps the markers' own time there. None when no event can be compared.
    """
    rate = movement.rate_hz
    same = SAME_EVENT_S * rate
    differences: list[float] = []
    stances = [list(feet.stances[foot]) for foot in range(2)]
    for plate in plates:
        for foot, start_s, end_s in _plate_events(movement, feet, plate):
            start, end = start_s * rate, end_s * rate
            for index, (on, off) in enumerate(stances[foot]):
                if min(off, end) - max(on, start) <= 0:
                    continue
                if abs(on - start) <= same and on > 0:
                    differences.append(abs(on - start) / rate)
                    on = start
                if abs(off - end) <= same and off < movement.frames - 1:
                    differences.append(abs(off - end) / rate)
                    off = end
                stances[foot][index] = (on, off)
    if not differences:
        return feet, None
    frames = movement.frames
    masks = [stance_mask(stances[foot], frames) for foot in range(2)]
    on_ground = np.stack(masks, axis=1)
    corrected = replace(
        feet,
        on=on_ground,
        heel=feet.heel & on_ground,
        toe=feet.toe & on_ground,
        stances=(tuple(stances[0]), tuple(stances[1])),
    )
    return corrected, Agreement(len(differences), float(np.median(differences)), float(np.percentile(differences, 95)))
