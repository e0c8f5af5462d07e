"""Words in the picture: what was found, how much, what it should be, and what to say to the dancer."""

from __future__ import annotations

import textwrap
from typing import Any

import bpy
import numpy as np

from .. import compat
from .. import state as states
from ..analysis_core.findings.finding import Finding
from .armature import key
from .stage import plain_material

_INK = (0.015, 0.017, 0.022)
_CONSTANT = 0
#: How far before the camera words hang, metres: nearer than any dancer.
DEPTH_M = 0.5
#: How long before and after its span a caption is shown. Proposed default.
_AROUND_S = 0.5
#: Height of a line as a share of the picture's height; readable at 640 pixels.
LINE_SHARE = 0.052


def text_object(name: str, words: str, size: float, collection: Any, *, align: str = "LEFT", material: Any | None = None) -> Any:
    """Words as an object; ``size`` is about the height of a line, in the units of its parent."""
    data = bpy.data.curves.new(name, "FONT")
    data.body, data.size = words, size
    data.align_x, data.align_y = align, "TOP"
    data.materials.append(material or ink())
    made = bpy.data.objects.new(name, data)
    made.color = data.materials[0].diffuse_color
    made.hide_select = True
    made.visible_shadow = False
    collection.objects.link(made)
    return made


def ink() -> Any:
    """The colour of words: dark, whatever the light."""
    return bpy.data.materials.get("Ink") or plain_material("Ink", _INK)


def in_picture(item: Any, camera: Any, x: float, y: float) -> None:
    """Hang an object before a camera; x and y in metres at the captions' depth, from the middle of the picture."""
    item.parent = camera
    item.location = (x, y, -DEPTH_M)


def half_picture(camera: Any, aspect: float) -> tuple[float, float]:
    """Half width and half height of the picture at the captions' depth, metres."""
    half = camera.data.sensor_width / 2.0 / camera.data.lens * DEPTH_M
    return (half, half / aspect) if aspect >= 1.0 else (half * aspect, half)


def words_of(finding: Finding, width: int = 44) -> str:
    """Fault, value with ±, target, and the cue."""
    side = f", {finding.side}" if finding.side in ("left", "right") else ""
    value = states.measured_text(finding.value, finding.plus_minus, finding.unit)
    target = states.band_text(*finding.band, finding.unit)
    cue = textwrap.fill(finding.cue, width)
    return f"{states.plain_words(finding.fault)}{side}\n{value}   (target {target})\n{cue}"


def show_during(item: Any, spans: list[tuple[int, int]], first: int, last: int) -> None:
    """Key an object to be seen on some frames only."""
    frames, values = [float(first)], [0.0 if any(start <= first < end for start, end in spans) else 1.0]
    for start, end in spans:
        for frame, hidden in ((start, 0.0), (end, 1.0)):
            if first < frame <= last:
                frames.append(float(frame))
                values.append(hidden)
    curves = compat.curves_of(item, item.name)
    for path in ("hide_viewport", "hide_render"):
        key(curves, path, 0, np.array(frames), np.array(values), kind=_CONSTANT)


def correction_captions(
    findings: tuple[Finding, ...], cameras: dict[str, Any], rate_hz: float, frames: tuple[int, int], collection: Any
) -> None:
    """A caption before each correction's camera, seen around its moment only. frames: the first and the last one."""
    for finding in findings:
        camera = cameras[finding.id]
        half_width, half_height = half_picture(camera, 16 / 9)
        size = LINE_SHARE * 2.0 * half_height
        caption = text_object(f"{finding.id} caption", words_of(finding), size, collection)
        caption["finding"] = finding.id
        in_picture(caption, camera, -half_width * 0.94, half_height * 0.92)
        start = frames[0] + round((finding.start_s - _AROUND_S) * rate_hz)
        end = frames[0] + round((finding.end_s + _AROUND_S) * rate_hz) + 1
        show_during(caption, [(start, end)], *frames)
