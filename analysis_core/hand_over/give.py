"""A review becomes what an animator is handed: one skeleton in motion, a body, pieces, and what there is to say about them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from ..body.anatomy import SIDES
from ..body.movement import SEGMENTS
from ..errors import OptionError
from ..figure.proportions import Rest
from ..review import Review
from ..wording import hand_over as words
from ..wording.numbers import span
from .body import Body, body_of
from .bone_names import known_names
from .holding import FLOOR_POINTS, Holding, hold_feet
from .honesty import Seconds, seconds_of
from .keys import Reduced, reduce_keys, told
from .loops import Loop, clips_of, find_loops, loops_told
from .measured import as_measured, beside_measured
from .pieces import Piece, pieces_of
from .planted import Planted, feet_on_floor, within
from .rig import ROOT, Rig, rig_of
from .skeleton import Skeleton
from .timing import at_rate, cut
from .wishes import Wishes


@dataclass(frozen=True)
class HandOver:
    """Everything that the writers need.

    figure: her body at rest, as the take measures it. holding: None where the feet stay as measured; kept_s: what was kept of the
    take; planted: stretches in which feet are held, in frames of the skeleton; reduced: curves of few keys, where they are asked
    for; loops: proposals, loop_clips: those that close well enough, named and closed. beside_m: joint -> median and greatest
    distance of the skeleton's joint from the measured one.
    """

    skeleton: Skeleton
    rig: Rig
    figure: Rest
    pieces: tuple[Piece, ...]
    holding: Holding | None
    seconds: Seconds
    kept_s: tuple[float, float]
    wishes: Wishes
    planted: tuple[Planted, ...]
    reduced: Reduced | None
    loops: tuple[Loop, ...]
    loop_clips: tuple[tuple[str, Rig], ...]
    beside_m: dict[str, tuple[float, float]]

    @cached_property
    def body(self) -> Body:
        """The body with weights of the rig's bones; made when it is first asked for, since not every format has one."""
        return body_for(body_of(self.figure, self.skeleton.rest), self.rig)


def body_for(body: Body, rig: Rig) -> Body:
    """A body with weights of SEGMENTS, for a rig that may have a bone on the floor before them."""
    before = np.zeros((len(body.weights), len(rig.names) - len(SEGMENTS)))
    return replace(body, weights=np.concatenate([before, body.weights[:, -len(SEGMENTS) :]], axis=1))


def hand_over(review: Review, wishes: Wishes) -> HandOver:
    """Prepare a reviewed take for the animator. Raises OptionError when nothing of the take can be shown."""
    movement = review.movement
    seconds = seconds_of(movement)
    start, stop = seconds.longest_usable
    if stop - start < 2:
        raise OptionError(f"{review.take.file}: there is no moment in which the whole body is known, so nothing to hand over.")
    on_floor = feet_on_floor(review.phrase.contacts, movement.rate_hz, movement.frames)
    rest, skeleton = as_measured(movement, on_floor, wishes.rest)
    holding = None
    if wishes.feet == "held":
        skeleton, holding = hold_feet(skeleton, movement, review.phrase.contacts)
    beside = beside_measured(skeleton, movement)
    if wishes.cut_unusable:
        skeleton = cut(skeleton, start, stop)
    else:
        start, stop = 0, movement.frames
    if wishes.rate_hz is not None and wishes.rate_hz != movement.rate_hz:
        skeleton = at_rate(skeleton, wishes.rate_hz)
    kept = (start / movement.rate_hz, stop / movement.rate_hz)
    rig = rig_of(skeleton, wishes.root)
    share = skeleton.rate_hz / movement.rate_hz
    loops = find_loops(skeleton)
    planted = () if holding is None else within(holding.kept, start, share, skeleton.frames)
    return HandOver(
        skeleton,
        rig,
        rest,
        _pieces(review, kept, skeleton),
        holding,
        seconds,
        kept,
        wishes,
        planted,
        reduce_keys(rig, planted) if wishes.reduce_keys else None,
        loops,
        clips_of(loops, wishes.root),
        beside,
    )


def _pieces(review: Review, kept_s: tuple[float, float], skeleton: Skeleton) -> tuple[Piece, ...]:
    """The pieces that lie inside what was kept, in frames of the skeleton."""
    movement = review.movement
    share = skeleton.rate_hz / movement.rate_hz
    first = round(kept_s[0] * movement.rate_hz)
    found = []
    for piece in pieces_of(review.phrase.phases, movement.frames, movement.rate_hz):
        start, stop = round((piece.start - first) * share), round((piece.stop - first) * share)
        if start >= 0 and stop <= skeleton.frames and stop - start > 1:
            found.append(Piece(piece.name, start, stop))
    return tuple(found)


