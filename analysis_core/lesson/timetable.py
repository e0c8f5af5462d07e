"""How the minutes of a class are spent: an integer programme over the parts that it could have."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import OptionError
from ..wording import numbers

#: A class is planned in half minutes.
STEP = 0.5
SHORTEST, LONGEST = 20, 120
#: Warm-up and cool-down are never shorter than this, minutes: in classes from 45 minutes on, and in shorter ones.
_FLOORS = {"warm-up": (8.0, 5.0), "cool-down": (4.0, 3.0)}
_FULL_FLOORS_FROM = 45
#: No jump in the last minutes of a class, and so many jump exercises in a row at most. Proposed defaults.
CALM_END = 5.0
JUMPS_IN_A_ROW = 2
#: What half a minute costs: away from a block's share, and away from the middle of what a part may take; and a bonus for coming
#: early, so small that it only decides between equals. Proposed defaults.
_OFF_SHARE, _OFF_MIDDLE, _BY_PLACE = 0.5, 0.02, 1e-4
_SOLVER_SECONDS = 10.0


@dataclass(frozen=True)
class Part:
    """Something that the class could hold. least, most: minutes; value: what it is worth; required: always in.

    below: in the plan only with this part; block: index into the blocks; parts stand in the order of the class.
    """

    id: str
    block: str
    least: float
    most: float
    value: float
    jumps: int = 0
    required: bool = False
    below: str | None = None


def shares(blocks: Mapping[str, float], minutes: float) -> dict[str, float]:
    """Minutes of each block for a class of this length, in half minutes, their sum exact.

    Scaled by largest remainder (ties: the earlier block); warm-up and cool-down keep their floors.
    """
    fixed: dict[str, float] = {}
    while True:
        free = {name: size for name, size in blocks.items() if name not in fixed}
        left = minutes - sum(fixed.values())
        exact = {name: left * size / sum(free.values()) / STEP for name, size in free.items()}
        short = 0 if minutes >= _FULL_FLOORS_FROM else 1
        broken = {name: _FLOORS[name][short] for name in free if name in _FLOORS and exact[name] * STEP < _FLOORS[name][short]}
        if not broken:
            break
        fixed |= broken
    halves = {name: int(size + 1e-9) for name, size in exact.items()}
    missing = round(left / STEP) - sum(halves.values())
    by_remainder = sorted(free, key=lambda name: -round(exact[name] - halves[name], 9))
    for name in by_remainder[:missing]:
        halves[name] += 1
    return {name: fixed[name] if name in fixed else halves[name] * STEP for name in blocks}


class _Rows:
    """The constraints of the programme, gathered row by row: low ≤ row · x ≤ high."""

    def __init__(self, size: int) -> None:
        self.size = size
        self.rows: list[NDArray[np.float64]] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def add(self, entries: Mapping[int, float], low: float, high: float) -> None:
        row = np.zeros(self.size)
        for index, value in entries.items():
            row[index] += value
        self.rows.append(row)
        self.low.append(low)
        self.high.append(high)


def _jump_rows(parts: Sequence[Part], taken: Sequence[int], length: Sequence[int], cap: int, rows: _Rows) -> None:
    """Jumps stay under the ceiling, come at most two in a row, and never in the last minutes."""
    rows.add({taken[i]: float(part.jumps) for i, part in enumerate(parts)}, 0, cap)
    jumping = [i for i, part in enumerate(parts) if part.jumps]
    for i in jumping:
        after = {length[j]: 1.0 for j in range(i + 1, len(parts))}
        rows.add({**after, taken[i]: -CALM_END / STEP}, 0, np.inf)
    for place, i in enumerate(jumping):
        for j in jumping[place + 1 :]:
            for k in jumping[jumping.index(j) + 1 :]:
                between = {taken[m]: -1.0 for m in range(i + 1, k) if not parts[m].jumps}
                rows.add({**between, taken[i]: 1.0, taken[j]: 1.0, taken[k]: 1.0}, -np.inf, JUMPS_IN_A_ROW)


def timetable(parts: Sequence[Part], blocks: Mapping[str, float], minutes: float, cap: int) -> dict[str, float]:
    """Minutes of every part that is taken, by id; they sum to ``minutes`` exactly and hold at most ``cap`` jumps.

    blocks: the share of each block (a part's minutes may leave it at a price; warm-up and cool-down only grow). Raises
    OptionError when no such class can be made. Solved exactly with HiGHS through scipy (Huangfu and Hall 2018).
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    n, names = len(parts), list(blocks)
    # The variables: taken (0 or 1) and length of each part, how far it is from its middle, and what each block lacks or has over.
    taken, length, away = (list(range(k * n, (k + 1) * n)) for k in range(3))
    lacks = [3 * n + 2 * b for b in range(len(names))]
    size = 3 * n + 2 * len(names)
    rows = _Rows(size)
    low, high, cost = np.zeros(size), np.full(size, np.inf), np.zeros(size)
    index = {part.id: i for i, part in enumerate(parts)}
    for i, part in enumerate(parts):
        least, most = round(part.least / STEP), round(part.most / STEP)
        low[i], high[i] = float(part.required), 1.0
        cost[i] = -part.value - _BY_PLACE * (n - i) / n
        cost[away[i]] = _OFF_MIDDLE
        cost[length[i]] = -_BY_PLACE * (n - i) / n / 10
        middle = (least + most) // 2
        rows.add({length[i]: 1.0, taken[i]: -least}, 0, np.inf)
        rows.add({length[i]: 1.0, taken[i]: -most}, -np.inf, 0)
        rows.add({away[i]: 1.0, length[i]: -1.0, taken[i]: middle}, 0, np.inf)
        rows.add({away[i]: 1.0, length[i]: 1.0, taken[i]: -middle}, 0, np.inf)
        if part.below is not None and part.below in index:
            rows.add({taken[i]: 1.0, index[part.below]: -1.0}, -np.inf, 0)
    for b, name in enumerate(names):
        share = blocks[name] / STEP
        members = {length[i]: 1.0 for i, part in enumerate(parts) if part.block == name}
        rows.add({**members, lacks[b]: 1.0, lacks[b] + 1: -1.0}, share, share)
        cost[lacks[b]] = cost[lacks[b] + 1] = _OFF_SHARE
        if name in _FLOORS:
            high[lacks[b]] = 0.0
    rows.add(dict.fromkeys(length, 1.0), minutes / STEP, minutes / STEP)
    _jump_rows(parts, taken, length, cap, rows)
    whole = np.concatenate([np.ones(2 * n), np.zeros(size - 2 * n)])
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(np.array(rows.rows), rows.low, rows.high),
        options={"mip_rel_gap": 0.0, "time_limit": _SOLVER_SECONDS},
    )
    if found.x is None:
        raise OptionError(
            f"No class of {numbers.minutes(minutes)} can be made of what is left. Take fewer things out, or change the length."
        )
    return {part.id: round(found.x[length[i]]) * STEP for i, part in enumerate(parts) if found.x[i] > STEP}
