"""Stills: each correction from where it is best seen, its measure drawn on, with the same moment of a second take beside it."""

from __future__ import annotations

import tempfile
import textwrap
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.types import Collection, Scene
from mathutils import Vector

from .. import compat
from ..analysis_core.body.anatomy import LEG_JOINTS, SIDE_SUFFIXES
from ..analysis_core.body.movement import JOINTS, frame_at
from ..analysis_core.compare import compare
from ..analysis_core.compare.comparison import Comparison
from ..analysis_core.figure.levels import levels_of
from ..analysis_core.figure.looks import DEFAULT_LOOK
from ..analysis_core.figure.motion import chosen, motion_of
from ..analysis_core.figure.proportions import rest_of
from ..analysis_core.findings.evidence import Evidence
from ..analysis_core.findings.finding import Finding
from ..analysis_core.review import Review
from ..analysis_core.take import Floats
from ..analysis_core.views import Drawing, Sweep, drawing_of
from ..analysis_core.views.inside import Inside, inside_of
from ..analysis_core.views.pairs import answer_to, same_view
from ..analysis_core.wording import findings as say
from ..analysis_core.wording import names, pictures
from ..analysis_core.write.cut_short import require_whole
from ..blender_types import of_kind, optics, there
from . import drawing as drawings
from . import stage
from .cameras import make_camera, span_m
from .captions import DEPTH_M, half_picture, in_picture, text_object
from .figure import coarseness_for, figure_skin, make_figure
from .inside_drawn import Surface, draw_inside, surfaces_of
from .number_card import LINE, number_card, paper_behind
from .pixels import image_of, pixels_of

#: What is seen of the dancer in each view: joints that the picture holds beside the drawing.
_LEGS = tuple(f"{name}{x}" for name in (*LEG_JOINTS, "heel", "toe") for x in SIDE_SUFFIXES)
_FEET = tuple(f"{name}{x}" for name in (*LEG_JOINTS[1:], "heel", "toe") for x in SIDE_SUFFIXES)
_PARTS = {
    "low side": _FEET,
    "front of the leg": _FEET,
    "along the foot": _LEGS,
    "side of the leg": _LEGS,
    "above the foot": _LEGS,
}
#: Room round what the picture holds, metres and as a share; no picture is narrower than this. Proposed defaults.
_AIR_M, _AIR, _LEAST_M = 0.10, 1.10, 0.62
#: How far away the camera stands, metres. Proposed default.
AWAY_M = 5.0
#: An angle whose plane is seen as steeply as this (cosine to its axis) is looked at from this much nearer to its axis.
_EDGE_ON, _TOWARDS_AXIS = 0.4, 0.75
#: The floor goes on so far, so that no edge of it is in the picture.
_FLOOR_M = 12.0
#: Share of the picture for the words: of the width beside a single dancer, of the height above one of two.
_BESIDE, _ABOVE = 0.34, 0.29
#: Titles are larger than other lines by the factor.
_TITLE = 1.28
#: The drawing lies so near to the camera, as a share of the way to the dancer, that nothing hides it.
_NEARER = 0.30
#: Half as thick as a body is, metres, and the ways round it: joints lie inside.
_BODY_M, _AROUND = 0.16, ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0))
_NO_BREAK = "\u00a0"
_BEFORE_AFTER = ("before", "after")
#: The view that follows the fault's own direction: each take is then seen from its own.
_OWN_VIEW = "across the tilt"


@dataclass(frozen=True)
class Panel:
    """One dancer at one moment. measured: what is drawn; None where the take does not show it. said: lines under the title."""

    take: int
    sample: int
    finding: Finding
    drawing: Drawing | None
    title: str
    said: tuple[str, ...]
    found: bool = True
    inside: Inside | None = None


@dataclass(frozen=True)
class TakeScene:
    """A take as a scene of its own: the panels of it lie on frames 1, 2, … in their order."""

    review: Review
    scene: Scene
    collection: Collection
    panels: list[Panel]
    insides: dict[str, Surface]


def to_show(review: Review) -> tuple[Finding, ...]:
    """The corrections that were not set aside, in order of time."""
    return tuple(finding for finding in review.findings if finding.decision != "set aside")


def _panels(reviews: list[Review], comparison: Comparison | None) -> dict[str, list[Panel]]:
    """For each correction of the first take its panels, by its id."""
    evidences = [Evidence(review.movement, review.phrase) for review in reviews]
    result = {}
    for finding in to_show(reviews[0]):
        band = say.target(finding, unbroken=True)
        own = drawing_of(finding, reviews[0], evidences[0])
        frame = frame_at(reviews[0].movement, own.time_s if own else finding.peak_s)
        inside = inside_of(finding, reviews[0], evidences[0])
        said = (say.measured(finding, unbroken=True), band, *(() if comparison else ("", finding.cue)))
        said += () if inside is None else ("", pictures.INSIDE) if comparison is None else (pictures.INSIDE,)
        panels = [Panel(0, frame, finding, own, say.title(finding), said, inside=inside)]
        if comparison is not None:
            panels.append(_answer(finding, comparison, reviews, evidences[1], band))
        result[finding.id] = panels
    return result


