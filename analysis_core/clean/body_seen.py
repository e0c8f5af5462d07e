"""Whether a take that could be read shows a body at all; if not, what it holds and what is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..errors import TakeError
from ..take import Take
from ..wording import capture as say
from .gaps import present

# Proposed defaults: far less than any marker set for the whole body has, and more than an object carries.
#: A marker counts as seen from this many samples on; a take needs as many frames.
LEAST_SAMPLES = 8
#: Markers that are seen: three on the pelvis, one on the trunk, two on each leg.
LEAST_MARKERS = 8
#: The markers of a body lie further apart than this, whatever it does, metres.
LEAST_EXTENT_M = 0.3
#: So many frames, spread over the take, tell how far apart: the middle of them is asked for.
MEASURED_FRAMES = 500
#: So many places, spread over the take, tell where most of it lies.
MOST_PLACES = 10_000
#: Nothing is captured further than this from where most of the take lies, metres: what says so is damaged.
FURTHEST_M = 100.0
_NAMED = 4

_NEEDED = (
    f"A review needs a whole body: at least {LEAST_MARKERS} markers, with three on the pelvis, one on the upper trunk "
    "and two on each leg."
)


def _names(take: Take, seen: list[int]) -> str:
    shown = [take.labels[marker] for marker in seen[:_NAMED]]
    return ", ".join(shown) + (", …" if len(seen) > _NAMED else "")


def without_the_impossible(take: Take) -> Take:
    """The take without samples that no camera can have seen: they count as missing, and a warning says so."""
    positions = take.positions_m
    if take.kind == "skeleton" or not positions.size:
        return take
    known = present(positions)
    if not known.any():
        return take
    with np.errstate(over="ignore", invalid="ignore"):
        frames, markers = np.nonzero(known)
        some = slice(None, None, max(1, frames.size // MOST_PLACES))
        middle = np.median(positions[frames[some], markers[some]], axis=0)
        near = np.abs(positions - middle) < FURTHEST_M
    far, origin = known & ~(near[..., 0] & near[..., 1] & near[..., 2]), (positions == 0.0).all(axis=2)
    if not (far | origin).any():
        return take
    warnings = [say.far_away(int(far.sum()), FURTHEST_M)] if far.any() else []
    warnings += [say.at_origin(int(origin.sum()))] if origin.any() else []
    wrong = (far | origin)[..., None]
    return replace(take, positions_m=np.where(wrong, np.nan, positions), warnings=(*take.warnings, *warnings))


def require_body(take: Take, landmark_of: Mapping[int, str]) -> None:
    """Raise TakeError with a sentence when the markers of a take are no body. landmark_of: by marker index."""
    if take.frames < LEAST_SAMPLES:
        what = f"{take.frames} frame{'' if take.frames == 1 else 's'}"
        raise TakeError(f"{take.file.name}: it holds {what}, in which nothing can be seen to move. Capture a whole phrase.")
    if take.kind == "skeleton":
        return
    finite = present(take.positions_m)
    seen = [int(marker) for marker in np.flatnonzero(finite.sum(axis=0) >= LEAST_SAMPLES)]
    if len(seen) < LEAST_MARKERS:
        count = f"{len(seen)} of its {len(take.labels)} points {'is' if len(seen) == 1 else 'are'} seen"
        on_body = sum(marker in landmark_of for marker in seen)
        of_body = f"; {on_body} of them named as places on a body" if on_body else "; none of them is named as a place on a body"
        names = f" ({_names(take, seen)}{of_body})" if seen else ""
        raise TakeError(f"{take.file.name} shows no body: {count}{names}. {_NEEDED}")
    together = np.flatnonzero(finite[:, seen].sum(axis=1) >= LEAST_MARKERS)
    if not together.size:
        raise TakeError(f"{take.file.name} shows no body: its markers are never seen together. {_NEEDED}")
    some = together[np.unique(np.linspace(0, together.size - 1, MEASURED_FRAMES).astype(np.int64))]
    places = take.positions_m[some][:, seen]
    extent = (np.nanmax(places, axis=1) - np.nanmin(places, axis=1)).max(axis=1)
    if np.median(extent) < LEAST_EXTENT_M:
        raise TakeError(f"{take.file.name} shows no body: {say.all_within(float(np.median(extent)))}")
