"""What was measured as curves in Blender's Graph Editor: the chosen correction with its band, or all angles and heights."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np

from . import compat
from .analysis_core.body.anatomy import SUFFIXES, suffixes_of
from .analysis_core.body.movement import ANGLES, Movement
from .analysis_core.findings.evidence import Evidence
from .analysis_core.findings.finding import Finding
from .analysis_core.review import Review
from .analysis_core.take import Floats
from .analysis_core.units import degrees, millimetres
from .analysis_core.views.course import course_of
from .analysis_core.wording import findings as say
from .analysis_core.wording import names, numbers
from .properties import DanceReviewState

#: The custom property that marks the objects, with what each holds.
MARK = "dance_review_measures"
ALL, ONE = "all", "one"
#: Which correction the curve is of.
_FINDING = "finding"
LOW, HIGH = "Band: at least", "Band: at most"
#: What shows a fault where its number has no course: a time, a count, one of a whole jump, one that is not read again.
_SHOWN_INSTEAD = {
    "balance-heel-sinks": ("heel_height",),
    "feet-not-pointed": ("plantarflexion",),
    "foot-sickles": ("foot_deviation",),
    "head-lifts": ("head_pitch",),
    "heel-lifts-early": ("heel_height",),
    "heels-lift-in-plie": ("heel_height",),
    "heels-miss-floor": ("heel_height",),
    "knee-inside-toes": ("knee_turnout", "foot_turnout"),
    "late-spot": ("head_yaw",),
    "low-releve": ("heel_height",),
    "trunk-leans": ("trunk_pitch",),
    "turnout-lost-supporting": ("foot_turnout",),
    "turnout-lost-working": ("knee_turnout",),
}
#: Of all others.
_BEND = ("knee_flexion",)
#: Light for what was measured, a second hue where two are compared, amber as elsewhere for the limits.
_CURVE_COLOURS = ((0.85, 0.82, 0.78), (0.35, 0.65, 0.95))
_BAND_COLOUR = (0.95, 0.70, 0.20)
_LINEAR, _CONSTANT = 1, 0


def title_of(name: str) -> str:
    """A measure's name as people read it: "knee_flexion.L" -> "Knee flexion, left (°)"."""
    return names.quantity_with_unit(name, "mm" if name.startswith("heel_height") else "deg")


def columns(movement: Movement) -> dict[str, Floats]:
    """All measures: name -> values (F,), degrees or millimetres, NaN where not known."""
    found = {name: degrees(movement.told(name)) for name in ANGLES}
    for side, suffix in SUFFIXES.items():
        found[f"heel_height{suffix}"] = millimetres(movement.heel_height_m(side))
    return found


def find(scene: bpy.types.Scene, holds: str = ALL) -> Any | None:
    """The object that carries measures of a scene; None when they were not added."""
    return next((item for item in scene.objects if item.get(MARK) == holds), None)


def remove(scene: bpy.types.Scene, holds: str | None = None) -> None:
    """Take the curves of a scene away, or those of one kind."""
    for item in [item for item in scene.objects if item.get(MARK) is not None and holds in (None, item[MARK])]:
        action = item.animation_data.action if item.animation_data else None
        bpy.data.objects.remove(item)
        if action is not None and action.users == 0:
            bpy.data.actions.remove(action)


def _object(scene: bpy.types.Scene, name: str, holds: str) -> bpy.types.Object:
    """An object that carries curves; any earlier one that held the same goes."""
    remove(scene, holds)
    item = bpy.data.objects.new(name, None)
    item[MARK] = holds
    item.empty_display_size = 0.05
    scene.collection.objects.link(item)
    return item


def _write(item: bpy.types.Object, curves: Any, title: str, frames: Floats, values: Floats, colour: tuple[float, ...]) -> None:
    """One curve; where nothing is known the last known value is held, flat, instead of a slope that was never measured."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size == 0:
        return
    item[title] = float(values[known[0]])
    curve = curves.new(f'["{title}"]')
    places = np.column_stack([frames[known], values[known]]).astype(np.float32)
    kinds = np.full(known.size, _LINEAR, dtype=np.int32)
    kinds[:-1][np.diff(known) > 1] = _CONSTANT
    curve.keyframe_points.add(known.size)
    curve.keyframe_points.foreach_set("co", places.ravel())
    curve.keyframe_points.foreach_set("interpolation", kinds)
    curve.update()
    # Samples instead of keys: measured values are not for editing, and thousands of keys would fill the timeline.
    curve.convert_to_samples(int(frames[known[0]]), int(frames[known[-1]]) + 1)
    curve.color_mode, curve.color = "CUSTOM", colour


def _frames(state: DanceReviewState) -> Floats:
    return np.asarray(state.frame_start + np.arange(state.frames, dtype=np.float64))


def add_all(scene: bpy.types.Scene, movement: Movement, state: DanceReviewState) -> bpy.types.Object:
    """An object with all angles and heights; return it. Sample i lies on frame_start + i."""
    item = _object(scene, "Measures", ALL)
    curves = compat.curves_of(item, item.name)
    for name, values in columns(movement).items():
        _write(item, curves, title_of(name), _frames(state), values, _CURVE_COLOURS[0])
    return item


def _courses(finding: Finding, review: Review) -> dict[str, Floats]:
    """What is drawn for a finding: its own measure, or where that has no course what shows it best. Title -> values (F,)."""
    own = course_of(finding, Evidence(review.movement, review.phrase))
    if own is not None:
        words = names.on_side(finding.says or names.fault_title(finding.fault), finding.side or "")
        return {names.with_unit(names.capital(words), finding.unit): own * numbers.shown(1.0, finding.unit)}
    sides = suffixes_of(finding.side)
    held = columns(review.movement)
    wanted = [f"{base}{side}" for base in _SHOWN_INSTEAD.get(finding.fault, _BEND) for side in (*sides, "")]
    return {title_of(name): held[name] for name in wanted if name in held}


def add_one(scene: bpy.types.Scene, review: Review, finding: Finding, state: DanceReviewState) -> bool:
    """An object with the measure of one finding alone, and its band as lines; whether the measure has a course of its own.

    The band in ``finding`` is the one that is drawn. Without a course of its own, what shows it best stands without a band.
    """
    item = _object(scene, say.title(finding), ONE)
    item[_FINDING] = finding.id
    curves, frames = compat.curves_of(item, item.name), _frames(state)
    courses = _courses(finding, review)
    for place, (title, values) in enumerate(courses.items()):
        _write(item, curves, title, frames, values, _CURVE_COLOURS[place % len(_CURVE_COLOURS)])
    own = not any(title in map(title_of, columns(review.movement)) for title in courses)
    for title, limit in zip((LOW, HIGH), finding.band, strict=True):
        if own and limit is not None:
            _write(item, curves, title, frames[[0, -1]], np.full(2, numbers.shown(limit, finding.unit)), _BAND_COLOUR)
    return own


def finding_of(item: bpy.types.Object) -> str:
    """The correction that an object's curves are of; empty for one with all angles and heights."""
    return str(item.get(_FINDING, ""))


def curves_of(item: bpy.types.Object) -> list[Any]:
    """All curves of an object."""
    data: Any = item.animation_data
    return [
        curve for layer in data.action.layers for strip in layer.strips for curve in strip.channelbag(data.action_slot).fcurves
    ]


def extent(item: bpy.types.Object, first: int, last: int) -> tuple[float, float]:
    """Lowest and highest value of all curves of an object between two frames."""
    values = [curve.evaluate(float(frame)) for curve in curves_of(item) for frame in np.linspace(first, last, 200)]
    return min(values), max(values)