def _answer(finding: Finding, comparison: Comparison, reviews: list[Review], evidence: Evidence, band: str) -> Panel:
    """The second take at the moment that answers to a finding of the first. evidence: of the second."""
    first, other = reviews
    answer = answer_to(finding, comparison, other, evidence)
    change = next((item for item in comparison.findings if item.a == finding.id), None)
    word = change.change if change is not None else pictures.CANNOT_BE_TOLD
    shown = answer.shown
    drawing = None if shown is None else drawing_of(shown, other, evidence)
    if answer.time_s is None:
        return Panel(1, 0, finding, None, names.capital(pictures.NOT_DANCED), (), False)
    frame = frame_at(other.movement, drawing.time_s if drawing else answer.time_s)
    view = same_view(finding.view, first.movement, frame_at(first.movement, finding.peak_s), other.movement, frame)
    if shown is not None and answer.found and finding.view.name == _OWN_VIEW:
        view = shown.view
    said = (pictures.NOT_TOLD,) if shown is None else (say.measured(shown, unbroken=True), band)
    return Panel(1, frame, replace(shown or finding, view=view), drawing, names.capital(word), said, answer.found)


def take_scene(review: Review, panels: list[Panel], look: str, height_px: int) -> TakeScene:
    """A scene with the dancer at the moments of its panels only, each coloured by its own correction alone; floor and light.

    height_px: of its highest picture."""
    scene = bpy.data.scenes.new("Stills")
    collection = bpy.data.collections.new("Stills")
    scene.collection.children.link(collection)
    samples = np.array([panel.sample for panel in panels], dtype=np.int64)
    rest = rest_of(review.movement)
    times = review.movement.time_s
    levels = np.concatenate([_levels(panel, times[panel.sample : panel.sample + 1]) for panel in panels])
    coarseness = coarseness_for(height_px)
    make_figure("Dancer", rest, chosen(motion_of(review.movement, rest), samples), levels, 1, collection, look, coarseness)
    low, high = span_m(review.movement)
    stage.floor((low[0] - _FLOOR_M, low[1] - _FLOOR_M), (high[0] + _FLOOR_M, high[1] + _FLOOR_M), collection)
    stage.light(collection)
    stage.world(scene)
    stage.draw_plainly(scene)
    there(scene.display).render_aa = "5"
    scene.frame_start, scene.frame_end = 1, len(samples)
    shown = tuple(panel.inside for panel in panels if panel.inside is not None)
    return TakeScene(review, scene, collection, panels, surfaces_of(review, shown, rest, figure_skin(rest, look, coarseness)))


def _levels(panel: Panel, time_s: Floats) -> Floats:
    """Levels (1, S) of the body at a panel's moment by its own correction; calm where that is not found."""
    finding = panel.finding
    if not panel.found:
        return levels_of((), time_s)
    whole = replace(finding, start_s=min(finding.start_s, float(time_s[0])), end_s=max(finding.end_s, float(time_s[0])))
    return levels_of((whole,), time_s)


def held_in(panel: Panel, review: Review) -> Floats:
    """Places (K, 3) that the picture has to hold: the drawing, and the part of the dancer that the view is of."""
    centres = review.movement.joint_centres_m[panel.sample]
    names = _PARTS.get(panel.finding.view.name, JOINTS)
    places = centres[[JOINTS.index(name) for name in names]]
    if names is JOINTS:
        # The top of the head lies above its centre.
        head = centres[[JOINTS.index("head")]]
        places = np.concatenate([places, head + np.array([0.0, 0.0, 0.16]), *(head + _BODY_M * np.array(way) for way in _AROUND)])
    if panel.drawing is not None:
        places = np.concatenate([places, np.stack(panel.drawing.points)])
    held: Floats = places[np.isfinite(places).all(axis=1)]
    return held


def direction_of(panel: Panel) -> Floats:
    """From the dancer to the camera (3,): the finding's own; for an angle that would be seen edge-on, from nearer to its axis."""
    view = panel.finding.view
    away = np.subtract(view.position_m, view.aim_m)
    away = away / max(float(np.linalg.norm(away)), 1e-9)
    sweeps = [s for s in panel.drawing.shapes if isinstance(s, Sweep) and s.role == "measured"] if panel.drawing else []
    for sweep in sweeps[:1]:
        if abs(away @ sweep.axis) < _EDGE_ON:
            # From above rather than from below, and in front rather than behind.
            sign = 1.0 if sweep.axis[2] > 0.1 or (abs(sweep.axis[2]) <= 0.1 and away @ sweep.axis >= 0) else -1.0
            away = away + _TOWARDS_AXIS * sign * sweep.axis
    return np.asarray(away / np.linalg.norm(away))


