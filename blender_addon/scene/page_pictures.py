"""Pictures of the student's page: each card's moment with its measure, now and before, and a sheet of views all round it.

A page with nothing to correct has one sheet."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import bpy
import numpy as np
from bpy.types import Scene
from mathutils import Matrix, Vector

from .. import compat
from ..analysis_core.body.movement import frame_at
from ..analysis_core.figure.looks import DEFAULT_LOOK
from ..analysis_core.page.film import film_of
from ..analysis_core.page.story import Card, Pose, Story, story_of
from ..analysis_core.page.write import KINDS, VIEW_SIZE, VIEWS, Pictures, write_page
from ..analysis_core.review import Review
from ..analysis_core.take import Floats
from ..analysis_core.wording import page as words
from ..analysis_core.write.cut_short import require_whole
from ..blender_types import of_kind, optics, there
from . import drawing as drawings
from .cameras import make_camera
from .captions import DEPTH_M
from .pixels import image_of, pixels_of
from .stage import plain_material
from .stills import AWAY_M, Panel, TakeScene, camera_on, direction_of, held_in, take_scene

#: Pixels of a picture; what WebP keeps of a picture's quality (about 6 kB a picture) and of a sheet's.
SIZE = (540, 600)
_QUALITY, _SHEET_QUALITY = 75, 65
#: Room round the dancer in the views of a sheet, so that no hand is cut off on the way round. Proposed default.
_AIR = 1.18
#: The drawing lies so near to the camera, as a share of the way to the dancer, that nothing hides it.
_NEARER = 0.30
#: Lines are seen on a phone, two pictures side by side.
_THICKER = 1.5
#: A light room, linear colours (the studio light takes most of a floor's away): the figure is what stands out.
_FLOOR, _LINES, _WALL = (1.60, 1.50, 1.38), (1.25, 1.16, 1.06), (0.80, 0.77, 0.72)
_NOW, _BEFORE, _SHEETS = KINDS


@dataclass(frozen=True)
class _Shot:
    """A moment in one take, and from where it is seen (3,). name: of its picture; still: whether its measure is shown, too."""

    name: str
    panel: Panel
    away: Floats
    still: bool = True


def _panel(card: Card, pose: Pose, take: int, sample: int) -> Panel:
    return Panel(take, sample, replace(card.thing.finding, view=pose.view), pose.drawing, card.title, (), pose.coloured)


def _shot(card: Card, pose: Pose, take: int, review: Review) -> _Shot:
    """The earlier take is seen from the same side of the body as this one, also where its own measure lies in another plane."""
    now, then = (np.subtract(view.position_m, view.aim_m) for view in (card.now.view, pose.view))
    turn = Matrix.Rotation(float(np.arctan2(then[1], then[0]) - np.arctan2(now[1], now[0])), 3, "Z")
    away = np.array(turn) @ direction_of(_panel(card, card.now, 0, 0))
    return _Shot(card.thing.finding.id, _panel(card, pose, take, frame_at(review.movement, pose.time_s)), away)


def _shots(story: Story) -> dict[str, list[_Shot]]:
    """What is to be seen of this take and of the earlier one."""
    shots = {_NOW: [_shot(card, card.now, 0, story.review) for card in story.cards], _BEFORE: []}
    if story.earlier is not None:
        shots[_BEFORE] = [_shot(card, card.before, 1, story.earlier) for card in story.cards if card.before is not None]
    if story.opening is not None:
        panel = Panel(0, frame_at(story.review.movement, story.opening.peak_s), story.opening, None, "", ())
        shots[_NOW].append(_Shot(story.opening.id, panel, direction_of(panel), still=False))
    return shots


def _settings(scene: Scene) -> None:
    scene.render.resolution_percentage = 100
    there(scene.display).render_aa = "FXAA"
    compat.unstamped(scene)


def _render(scene: Scene, camera: Any, path: Path, kind: Literal["PNG", "WEBP"], size: tuple[int, int] = SIZE) -> None:
    scene.camera = camera
    scene.render.resolution_x, scene.render.resolution_y = size
    image = scene.render.image_settings
    image.file_format = kind
    image.quality = _QUALITY
    scene.render.filepath = str(path)
    bpy.ops.render.render(write_still=True, scene=scene.name)
    require_whole(path)


def _lighten(take: TakeScene) -> None:
    """The colours of the page for floor and wall."""
    for item in take.collection.objects:
        colour = {"Floor": _FLOOR, "Floor lines": _LINES}.get(item.name.partition(".")[0])
        if colour is None or item.type != "MESH":
            continue
        material = plain_material(f"Page {item.name}", colour)
        of_kind(item.data, bpy.types.Mesh).materials[0] = material
        item.color = material.diffuse_color
    there(take.scene.world).color = _WALL


def _at(take: TakeScene, shot: _Shot) -> None:
    """The dancer in the shot's pose."""
    if bpy.context.window is not None:
        # What is not in a window is not evaluated anew.
        bpy.context.window.scene = take.scene
    take.scene.frame_set(1 + take.panels.index(shot.panel))


