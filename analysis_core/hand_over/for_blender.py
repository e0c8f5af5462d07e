"""A hand-over made ready for Blender: everything that its file needs, in arrays."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..body.rotations import continuous, quaternions_of
from ..take import Floats
from ..wording import hand_over as words
from .blender_file import Action, BlenderFile, Bone, BoneKeys, Pictures, SkinnedMesh
from .body import Body
from .catalogue import identifier, place_of
from .give import HandOver, extras_of, marks_of
from .keys import Curve, Reduced, of_quaternions
from .loops import Loop
from .previews import previews
from .rig import Rig

#: The action of the whole take.
TAKE = "take"
#: From this weight on a point hangs on one bone alone: Blender keeps weights in single precision.
_WHOLE = 1.0 - 1e-7


def _bones(rig: Rig) -> tuple[Bone, ...]:
    columns = zip(
        rig.names, rig.parents.tolist(), rig.heads.tolist(), rig.axes.tolist(), rig.lengths_m.tolist(), strict=True
    )  # fmt: skip
    return tuple(Bone(*column) for column in columns)


def _skinned(body: Body) -> SkinnedMesh:
    """The body as Blender takes it. Most points hang on one bone alone: those go in together."""
    whole, shared = [], []
    for own in body.weights.T:
        whole.append(np.flatnonzero(own >= _WHOLE).tolist())
        parts = np.flatnonzero((own > 0) & (own < _WHOLE))
        shared.append(list(zip(parts.tolist(), own[parts].tolist(), strict=True)))
    return SkinnedMesh(body.vertices_m.astype(np.float32), body.quads.astype(np.int32), tuple(whole), tuple(shared))


def keys_of(rig: Rig, bones: Sequence[int] | None = None) -> tuple[BoneKeys, ...]:
    """A key on every frame, from 0 on: turns of the bones, all if None, and places of those that move."""
    turns = continuous(quaternions_of(rig.local_in_bones()))
    # One copy in the order in which curves are written, in Blender's own precision.
    columns = np.ascontiguousarray(np.moveaxis(turns, 0, -1), dtype=np.float32)
    found = [
        BoneKeys(rig.names[index], "rotation_quaternion", columns[index])
        for index in (range(len(rig.names)) if bones is None else bones)
    ]
    for index in rig.moved:
        places: Floats = (rig.places(index) - rig.offsets[index]) @ rig.axes[index]
        found.append(BoneKeys(rig.names[index], "location", places.T.astype(np.float32)))
    return tuple(found)


def _rows(keys: tuple[BoneKeys, ...], rows: slice) -> tuple[BoneKeys, ...]:
    """A stretch of keys on every frame, counted from its first."""
    return tuple(BoneKeys(item.bone, item.path, item.values[:, rows]) for item in keys)


def _few_keys(rig: Rig, reduced: Reduced, rows: slice) -> tuple[BoneKeys, ...]:
    """Curves of few keys over a stretch of the take, counted from its first frame."""

    def cubic(index: int, curve: Curve, *, places: bool) -> BoneKeys:
        cut = curve.cut(rows.start, rows.stop)
        values, slopes = (columns.T.astype(np.float32) for columns in (cut.values, cut.slopes))
        return BoneKeys(rig.names[index], "location" if places else "rotation_quaternion", values, cut.frames, slopes)

    turns = [
        cubic(index, curve.through(of_quaternions(rig.axes[index].T)), places=False) for index, curve in enumerate(reduced.turns)
    ]
    moved = [
        cubic(index, curve.through(rig.axes[index].T, -rig.offsets[index] @ rig.axes[index]), places=True)
        for index, curve in reduced.places.items()
    ]
    return (*turns, *moved)


def _markers(given: HandOver) -> tuple[tuple[str, int], ...]:
    """Where what is filled or unusable begins and ends, on the take's frames."""
    rig = given.rig
    return tuple(
        (name, min(round(time * rig.rate_hz), rig.frames - 1))
        for what, stretches in marks_of(given).items()
        for times in stretches
        for name, time in zip(words.MARKERS[what], times, strict=True)
    )


def _accepted(given: HandOver) -> list[Loop]:
    return [loop for loop in given.loops if loop.accepted]


def action_names(given: HandOver) -> list[str]:
    """What the actions of the file are called, in order: the take, the steps, the loops."""
    return [TAKE, *(piece.name for piece in given.pieces), *(name for name, _ in given.loop_clips)]


def _actions(given: HandOver) -> tuple[Action, ...]:
    rig, reduced = given.rig, given.reduced
    every = () if reduced is not None else keys_of(rig)

    def action(name: str, rows: slice, about: str, start: int | None) -> Action:
        keys = _rows(every, rows) if reduced is None else _few_keys(rig, reduced, rows)
        return Action(name, rows.stop - rows.start, keys, about, identifier(place_of(name)), loops=False, start=start)

    whole = action(TAKE, slice(0, rig.frames), words.WHOLE_TAKE, None)
    steps = [action(piece.name, piece.rows, words.STEP_OF_TAKE, piece.start) for piece in given.pieces]
    loops = [
        Action(name, clip.frames, keys_of(clip), words.loops(loop.gap_m), identifier(place_of(name)), loops=True, start=None)
        for (name, clip), loop in zip(given.loop_clips, _accepted(given), strict=True)
    ]
    return (whole, *steps, *loops)


def blender_file(given: HandOver) -> BlenderFile:
    """The file with the whole take on the dancer, every step and every loop that closes as an action of its own."""
    rig = given.rig
    return BlenderFile(
        rig.rate_hz, rig.frames, _bones(rig), _skinned(given.body), extras_of(given), _markers(given), _actions(given)
    )


def pictures(given: HandOver) -> Pictures:
    """A preview of every action, of its middle."""
    stretches = [(0, given.rig.frames), *((piece.start, piece.stop) for piece in given.pieces)]
    stretches += [(loop.start, loop.stop) for loop in _accepted(given)]
    return previews(given.rig, given.body, [(start + stop) // 2 for start, stop in stretches])
