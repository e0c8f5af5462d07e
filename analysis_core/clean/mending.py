"""What went wrong with the markers, found and put right before any gap is filled; each with its event."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..take import CleaningEvent, Floats, Mishap, Take
from .along_limbs import find_exchanged_along_limbs
from .distances import Distances
from .ghosts import find_excursions, take_out
from .late import find_late, in_time
from .loosened import find_astray, find_lost
from .moved import find_moved, put_back
from .neighbours import find_exchanged_neighbours
from .out_of_place import find_off_body, find_out_of_place
from .rigidity import Apart, Survey
from .sides import find_exchanged_sides
from .swaps import Swap, find_swaps, together, undo, without_doubtful
from .tears import find_tears

#: Share of the take in which labels are taken for right: exchanged ones often stay so to the end. Proposed default.
_SOUND = 0.6


@dataclass(frozen=True)
class Mended:
    """positions_m (F, N, 3): labels put right, what is not on the body taken out, moved markers put back to where they sat.

    put_back_m (F, N): 0 where a sample is as measured, else the expected error of one that was put back. events: by their start.
    surveyed: the distances between these positions.
    """

    positions_m: Floats
    put_back_m: Floats
    events: tuple[CleaningEvent, ...]
    surveyed: Survey


def mend(take: Take, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> Mended:
    """Swaps undone, spikes and ghosts taken out, markers that came off found. The take itself is not changed."""
    rate_hz, labels, positions = take.rate_hz, take.labels, take.positions_m

    def event(kind: Mishap, marker: int, start: int, end: int, repaired: bool, other: str | None = None) -> CleaningEvent:
        return CleaningEvent(kind, labels[marker], other, start / rate_hz, max(start, end - 1) / rate_hz, repaired)

    positions, apart, throughout, elsewhere = _in_place(positions, landmark_of, segment_of)
    tears, surveyed = find_tears(positions, rate_hz, segment_of), apart.survey(_SOUND)
    distances = Distances(positions, surveyed, segment_of, rate_hz)
    swaps = find_swaps(positions, distances, tears)
    along = find_exchanged_along_limbs(surveyed, landmark_of, take.frames)
    mixed_up = undo(positions, [*swaps, *along]) if swaps or along else positions
    neighbours = find_exchanged_neighbours(mixed_up, landmark_of)
    told = (*throughout, *together(swaps, [*along, *neighbours], take.frames))
    events = [event("swap", swap.first, swap.start, swap.end, swap.certain, labels[swap.second]) for swap in told]
    events += [event("elsewhere", marker, 0, take.frames, False) for marker in elsewhere]
    if swaps or along or neighbours:
        positions = without_doubtful(undo(mixed_up, neighbours), swaps)
        touched = {marker for swap in (*swaps, *along, *neighbours) for marker in (swap.first, swap.second)}
        apart = apart.changed(positions, touched)
        tears = find_tears(positions, rate_hz, segment_of)
        distances = Distances(positions, apart.survey(_SOUND), segment_of, rate_hz)

    excursions, steps = find_excursions(positions, tears, distances.groups, rate_hz)
    events += [event("spike", excursion.marker, excursion.start, excursion.end, True) for excursion in excursions]
    positions = take_out(positions, excursions)

    astray = find_astray(positions, distances, tears, rate_hz)
    events += [event("spike", it.marker, it.start, it.end, True) for it in astray if not it.for_good]
    for it in astray:
        positions[it.start : it.end, it.marker] = np.nan
    late = find_late(positions, rate_hz, landmark_of, segment_of)
    events += [
        CleaningEvent("late", labels[marker], None, 0.0, (take.frames - 1) / rate_hz, True, one.lag_s)
        for one in late
        for marker in one.markers
    ]
    positions = in_time(positions, late, rate_hz)
    taken_out = {it.marker for it in excursions} | {it.marker for it in astray}
    apart = apart.changed(positions, taken_out.union(*(one.markers for one in late)))
    surveyed = apart.survey()
    events += [event("fell-off", it.marker, it.start, it.end, False) for it in find_lost(positions, surveyed, rate_hz)]

    put_back_m = np.zeros(positions.shape[:2])
    moves = find_moved(positions, surveyed, steps, rate_hz, segment_of)
    for move in moves:
        events.append(event("moved", move.marker, move.start, move.end, bool(move.group)))
        positions[move.end : move.until, move.marker] = put_back(positions, move)
        put_back_m[move.end : move.until, move.marker] = move.wander_m
    if moves:
        surveyed = apart.changed(positions, {move.marker for move in moves}).survey()
    return Mended(positions, put_back_m, tuple(sorted(events, key=lambda e: e.start_s)), surveyed)


def _in_place(
    positions: Floats, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]
) -> tuple[Floats, Apart, list[Swap], tuple[int, ...]]:
    """Positions (F, N, 3) in which every marker is on the body part of its label throughout, how far apart they are, what labels
    were exchanged for that, and the markers that are left out for it."""
    apart = Apart(positions)
    on_body = positions
    off_body = find_off_body(positions, apart.survey(_SOUND), landmark_of, segment_of)
    if off_body:
        on_body = positions.copy(order="K")
        on_body[:, off_body] = np.nan
    sides = find_exchanged_sides(on_body, landmark_of, segment_of)
    if sides:
        positions = undo(positions, sides)
        apart = apart.changed(positions, {index for swap in sides for index in (swap.first, swap.second)})
    out = find_out_of_place(positions, apart.survey(_SOUND), landmark_of, segment_of)
    if out.exchanged or out.lost:
        positions = undo(positions, list(out.exchanged))
        positions[:, out.lost] = np.nan
        apart = apart.changed(positions, {*out.lost, *(index for swap in out.exchanged for index in (swap.first, swap.second))})
    return positions, apart, [*sides, *out.exchanged], out.lost