def marks_of(given: HandOver) -> dict[str, list[tuple[float, float]]]:
    """Filled and unusable stretches, in seconds from the first frame of what was kept."""
    begin, end = given.kept_s
    kept = {}
    for what in ("filled", "unusable"):
        within = [(max(first, begin) - begin, min(last, end) - begin) for first, last in getattr(given.seconds, what)]
        kept[what] = [(first, last) for first, last in within if last > first]
    return kept


def extras_of(given: HandOver) -> dict[str, str]:
    """What goes into the files as custom properties: words that are true wherever the file ends up."""
    marks = marks_of(given)
    words = {f"{what}_s": ", ".join(span(a, b, 3) for a, b in stretches) or "none" for what, stretches in marks.items()}
    return {"rest_pose": given.rig.pose, "feet": given.wishes.feet, "root_motion": given.wishes.root, **words}


def _distances(far_m: dict[str, tuple[float, float]]) -> dict[str, dict[str, float]]:
    # To a micrometre: what is less is the last digits of the computing.
    return {name: {"median": round(1000 * usual, 3), "greatest": round(1000 * most, 3)} for name, (usual, most) in far_m.items()}


def _holding_told(holding: Holding, rate_hz: float) -> dict[str, Any]:
    """What holding the feet did, and where it was not done; rate_hz: of the movement."""
    return {
        "stretches": len(holding.kept),
        "along_floor_only": sum(planted.level_only for planted in holding.kept),
        "levels": [{"height_mm": 1000 * height, "stretches": count} for height, count in holding.levels],
        "sliding_before_mm_s": {"mean": 1000 * holding.sliding_before_m_s[0], "p95": 1000 * holding.sliding_before_m_s[1]},
        "sliding_after_mm_s": {"mean": 1000 * holding.sliding_after_m_s[0], "p95": 1000 * holding.sliding_after_m_s[1]},
        "deepest_below_floor_mm": {"before": 1000 * holding.depth_before_m, "after": 1000 * holding.depth_after_m},
        "moved_mm": _distances(holding.moved_m),
        "left_as_danced": [
            {
                "foot": SIDES[planted.side],
                "point": planted.point,
                "start_s": planted.start / rate_hz,
                "end_s": planted.stop / rate_hz,
                "would_have_moved_mm": 1000 * far,
            }
            for planted, far in holding.left
        ],
        "left_below_floor": [
            {
                "foot": SIDES[sunk.side],
                "point": FLOOR_POINTS[sunk.point],
                "start_s": sunk.start / rate_hz,
                "end_s": sunk.stop / rate_hz,
                "deep_mm": 1000 * sunk.deep_m,
            }
            for sunk in holding.sunk
        ],
    }


def note_of(given: HandOver, review: Review, files: dict[str, str], lost: tuple[str, ...] = ()) -> dict[str, Any]:
    """The object of note.json: what is known, how it was made, and what was changed on the way. Lengths in millimetres."""
    skeleton, holding = given.skeleton, given.holding
    held = None if holding is None else _holding_told(holding, review.movement.rate_hz)
    return {
        "format": "in-the-round/hand-over",
        "version": 1,
        "take": review.take.file,
        "files": files,
        "rate_hz": skeleton.rate_hz,
        "frames": skeleton.frames,
        "kept_s": list(given.kept_s),
        "cut": given.kept_s != (0.0, review.movement.frames / review.movement.rate_hz),
        "rest_pose": skeleton.rest.pose,
        "feet": given.wishes.feet,
        "in_place": given.wishes.root == "in-place",
        "root_motion": words.travel(given.wishes.root, ROOT),
        "soles": "estimated" if review.take.kind == "skeleton" else "measured",
        "units_and_axes": words.UNITS_AND_AXES,
        "bones": {"names": list(given.rig.names), "humanoid": known_names()["humanoid"]},
        "measured_s": list(given.seconds.measured),
        "filled_s": list(given.seconds.filled),
        "unusable_s": list(given.seconds.unusable),
        "never_measured": list(given.seconds.never_measured),
        "beside_measured_mm": _distances(given.beside_m),
        "holding": held,
        "loops": loops_told(given.loops, skeleton.rate_hz),
        "keys": None if given.reduced is None else told(given.reduced),
        "pieces": [
            {"name": piece.name, "start_s": piece.start / skeleton.rate_hz, "end_s": piece.stop / skeleton.rate_hz}
            for piece in given.pieces
        ],
        "could_not_be_kept": list(lost),
    }
