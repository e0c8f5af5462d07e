"""The measured angles and heights as animated properties: their curves show in Blender's Graph Editor, with the band."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np

from . import state as states
from .analysis_core.body.movement import ANGLES, Movement
from .analysis_core.take import Floats
from .analysis_core.units import degrees, millimetres
from .analysis_core.wording.names import quantity_with_unit

#: The custom property that marks the object, and those that hold the band of the chosen correction.
MARK = "dance_review_measures"
LOW, HIGH = "Band: at least", "Band: at most"
#: The curves that show a fault.
CURVES_OF_FAULT = {
    "heel-lifts-early": ("heel_height",),
    "heels-lift-in-plie": ("heel_height",),
    "balance-heel-sinks": ("heel_height",),
    "low-releve": ("heel_height",),
    "knee-bends-supporting": ("knee_flexion",),
    "knee-inside-toes": ("knee_turnout", "foot_turnout"),
    "turnout-lost-working": ("knee_turnout",),
    "turnout-lost-supporting": ("foot_turnout",),
    "feet-not-pointed": ("plantarflexion",),
    "foot-sickles": ("foot_deviation",),
    "trunk-leans": ("trunk_pitch",),
    "head-lifts": ("head_pitch",),
}
#: Of those, the ones whose value is read from the curve itself, so that the band belongs beside it.
READ_FROM_CURVE = {"heels-lift-in-plie", "heel-lifts-early", "knee-bends-supporting", "trunk-leans", "head-lifts"}
#: Light for what was measured, a second hue where two are compared, amber as elsewhere for the limits.
_CURVE_COLOURS = ((0.85, 0.82, 0.78), (0.35, 0.65, 0.95))
_BAND_COLOUR = (0.95, 0.70, 0.20)
_LINEAR, _CONSTANT = 1, 0


def title_of(name: str) -> str:
    """A measure's name as people read it: "knee_flexion.L" -> "Knee flexion, left (°)"."""
    return quantity_with_unit(name, "mm" if name.startswith("heel_height") else "deg")


def columns(movement: Movement) -> dict[str, Floats]:
    """All measures: name -> values (F,), degrees or millimetres, NaN where not known."""
    found = {name: degrees(movement.angle(name)) for name in ANGLES}
    for suffix, side in ((".L", "left"), (".R", "right")):
        found[f"heel_height{suffix}"] = millimetres(movement.heel_height_m(side))
    return found


def find(scene: Any) -> Any | None:
    """The object that carries the measures of a scene; None when they were not added."""
    return next((item for item in scene.objects if MARK in item), None)


def _write(item: Any, action: Any, title: str, frames: Floats, values: Floats) -> None:
    """One curve; where nothing is known the last known value is held, flat, instead of a slope that was never measured."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size == 0:
        return
    item[title] = float(values[known[0]])
    curve = action.fcurve_ensure_for_datablock(item, f'["{title}"]')
    places = np.column_stack([frames[known], values[known]]).astype(np.float32)
    kinds = np.full(known.size, _LINEAR, dtype=np.int32)
    kinds[:-1][np.diff(known) > 1] = _CONSTANT
    curve.keyframe_points.clear()
    curve.keyframe_points.add(known.size)
    curve.keyframe_points.foreach_set("co", places.ravel())
    curve.keyframe_points.foreach_set("interpolation", kinds)
    curve.update()


def add(scene: Any, movement: Movement, frame_start: int) -> Any:
    """Add the object with all measures to a scene; return it. Sample i lies on frame_start + i."""
    item = bpy.data.objects.new("Measures", None)
    item[MARK] = True
    item.empty_display_size = 0.05
    scene.collection.objects.link(item)
    action = bpy.data.actions.new("Measures")
    item.animation_data_create().action = action
    frames = frame_start + np.arange(movement.frames, dtype=np.float64)
    for name, values in columns(movement).items():
        _write(item, action, title_of(name), frames, values)
    for curve in _curves(item):
        # Samples instead of keys: measured values are not for editing, and thousands of keys would fill the timeline.
        curve.convert_to_samples(frame_start, frame_start + movement.frames)
    return item


def _curves(item: Any) -> list[Any]:
    data = item.animation_data
    action = data.action
    return [curve for layer in action.layers for strip in layer.strips for curve in strip.channelbag(data.action_slot).fcurves]


def show(scene: Any, state: Any) -> None:
    """Show the curve of the chosen correction with its band, and hide the others; all of them when none is chosen."""
    item = find(scene)
    correction = states.chosen(state)
    if item is None:
        return
    fault = correction.fault if correction is not None else ""
    bases = CURVES_OF_FAULT.get(fault, ())
    sides = {"left": (".L",), "right": (".R",)}.get(correction.side if correction is not None else "", ("", ".L", ".R"))
    wanted = {title_of(f"{base}{side}") for base in bases for side in sides}
    second = {title_of(f"{base}{side}") for base in bases[1:] for side in sides}
    low, high = states.band_of(correction) if fault in READ_FROM_CURVE else (None, None)
    frames = np.array([state.frame_start, state.frame_start + state.frames - 1], dtype=np.float64)
    for title, limit in ((LOW, low), (HIGH, high)):
        if limit is not None:
            _write(item, item.animation_data.action, title, frames, np.full(2, limit))
            wanted.add(title)
    for curve in _curves(item):
        title = curve.data_path[2:-2]
        curve.hide = bool(wanted) and title not in wanted
        curve.select = title in wanted
        curve.color_mode = "CUSTOM"
        curve.color = _BAND_COLOUR if title in (LOW, HIGH) else _CURVE_COLOURS[title in second]