def camera_on(
    panel: Panel,
    review: Review,
    aspect: float,
    share: tuple[float, float],
    collection: Collection,
    away: Floats | None = None,
) -> tuple[Any, float]:
    """A camera in the finding's direction, or in that of ``away`` (3,), that holds what is to be seen in the part of the picture
    without words; and how high the picture is at the dancer, metres. share: of the width on the left, and of the height above,
    that the words have."""
    direction = Vector((direction_of(panel) if away is None else away).tolist())
    held = held_in(panel, review)
    if not len(held):
        held = np.array([[-0.5, -0.5, 0.0], [0.5, 0.5, 1.8]])
    turn = direction.to_track_quat("Z", "Y")
    right, up = (np.array(turn @ Vector(axis)) for axis in ((1, 0, 0), (0, 1, 0)))
    across, high = held @ right, held @ up
    middle = held.mean(axis=0)
    aim = (
        middle + right * ((across.min() + across.max()) / 2 - middle @ right) + up * ((high.min() + high.max()) / 2 - middle @ up)
    )
    width = max(float(np.ptp(across)) * _AIR + 2 * _AIR_M, _LEAST_M) / (1 - share[0])
    height = max(float(np.ptp(high)) * _AIR + 2 * _AIR_M, _LEAST_M) / (1 - share[1])
    height = max(height, width / aspect)
    camera = make_camera("Still", Vector((0.0, 0.0, 0.0)), -direction, collection)
    # The same perspective whatever is framed, so that no arm before a foot looks large; the sensor spans the longer side.
    optics(camera).lens = optics(camera).sensor_width * AWAY_M / (height * max(aspect, 1.0))
    camera.location = Vector(aim) + direction * AWAY_M
    camera.rotation_quaternion = turn
    # What is seen lies in the middle of the part without words; shifts are counted in the longer side.
    optics(camera).shift_x = -share[0] / 2 * min(aspect, 1.0)
    optics(camera).shift_y = share[1] / 2 / max(aspect, 1.0)
    return camera, height


def _space(aspect: float, *, beside: bool) -> float:
    """Width of the lines, in the shorter side of the picture."""
    return (max(aspect, 1.0) * _BESIDE if beside else min(aspect, 1.0) if aspect < 1.0 else aspect) - 0.072


def _wrapped(words: str, width: float) -> str:
    """Words in lines of at most so many line heights."""
    return textwrap.fill(words, max(int(width / 0.53), 8), break_long_words=False)


def _share(panel: Panel, aspect: float, *, beside: bool) -> tuple[float, float]:
    """Share of the width on the left, and of the height above, that the words take."""
    if beside:
        return _BESIDE, 0.0
    space = _space(aspect, beside=beside)
    lines = [_TITLE * (_wrapped(panel.title, space / (_TITLE * LINE)).count("\n") + 1)]
    lines += [_wrapped(words, space / LINE).count("\n") + 1.2 for words in panel.said]
    high = LINE * (1.25 + 1.22 * sum(lines) + 0.3) + 1.6 * 0.045
    return 0.0, max(_ABOVE, high * min(aspect, 1.0))


def _words(panel: Panel, label: str, camera: Any, aspect: float, *, beside: bool, collection: Collection) -> list[Any]:
    """Title, numbers and cue on a light card: on the left of a single dancer, above one of two."""
    half_width, half_height = half_picture(camera, aspect)
    unit = 2 * min(half_width, half_height)
    # Words hang from the middle of the lens' own axis, which the shift has moved.
    shift = 2 * max(half_width, half_height)
    x0, y0 = camera.data.shift_x * shift, camera.data.shift_y * shift
    line = LINE * unit
    margin = 0.045 * unit
    space = _space(aspect, beside=beside) * unit
    items = []
    left, top = x0 - half_width + margin, y0 + half_height - margin
    down = 0.0
    if label:
        text = text_object("Still label", label.upper(), 0.72 * line, collection, material=_grey())
        in_picture(text, camera, left, top)
        items.append(text)
        down += 1.25 * line
    blocks = [(panel.title, _TITLE * line), *((words, line) for words in panel.said)]
    for words, size in blocks:
        wrapped = _wrapped(words, space / size)
        if not words:
            down += 0.6 * line
            continue
        text = text_object("Still words", wrapped, size, collection)
        of_kind(text.data, bpy.types.TextCurve).space_line = 1.08
        in_picture(text, camera, left, top - down)
        items.append(text)
        down += 1.22 * size * (wrapped.count("\n") + 1) + 0.25 * line
    high = 2 * half_height if beside else max(down + 1.4 * margin, 2 * half_height * _share(panel, aspect, beside=beside)[1])
    # It reaches beyond the picture's edge, so that nothing looks out behind it.
    high += 2 * margin
    paper = paper_behind(
        "Still card", 2 * half_width * _BESIDE + 0.4 * margin if beside else 2 * half_width + 2 * margin, high, collection
    )
    in_picture(paper, camera, x0 - half_width - margin, y0 + half_height + margin, behind=0.002)
    return [*items, paper]


