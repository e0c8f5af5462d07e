"""The shapes of a drawing: places in the laboratory, metres, at one moment; directions are unit vectors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..take import Floats

#: measured: where the dancer is. reference: where the number is counted from. band: where nothing would be said. aid: helps the
#: eye.
Role = Literal["measured", "reference", "band", "aid"]


@dataclass(frozen=True)
class Line:
    """A straight line between two places (3,)."""

    start: Floats
    end: Floats
    role: Role


@dataclass(frozen=True)
class Sweep:
    """The angle from one direction (3,) to another about an axis (3,) at a place (3,): an arc, or a filled sector for the band.

    angle_rad: signed, right-handed about the axis; ``first`` turned by it is the other direction.
    """

    centre: Floats
    first: Floats
    axis: Floats
    angle_rad: float
    radius_m: float
    role: Role


@dataclass(frozen=True)
class Bracket:
    """A length between two places (3,), closed by a short bar at both ends; as the band, a step of some depth."""

    base: Floats
    tip: Floats
    role: Role


@dataclass(frozen=True)
class Way:
    """The way of a point (K, 3) with its times (K,), seconds."""

    points: Floats
    time_s: Floats
    role: Role


@dataclass(frozen=True)
class Area:
    """A flat surface with its corners (K, 3) in order."""

    corners: Floats
    role: Role


@dataclass(frozen=True)
class Marks:
    """Single places (K, 3)."""

    points: Floats
    role: Role


Shape = Line | Sweep | Bracket | Way | Area | Marks

#: How the number is read from the shapes. angle: of the measured sweep. length: of the measured bracket, over ``parts``. lengths,
#: angles, areas: the measured one over the reference. time: of the measured way. count: how many measured marks. fall and stop:
#: 1 + the first measured length over the second.
Reading = Literal["angle", "length", "lengths", "angles", "time", "count", "areas", "fall and stop"]


@dataclass(frozen=True)
class Drawing:
    """One measure drawn at one moment.

    time_s: of the moment. reading: how the number is read from the shapes. number_at (3,): where it is written. words: the number
    with its ±, as people read it. parts: what a length is divided by (turns).
    """

    finding: str
    time_s: float
    shapes: tuple[Shape, ...]
    reading: Reading
    number_at: Floats
    words: str
    parts: float = 1.0

    @property
    def points(self) -> tuple[Floats, ...]:
        """Places that a picture has to hold."""
        places: list[Floats] = []
        for shape in self.shapes:
            if isinstance(shape, Line):
                places += [shape.start, shape.end]
            elif isinstance(shape, Bracket):
                places += [shape.base, shape.tip]
            elif isinstance(shape, Sweep):
                places.append(shape.centre + shape.radius_m * shape.first)
            elif isinstance(shape, Area):
                places += list(shape.corners)
            else:
                places += list(shape.points)
        return (*places, self.number_at)
