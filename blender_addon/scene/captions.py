"""Words in the picture: what was found, how much, what it should be, and what to say to the dancer."""

from __future__ import annotations

from functools import cache
from typing import Literal

import bpy
import numpy as np
from bpy.types import Collection

from .. import compat
from ..analysis_core.findings.finding import Finding
from ..analysis_core.wording import findings as say
from ..blender_types import of_kind, optics, there
from .curves import CONSTANT, key
from .fitting import LINE, fitted
from .stage import mesh_object, own_material
from .timeline import peak_frames

_INK, _PAPER = (0.0, 0.0, 0.0), (1.0, 1.0, 1.0)
#: How far before the camera words hang, metres: nearer than any dancer.
DEPTH_M = 0.5
#: How long before and after its span a caption is shown. Proposed default.
_AROUND_S = 0.5
Align = Literal["LEFT", "CENTER", "RIGHT"]
#: Height of a line as a share of the picture's height; readable at 640 pixels.
LINE_SHARE = 0.047
#: What a correction's caption may take of the picture: the left third, beside the dancer.
_WIDTH_SHARE, _HEIGHT_SHARE = 0.30, 0.88
#: Into so many pieces each arc of a letter is cut. Blender's own 12 show nothing more (letters 60 pixels high looked at beside
#: each other), and words that may come and go are laid out anew on every frame: with three drawings a step took 12.6 ms so, and
#: takes 9.5.
_PIECES = 4
#: Width of a space at size 1, from the font.
_SPACE = 0.28


def text_object(
    name: str,
    words: str,
    size: float,
    collection: Collection,
    *,
    align: Literal["LEFT", "CENTER", "RIGHT"] = "LEFT",
    material: bpy.types.Material | None = None,
) -> bpy.types.Object:
    """Words as an object; ``size`` is about the height of a line, in the units of its parent."""
    data = of_kind(bpy.data.curves.new(name, "FONT"), bpy.types.TextCurve)
    data.body, data.size, data.resolution_u = words, size, _PIECES
    data.align_x, data.align_y = align, "TOP"
    data.materials.append(material or ink())
    made = bpy.data.objects.new(name, data)
    made.color = there(data.materials[0]).diffuse_color
    made.hide_select = True
    without_shadow(made)
    collection.objects.link(made)
    return made


def without_shadow(item: bpy.types.Object) -> None:
    """Words and what belongs to them throw no shadow, in any engine."""
    item.visible_shadow = False
    item.display.show_shadows = False


def card(name: str, width: float, height: float, collection: Collection) -> bpy.types.Object:
    """A light card behind words, so that they can be read before any background; its upper left corner is its origin."""
    material = own_material("Card", _PAPER, glowing=True)
    corners = [(0.0, 0.0, 0.0), (0.0, -height, 0.0), (width, -height, 0.0), (width, 0.0, 0.0)]
    made = mesh_object(name, corners, [(0, 1, 2, 3)], material, collection)
    without_shadow(made)
    return made


def ink() -> bpy.types.Material:
    """The colour of words: dark, whatever the light."""
    return own_material("Ink", _INK)


@cache
def extent(words: str) -> float:
    """The width of one line of words at size 1, measured from their outlines."""
    data = of_kind(bpy.data.curves.new("Measured words", "FONT"), bpy.types.TextCurve)
    measured = bpy.data.objects.new("Measured words", data)
    try:
        data.body, data.size, data.resolution_u = words, 1.0, 1
        points = [vertex.co.x for vertex in measured.to_mesh().vertices]
        measured.to_mesh_clear()
        # A space has no outline.
        return (max(points) if points else 0.0) + _SPACE * (len(words) - len(words.rstrip()))
    finally:
        bpy.data.objects.remove(measured)
        bpy.data.curves.remove(data)


def in_picture(item: bpy.types.Object, camera: bpy.types.Object, x: float, y: float, *, behind: float = 0.0) -> None:
    """Hang an object before a camera; x and y in metres at the captions' depth, from the middle of the picture."""
    item.parent = camera
    item.location = (x, y, -DEPTH_M - behind)


def half_picture(camera: bpy.types.Object, aspect: float) -> tuple[float, float]:
    """Half width and half height of the picture at the captions' depth, metres."""
    data = optics(camera)
    half = data.ortho_scale / 2.0 if data.type == "ORTHO" else data.sensor_width / 2.0 / data.lens * DEPTH_M
    return (half, half / aspect) if aspect >= 1.0 else (half * aspect, half)


def show_during(item: bpy.types.Object, spans: list[tuple[int, int]], first: int, last: int) -> None:
    """Key an object to be seen on some frames only."""
    frames, values = [float(first)], [0.0 if any(start <= first < end for start, end in spans) else 1.0]
    for start, end in spans:
        for frame, hidden in ((start, 0.0), (end, 1.0)):
            if first < frame <= last:
                frames.append(float(frame))
                values.append(hidden)
    curves = compat.curves_of(item, item.name)
    for path in ("hide_viewport", "hide_render"):
        key(curves, path, 0, np.array(frames), np.array(values), kind=CONSTANT)


def turns_to_speak(findings: tuple[Finding, ...], rate_hz: float, frames: tuple[int, int]) -> list[tuple[int, int]]:
    """Frames [start, end) in which each finding's caption is seen: from its peak half-way to the neighbouring peaks.

    Cameras often stand close to each other and would see each other's words, so that only one caption is seen at a time.
    Findings that peak together are told one after the other, a frame apart (``peak_frames``).
    """
    at = peak_frames(findings, rate_hz, frames)
    order = sorted(range(len(findings)), key=at.__getitem__)
    peaks = [at[index] for index in order]
    spans: list[tuple[int, int]] = [(0, 0)] * len(findings)
    for place, index in enumerate(order):
        finding, peak = findings[index], peaks[place]
        start = frames[0] + round((finding.start_s - _AROUND_S) * rate_hz)
        end = frames[0] + round((finding.end_s + _AROUND_S) * rate_hz) + 1
        if place:
            start = max(start, (peaks[place - 1] + peak) // 2 + 1)
        if place + 1 < len(order):
            end = min(end, (peak + peaks[place + 1]) // 2 + 1)
        spans[index] = (min(start, peak), max(end, start))
    return spans


def correction_captions(
    findings: tuple[Finding, ...],
    cameras: dict[str, bpy.types.Object],
    rate_hz: float,
    frames: tuple[int, int],
    collection: Collection,
) -> None:
    """A caption before each correction's camera, seen around its moment only. frames: the first and the last one."""
    for finding, span in zip(findings, turns_to_speak(findings, rate_hz, frames), strict=True):
        camera = cameras[finding.id]
        half_width, half_height = half_picture(camera, 16 / 9)
        width, height = 2.0 * half_width * _WIDTH_SHARE, 2.0 * half_height * _HEIGHT_SHARE
        words, size = fitted(say.caption(finding), width, height, LINE_SHARE * 2.0 * half_height, extent)
        caption = text_object(f"{finding.id} caption", words, size, collection)
        # The picture is shifted so that the dancer stands beside the words.
        left, top = half_width * (2.0 * optics(camera).shift_x - 0.95), half_height * 0.90
        in_picture(caption, camera, left, top)
        lines = words.split("\n")
        wide, high = max(extent(line) for line in lines) * size, LINE * len(lines) * size
        paper = card(f"{finding.id} card", wide + 0.9 * size, high + 0.9 * size, collection)
        in_picture(paper, camera, left - 0.45 * size, top + 0.45 * size, behind=0.002)
        for item in (caption, paper):
            item["finding"] = finding.id
            show_during(item, [span], *frames)
