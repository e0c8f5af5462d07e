"""The numbers that are compared, as curves, and how far each may be off."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from ..body.movement import JOINTS, SIDES, SUFFIXES, Movement
from ..take import Floats
from .poses import leg_length_m, rooted

#: Errors are wider by this factor from a solved skeleton, and without a static take. Proposed defaults (as in the findings).
_SKELETON, _WITHOUT_STATIC = 1.5, 1.5
#: With the heel higher than this the foot stands on its ball: its direction is twice as uncertain. Source: catalogue 3.6.
_RISEN_MM, _ON_THE_BALL = 25.0, 2.0


@dataclass(frozen=True)
class Quantity:
    """One number of the body. name: with .L or .R. within, absolute: 1-SD errors in ``unit``. parts: segments that show it."""

    name: str
    unit: str
    within: float
    absolute: float
    parts: tuple[str, ...]


@cache
def quantities() -> tuple[Quantity, ...]:
    """All quantities, left before right."""
    table = tomllib.loads((Path(__file__).parent / "quantities.toml").read_text(encoding="utf-8"))
    return tuple(
        Quantity(
            name + suffix,
            item.get("unit", "deg"),
            float(item["within"]),
            float(item["absolute"]),
            tuple(part + suffix for part in item["parts"]),
        )
        for name, item in table.items()
        for suffix in (SUFFIXES.values() if item.get("sided") else ("",))
    )


def curves(movement: Movement, leg_m: float) -> Floats:
    """The quantities (F, Q) in the order of ``quantities``, in their units; lengths as they would be with legs of ``leg_m``.

    NaN where a sample is not known.
    """
    scale = 1000 * leg_m / leg_length_m(movement)
    with np.errstate(invalid="ignore", divide="ignore"):
        places = rooted(movement)
    made: dict[str, Floats] = {"centre_of_mass_height": scale * movement.centre_of_mass_m[:, 2]}
    for side, suffix in SUFFIXES.items():
        away = places[:, JOINTS.index("wrist" + suffix)] - places[:, JOINTS.index("pelvis")]
        made["wrist_forward" + suffix] = scale * away[:, 0]
        made["wrist_outward" + suffix] = scale * away[:, 1] * (1.0 if side == "left" else -1.0)
        made["wrist_height" + suffix] = scale * away[:, 2]
        made["heel_height_mm" + suffix] = scale * movement.heel_height_m(side)
    columns = []
    for quantity in quantities():
        if quantity.name in made:
            columns.append(made[quantity.name])
        else:
            columns.append(np.degrees(movement.told(quantity.name)))
    return np.stack(columns, axis=1)


def errors(movement: Movement, *, within: bool) -> Floats:
    """1-SD error (F, Q) of every quantity in every frame, in its unit; ``within``: of changes while the markers stay on."""
    base = np.array([quantity.within if within else quantity.absolute for quantity in quantities()])
    if movement.kind == "skeleton":
        base = base * _SKELETON
    if not within and not movement.standing.from_static:
        base = base * _WITHOUT_STATIC
    result = np.broadcast_to(base, (movement.frames, base.size)).copy()
    names = [quantity.name for quantity in quantities()]
    for side in SIDES:
        risen = np.nan_to_num(1000 * movement.heel_height_m(side)) > _RISEN_MM
        result[risen, names.index("foot_turnout" + SUFFIXES[side])] *= _ON_THE_BALL
    return result


def sampled(values: Floats, rate_hz: float, time_s: Floats) -> Floats:
    """Rows (N, …) of values (F, …) at times (N,), by straight lines; NaN beside unknown samples; the ends go on."""
    place = np.clip(time_s * rate_hz, 0, len(values) - 1)
    low = np.minimum(place.astype(np.int64), max(len(values) - 2, 0))
    share = (place - low).reshape(-1, *(1,) * (values.ndim - 1))
    return np.asarray(values[low] * (1 - share) + values[np.minimum(low + 1, len(values) - 1)] * share)
