"""A recording whose markers all jump together between two frames, as one body: a room measured anew, or two recordings joined.

No body does that: what speeds up or stops goes on afterwards, and its parts do not do so alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..body.rigid import fit_rigid
from ..known import nothing_known_gives_nan
from ..take import Floats, Take
from ..wording import capture as say

#: All markers must jump by this (median, metres), and by so many times what is usual around it, in so many seconds.
_LEAST_M, _TIMES_USUAL, _AROUND_S = 0.006, 4.0, 0.25
#: The jump as one body leaves this share of it at most, and no more than this, metres: who turns holds the shape less well. Going
#: on before and after it leaves this share. Proposed defaults.
_LEFT, _LEFT_M, _GOES_ON = 0.25, 0.003, 0.5
#: Turning as well is believed when it leaves so much less than a shift alone.
_TURN_LEAVES = 0.7
#: So many markers tell it; more jumps are no measuring anew, and are left as they are. Proposed defaults.
_LEAST_MARKERS, _MOST_JUMPS = 8, 5


@dataclass(frozen=True)
class Jump:
    """All markers jump between ``frame`` and the next one: by rotation (3, 3) and shift (3,), so far in the middle, metres."""

    frame: int
    rotation: Floats
    shift: Floats
    size_m: float


def find_jumps(positions: Floats, rate_hz: float) -> list[Jump]:
    """Jumps of all markers of positions (F, N, 3) as one body, by time. Missing samples are passed over."""
    if len(positions) < 6 or positions.shape[1] < _LEAST_MARKERS:
        return []
    # Between a frame and the next one, by the two frames before and the two after: a jump is there, with half of it on either
    # side the other way.
    before, after = 1.5 * positions[1:-2] - 0.5 * positions[:-3], 1.5 * positions[2:-1] - 0.5 * positions[3:]
    missed = after - before
    with nothing_known_gives_nan():
        size = np.nan_to_num(np.nanmedian(np.linalg.norm(missed, axis=2), axis=1))
    around = max(4, round(_AROUND_S * rate_hz))
    found = []
    for place in (np.flatnonzero(size[1:-1] > _LEAST_M) + 1).tolist():
        beside = np.concatenate([size[max(0, place - around) : max(0, place - 1)], size[place + 2 : place + 2 + around]])
        highest = size[place] == size[max(0, place - 2) : place + 3].max()
        if highest and beside.size and size[place] > _TIMES_USUAL * np.median(beside) and _goes_on(missed[place - 1 : place + 2]):
            jump = _as_one_body(place + 1, before[place], after[place])
            found += [jump] if jump is not None else []
    return found if len(found) <= _MOST_JUMPS else []


def _goes_on(missed: Floats) -> bool:
    """Whether what is missed (3, N, 3) before, at and after a jump is one: half of it and the other way on either side."""
    jump = missed[1]
    off = np.linalg.norm(missed[[0, 2]] + 0.5 * jump, axis=2).max(axis=0)
    known = np.isfinite(off)
    return bool(
        known.sum() >= _LEAST_MARKERS and np.median(off[known]) < _GOES_ON * np.median(np.linalg.norm(jump[known], axis=1))
    )


def _as_one_body(frame: int, before: Floats, after: Floats) -> Jump | None:
    """The jump that carries places (N, 3) onto others, where nearly nothing is left of it."""
    known = np.isfinite(before).all(axis=1) & np.isfinite(after).all(axis=1)
    size = float(np.median(np.linalg.norm((after - before)[known], axis=1)))
    rotation, shift = np.eye(3), np.median((after - before)[known], axis=0)
    left = np.median(np.linalg.norm((after - before)[known] - shift, axis=1))
    turns, shifts, _ = fit_rigid(before[known], after[known][None])
    left_turned = np.median(np.linalg.norm(after[known] - before[known] @ turns[0].T - shifts[0], axis=1))
    if left_turned < _TURN_LEAVES * left:
        rotation, shift, left = turns[0], shifts[0], left_turned
    return Jump(frame, rotation, shift, size) if left < min(_LEFT * size, _LEFT_M) else None


def put_together(take: Take) -> Take:
    """The take with all that follows a jump put back to where the room was before, said in a warning.

    A take with force plates stays as it is: they tell where the room is.
    """
    if take.kind == "skeleton" or take.force_plates:
        return take
    jumps = find_jumps(take.positions_m, take.rate_hz)
    if not jumps:
        return take
    positions = take.positions_m.copy(order="K")
    for jump in reversed(jumps):
        positions[jump.frame + 1 :] = (positions[jump.frame + 1 :] - jump.shift) @ jump.rotation
    warnings = [say.jumps_together((jump.frame + 1) / take.rate_hz, jump.size_m) for jump in jumps]
    return replace(take, positions_m=positions, warnings=(*take.warnings, *warnings))
