"""The dancer life size in the room: a loop of each correction as a .usdz, which phones with a built-in viewer stand on the floor.

Experimental: the files pass every check there is, and nobody here has seen them on a phone.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from ..body.geometry import UP
from ..body.movement import SEGMENTS
from ..body.rotations import turned_by
from ..figure import palette
from ..figure.levels import level_of, segments_named
from ..figure.looks import DEFAULT_LOOK
from ..figure.motion import Motion, at_samples, bone_axes, motion_of, placed
from ..figure.paint import paint_of
from ..figure.proportions import Rest, rest_of
from ..figure.skin import Skin, normals_of, skin_of
from ..findings.finding import View
from ..hand_over.body import Body
from ..hand_over.rig import Rig
from ..hand_over.skeleton import PARENT_OF
from ..take import Floats
from ..write.files import whole_file
from ..write.usd import Painting, write_usd
from ..write.usdz import pack_usdz
from .story import Card, Story

#: The old rule of such viewers (WWDC 2018, session 603): at most 10 s and 100,000 polygons. At half speed 10 s are 5 of a take.
LONGEST_S, SPEED, KEYS_HZ = 10.0, 0.5, 30.0
#: What is shown before and after the moment at least, seconds of the take; as in the viewer of the page.
_AROUND_S = 0.8
#: Points further apart than in Blender, as on the page.
_COARSENESS = 1.6
_PICTURE = "colours.png"


def loop_of(card: Card, duration_s: float) -> tuple[float, float]:
    """From when to when a card's loop goes, seconds of the take: all of the finding that fits, its moment within."""
    finding, peak = card.thing.finding, card.now.time_s
    begin, end = min(finding.start_s, peak - _AROUND_S), max(finding.end_s, peak + _AROUND_S)
    most = LONGEST_S * SPEED
    if end - begin > most:
        begin = float(np.clip(peak - most / 2, begin, end - most))
        end = begin + most
    return max(begin, 0.0), min(end, duration_s)


def _facing(view: View) -> Floats:
    """The turn (3, 3) about the vertical that lets the side that shows it look at whoever stands before the dancer."""
    away = np.subtract(view.position_m, view.aim_m)
    if np.hypot(away[0], away[1]) < 1e-6:
        return np.eye(3)
    turn: Floats = turned_by((-np.pi / 2 - np.arctan2(away[1], away[0])) * UP)
    return turn


def _rig(motion: Motion, rest: Rest, view: View) -> Rig:
    """The figure's bones in the loop, over the middle of the room."""
    turned, origins = placed(motion, rest)
    pelvis = SEGMENTS.index("pelvis")
    middle = (origins[:, pelvis].min(axis=0) + origins[:, pelvis].max(axis=0)) / 2 * [1.0, 1.0, 0.0]
    turn = _facing(view)
    # USD's joints are points: it asks for no length.
    lengths = np.zeros(len(SEGMENTS))
    return Rig(
        SEGMENTS,
        PARENT_OF,
        rest.heads,
        bone_axes(rest),
        lengths,
        turn @ turned,
        (origins - middle) @ turn.T,
        (pelvis,),
        KEYS_HZ,
        "a-pose",
    )


def _swollen(skin: Skin, marked: list[int], level: float) -> Floats:
    """The skin (V, 3) with the marked parts swollen, as everywhere."""
    out = palette.SWELLING_M * level * skin.weights[:, marked].sum(axis=1)
    swollen: Floats = skin.vertices_m + out[:, None] * normals_of(skin.vertices_m, skin.quads)
    return swollen


def write_loop(card: Card, story: Story, skin: Skin, path: Path, *, look: str = DEFAULT_LOOK, overwrite: bool = False) -> None:
    """Write one card's loop as .usdz. Raises OutputError where the library for it is not there, or the file is there already."""
    movement, finding = story.review.movement, card.thing.finding
    rest = rest_of(movement)
    begin, end = loop_of(card, (movement.frames - 1) / movement.rate_hz)
    times = np.arange(begin, end + 1e-6, SPEED / KEYS_HZ)
    motion = at_samples(motion_of(movement, rest), times * movement.rate_hz)
    marked, level = segments_named(finding.parts), level_of(finding)
    paint = paint_of(skin, look, marked, level, motion.known.mean(axis=0) < 0.5)
    body = Body(_swollen(skin, marked, level), skin.quads, skin.weights, skin.colours)
    with whole_file(path, overwrite=overwrite) as temporary, tempfile.TemporaryDirectory(prefix="dance_room_") as folder:
        usd = Path(folder) / "dancer.usdc"
        write_usd(_rig(motion, rest, card.now.view), body, {}, usd, painting=Painting(_PICTURE, paint.corners))
        pack_usdz(usd, temporary, name=usd.name, others={_PICTURE: paint.picture})


def paths_beside(page: Path, cards: int) -> list[Path]:
    """Where the files of a page's cards go."""
    return [page.with_name(f"{page.stem}-{number}.usdz") for number in range(1, cards + 1)]


def write_rooms(
    story: Story, page: Path, *, look: str = DEFAULT_LOOK, overwrite: bool = False, each: Callable[[Path], None] | None = None
) -> list[Path]:
    """Write a loop for each card beside the page; return the files. each: told of every file. Raises OutputError."""
    paths = paths_beside(page, len(story.cards))
    skin = skin_of(rest_of(story.review.movement), look, coarseness=_COARSENESS) if paths else None
    for card, path in zip(story.cards, paths, strict=True):
        assert skin is not None
        write_loop(card, story, skin, path, look=look, overwrite=overwrite)
        if each is not None:
            each(path)
    return paths