def _grey() -> Any:
    return stage.own_material("Still grey", (0.16, 0.18, 0.21), glowing=True)


def _render(panel: Panel, take: TakeScene, label: str, size: tuple[int, int], path: Path, *, beside: bool) -> None:
    scene, aspect = take.scene, size[0] / size[1]
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.render.resolution_percentage = 100
    if bpy.context.window is not None:
        # What is not in a window is not evaluated anew.
        bpy.context.window.scene = scene
    scene.frame_set(1 + take.panels.index(panel))
    camera, height = camera_on(panel, take.review, aspect, _share(panel, aspect, beside=beside), take.collection)
    scene.camera = camera
    items = _words(panel, label, camera, aspect, beside=beside, collection=take.collection)
    if panel.drawing is not None:
        away = (Vector(panel.drawing.number_at.tolist()) - camera.location).length
        # Nearer than the dancer, further than the words.
        eye = drawings.eye_of(camera, min(max(_NEARER, 1.6 * DEPTH_M / away), 0.8))
        thickness = drawings.thickness_for(height)
        items += drawings.draw(panel.drawing, eye, thickness, take.collection)
        items += number_card(panel.drawing, camera, aspect, thickness, take.collection)
    if panel.inside is not None:
        items.append(draw_inside(take.insides[panel.inside.finding], take.collection))
    scene.render.filepath = str(path)
    scene.render.image_settings.file_format = "PNG"
    bpy.ops.render.render(write_still=True, scene=scene.name)
    require_whole(path)
    drawings.remove([*items, camera])


def _joined(parts: list[Path], to: Path, *, stacked: bool) -> None:
    """Pictures side by side, or one above the other, as one PNG."""
    pixels = []
    for part in parts:
        image = bpy.data.images.load(str(part))
        # Rows of an image run from the bottom up.
        pixels.append(pixels_of(image))
        bpy.data.images.remove(image)
    whole = np.concatenate(pixels[::-1] if stacked else pixels, axis=0 if stacked else 1)
    image = image_of("Still", whole)
    image.filepath_raw, image.file_format = str(to), "PNG"
    image.save()
    require_whole(to)
    bpy.data.images.remove(image)


def render_stills(
    reviews: list[Review],
    folder: Path,
    *,
    size: tuple[int, int] = (1280, 720),
    look: str = DEFAULT_LOOK,
    progress: Callable[[float], None] | None = None,
) -> dict[str, Any]:
    """Render a PNG for each correction of the first review that was not set aside, named after it, into a folder.

    With a second review its answering moment stands beside, or in an upright picture below. Returns the files' names and the
    engine's.
    """
    panels = _panels(reviews, compare(*reviews) if len(reviews) > 1 else None)
    if not panels:
        return {"pictures": [], "engine": "nothing"}
    stacked = size[0] < size[1]
    each = size if len(reviews) == 1 else (size[0], size[1] // 2) if stacked else (size[0] // 2, size[1])
    takes = [
        take_scene(review, [group[place] for group in panels.values()], look, each[1]) for place, review in enumerate(reviews)
    ]
    engine = ""
    for take in takes:
        engine = compat.choose_engine(take.scene)
    names = []
    with tempfile.TemporaryDirectory(prefix="dance_stills_") as temporary:
        for number, (name, group) in enumerate(panels.items()):
            parts = []
            for panel in group:
                part = Path(temporary) / f"{name}-{panel.take}.png"
                label = "" if len(group) == 1 else _BEFORE_AFTER[panel.take]
                _render(panel, takes[panel.take], label, each, part, beside=each[0] > 1.2 * each[1])
                parts.append(part)
            to = folder / f"{name}.png"
            if len(parts) == 1:
                to.write_bytes(parts[0].read_bytes())
            else:
                _joined(parts, to, stacked=stacked)
            names.append(to.name)
            if progress is not None:
                progress((number + 1) / len(panels))
    return {"pictures": names, "engine": engine}
