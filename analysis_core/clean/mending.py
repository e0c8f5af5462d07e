"""What went wrong with the markers, found and put right before any gap is filled; each with its event."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..take import CleaningEvent, Floats, Mishap, Take
from .along_limbs import find_exchanged_along_limbs
from .distances import Distances
from .ghosts import Step, find_excursions, take_out
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
    mending = _Mending(take, landmark_of, segment_of)
    mending.put_labels_right()
    steps = mending.take_out_strays()
    mending.find_lost()
    return mending.put_moved_back(steps)


class _Mending:
    """A take on its way: positions (F, N, 3) as they are by now, what they say, and what was found so far."""

    def __init__(self, take: Take, landmark_of: Mapping[int, str], segment_of: Mapping[int, str]) -> None:
        self._take, self._rate_hz, self._landmark_of, self._segment_of = take, take.rate_hz, landmark_of, segment_of
        self._events: list[CleaningEvent] = []
        self._positions, apart, self._throughout, self._elsewhere = _in_place(take.positions_m, landmark_of, segment_of)
        self._survey_while_labels_may_be_wrong(apart)

    def _survey_while_labels_may_be_wrong(self, apart: Apart) -> None:
        self._apart, self._tears = apart, find_tears(self._positions, self._rate_hz, self._segment_of)
        self._surveyed = apart.survey(_SOUND)
        self._distances = Distances(self._positions, self._surveyed, self._segment_of, self._rate_hz)

    def _found(self, kind: Mishap, marker: int, start: int, end: int, repaired: bool, other: int | None = None) -> None:
        labels, last = self._take.labels, max(start, end - 1)
        also = None if other is None else labels[other]
        self._events.append(CleaningEvent(kind, labels[marker], also, start / self._rate_hz, last / self._rate_hz, repaired))

    def put_labels_right(self) -> None:
        """Undo labels that are exchanged, for a while or throughout, and leave out where it cannot be told whether they are."""
        frames = self._take.frames
        swaps = find_swaps(self._positions, self._distances, self._tears)
        along = find_exchanged_along_limbs(self._surveyed, self._landmark_of, frames)
        mixed_up = undo(self._positions, [*swaps, *along]) if swaps or along else self._positions
        neighbours = find_exchanged_neighbours(mixed_up, self._landmark_of)
        for swap in (*self._throughout, *together(swaps, [*along, *neighbours], frames)):
            self._found("swap", swap.first, swap.start, swap.end, swap.certain, swap.second)
        for marker in self._elsewhere:
            self._found("elsewhere", marker, 0, frames, False)
        if swaps or along or neighbours:
            self._positions = without_doubtful(undo(mixed_up, neighbours), swaps)
            touched = {marker for swap in (*swaps, *along, *neighbours) for marker in (swap.first, swap.second)}
            self._survey_while_labels_may_be_wrong(self._apart.changed(self._positions, touched))

    def take_out_strays(self) -> list[Step]:
        """Take out what is not on the body, put what comes late in time, and survey what is left; steps that markers made."""
        excursions, steps = find_excursions(self._positions, self._tears, self._distances.groups, self._rate_hz)
        for it in excursions:
            self._found("spike", it.marker, it.start, it.end, True)
        self._positions = take_out(self._positions, excursions)
        astray = find_astray(self._positions, self._distances, self._tears, self._rate_hz)
        for off in astray:
            if not off.for_good:
                self._found("spike", off.marker, off.start, off.end, True)
            self._positions[off.start : off.end, off.marker] = np.nan
        touched = {it.marker for it in excursions} | {off.marker for off in astray} | self._put_in_time()
        self._apart = self._apart.changed(self._positions, touched)
        self._surveyed = self._apart.survey()
        return steps

    def _put_in_time(self) -> set[int]:
        """Put markers in time that come late or early, and return them."""
        labels, end_s = self._take.labels, (self._take.frames - 1) / self._rate_hz
        late = find_late(self._positions, self._rate_hz, self._landmark_of, self._segment_of)
        told = [(marker, one.lag_s) for one in late for marker in one.markers]
        self._events += [CleaningEvent("late", labels[marker], None, 0.0, end_s, True, lag_s) for marker, lag_s in told]
        self._positions = in_time(self._positions, late, self._rate_hz)
        return {marker for marker, _ in told}

    def find_lost(self) -> None:
        """Tell of markers that came off."""
        for it in find_lost(self._positions, self._surveyed, self._rate_hz):
            self._found("fell-off", it.marker, it.start, it.end, False)

    def put_moved_back(self, steps: list[Step]) -> Mended:
        """Put markers back that were stuck on anew elsewhere, and hand on what there is now."""
        put_back_m = np.zeros(self._positions.shape[:2])
        moves = find_moved(self._positions, self._surveyed, steps, self._rate_hz, self._segment_of)
        for move in moves:
            self._found("moved", move.marker, move.start, move.end, bool(move.group))
            self._positions[move.end : move.until, move.marker] = put_back(self._positions, move)
            put_back_m[move.end : move.until, move.marker] = move.wander_m
        if moves:
            self._surveyed = self._apart.changed(self._positions, {move.marker for move in moves}).survey()
        return Mended(self._positions, put_back_m, tuple(sorted(self._events, key=lambda e: e.start_s)), self._surveyed)


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