def _still(take: TakeScene, shot: _Shot, path: Path) -> None:
    """The moment from the side that shows it, the measure drawn on."""
    _at(take, shot)
    aspect = SIZE[0] / SIZE[1]
    camera, height = camera_on(shot.panel, take.review, aspect, (0.0, 0.0), take.collection, shot.away)
    items = [camera]
    drawing = shot.panel.drawing
    if drawing is not None:
        away = (Vector(drawing.number_at.tolist()) - camera.location).length
        eye = drawings.eye_of(camera, min(max(_NEARER, 1.6 * DEPTH_M / away), 0.8))
        items += drawings.draw(drawing, eye, _THICKER * drawings.thickness_for(height), take.collection)
    _render(take.scene, camera, path, "WEBP")
    drawings.remove(items)


def _round(take: TakeScene, shot: _Shot, folder: Path) -> list[Path]:
    """VIEWS views of the whole dancer, evenly round, from the side that shows it on to the right."""
    _at(take, shot)
    panel = replace(
        shot.panel, drawing=None, finding=replace(shot.panel.finding, view=replace(shot.panel.finding.view, name="side"))
    )
    held = held_in(panel, take.review)
    low, high = held.min(axis=0), held.max(axis=0)
    middle = (low + high) / 2
    low[2] = min(low[2], 0.0)
    aspect = VIEW_SIZE[0] / VIEW_SIZE[1]
    wide = 2 * float(np.linalg.norm((held - middle)[:, :2], axis=1).max())
    height = _AIR * max(float(high[2] - low[2]), wide / aspect)
    way = direction_of(shot.panel)
    start = np.arctan2(way[1], way[0])
    paths = []
    for view in range(VIEWS):
        azimuth = start + 2 * np.pi * view / VIEWS
        towards = Vector((np.cos(azimuth), np.sin(azimuth), 0.12)).normalized()
        camera = make_camera("Round", Vector(middle.tolist()) + towards * AWAY_M, Vector(middle.tolist()), take.collection)
        optics(camera).lens = optics(camera).sensor_width * AWAY_M / height
        paths.append(folder / f"{view}.png")
        _render(take.scene, camera, paths[-1], "PNG", VIEW_SIZE)
        drawings.remove([camera])
    return paths


def _sheet(parts: list[Path], to: Path) -> None:
    """Pictures side by side as one WebP."""
    pixels = []
    for part in parts:
        image = bpy.data.images.load(str(part))
        pixels.append(pixels_of(image))
        bpy.data.images.remove(image)
    whole = np.concatenate(pixels, axis=1)
    image = image_of("Sheet", whole)
    image.file_format = "WEBP"
    image.filepath_raw = str(to)
    image.save(quality=_SHEET_QUALITY)
    require_whole(to)
    bpy.data.images.remove(image)


def render_pictures(
    story: Story, folder: Path, *, look: str = DEFAULT_LOOK, progress: Callable[[float], None] | None = None
) -> dict[str, Any]:
    """Render the pictures of a story into folder/now, folder/before and folder/sheets as ID.webp; return the engine's name."""
    for kind in KINDS:
        (folder / kind).mkdir(parents=True, exist_ok=True)
    shots = _shots(story)
    reviews = {_NOW: story.review, _BEFORE: story.earlier}
    engine, done, whole = "nothing", 0, sum(shot.still + 2 * (kind == _NOW) for kind, group in shots.items() for shot in group)
    for kind, group in shots.items():
        review = reviews[kind]
        if not group or review is None:
            continue
        take = take_scene(review, [shot.panel for shot in group], look, max(SIZE[1], VIEW_SIZE[1]))
        engine = compat.choose_engine(take.scene)
        _settings(take.scene)
        _lighten(take)
        lines = [item for item in take.collection.objects if item.name.startswith("Floor lines")]
        for shot in group:
            if shot.still:
                _still(take, shot, folder / kind / f"{shot.name}.webp")
                done += 1
            if kind == _NOW:
                # From as far as a whole dancer is seen, lines on the floor are specks, and cost a third of the sheet.
                for item in lines:
                    item.hide_render = True
                with tempfile.TemporaryDirectory(prefix="dance_page_") as temporary:
                    _sheet(_round(take, shot, Path(temporary)), folder / _SHEETS / f"{shot.name}.webp")
                for item in lines:
                    item.hide_render = False
                done += 2
            if progress is not None:
                progress(done / whole)
    return {"engine": engine}


def make_page(
    reviews: list[Review],
    path: Path,
    *,
    name: str = "",
    film: Path | None = None,
    look: str = DEFAULT_LOOK,
    progress: Callable[[float], None] | None = None,
) -> str:
    """Render the pictures of a page and write it, over one that is there; return what is on it, as a sentence.

    Scenes that were made for it are gone afterwards, and the one that was looked at is in view again. Raises InTheRoundError;
    then the earlier page stays.
    """
    story = story_of(*reviews, name=name)
    cut_in = None if film is None else film_of(film)
    window = there(bpy.context.window)
    before, shown = set(bpy.data.scenes), window.scene
    try:
        with tempfile.TemporaryDirectory(prefix="dance_page_") as folder:
            render_pictures(story, Path(folder), look=look, progress=progress)
            told = write_page(story, path, Pictures.from_folder(Path(folder)), cut_in, look=look, overwrite=True)
    finally:
        window.scene = shown
        for scene in set(bpy.data.scenes) - before:
            bpy.data.scenes.remove(scene)
    said = f"{words.written(told)}."
    return said if told["dancer"] else f"{said} {words.MISSING_VIEWER}"
