"""The scene of a film for the student: one or two takes on turning stages, the measure drawn, words in their places."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import Any

import bpy
import numpy as np
from bpy.types import Collection, Scene
from mathutils import Vector
from numpy.typing import NDArray

from .. import compat
from ..analysis_core.body.movement import frame_at
from ..analysis_core.compare import compare
from ..analysis_core.figure.levels import levels_of
from ..analysis_core.figure.motion import chosen, motion_of
from ..analysis_core.figure.proportions import Rest, rest_of
from ..analysis_core.film.plan import FilmPlan, Stop, plan_film
from ..analysis_core.film.shown import Shown, of_one, of_other, to_stop_at
from ..analysis_core.film.wish import Wish
from ..analysis_core.findings.finding import Finding
from ..analysis_core.review import Review
from ..analysis_core.take import Floats
from ..analysis_core.views import Drawing
from ..analysis_core.views.pairs import same_view
from ..analysis_core.views.strokes import Eye
from ..blender_types import optics
from . import drawing as drawings
from . import film_stage, stage
from .cameras import distance_for, make_camera
from .captions import DEPTH_M
from .curves import key
from .figure import coarseness_for, figure_skin, make_figure
from .film_layout import Layout, Place, layout_of
from .film_words import LEGEND, label, put_words, seen, spans_of
from .inside_drawn import draw_inside, surfaces_of

#: How far above the level the camera looks down from.
TILT_RAD = math.radians(11.0)
#: A dancer needs at least so much of the picture, metres to each side and upwards, and at most so much to each side.
_LEAST_SIDE_M, _MOST_SIDE_M, _LEAST_UP_M = 0.75, 1.7, 1.75
#: Beyond the centres of hands, feet and head there is still body, and air.
_BEYOND_M, _ABOVE_M = 0.17, 0.24
#: Smallest and largest radius of a stage; round the feet there is so much of it.
_STAGE_M, _ROUND_FEET_M = (0.72, 1.5), 0.22
#: Who travels further than this from the middle of the stage takes it along.
_FOLLOWS_M = 0.6
#: While it plays, the stage follows the dancer with this delay on both sides, seconds.
_SMOOTH_S = 1.2
#: The drawing stands so much nearer to the camera, metres, that nothing hides it: there is no perspective.
_NEARER_M = 3.0
#: A drawing of a film that plays is seen so long before and after its moment, seconds.
_AROUND_S = 0.3
#: Height of its number, in lines of words; within so many metres of the stage's middle it goes from one side to the other.
_NUMBER, _CHANGES_SIDE_M = 0.8, 0.07
#: A jump of the take's time between two pictures of more than so many pictures is a cut.
_CUT = 4.0
#: Seen from so far beside the dancer's front where there is nothing to show.
_BESIDE_FRONT_RAD = math.radians(25.0)


@dataclass(frozen=True)
class Film:
    """A film as a scene. pictures: of its plan, on frames 1, 2, … beside: the place left free for a film beside the dancer."""

    scene: Scene
    plan: FilmPlan
    beside: Place | None = None

    @property
    def pictures(self) -> int:
        """How many there are."""
        return len(self.plan.turned_rad)


@dataclass(frozen=True)
class _Course:
    """Where a take stands on its stage: for every picture the direction that faces the camera (K,) and the middle (K, 2)."""

    azimuth_rad: Floats
    middle_m: Floats


def plan_of(reviews: list[Review], wish: Wish) -> tuple[FilmPlan, list[dict[str, Shown]], dict[int, Finding]]:
    """The plan, what each take shows of each correction, and what a second take is told of where the first has nothing."""
    comparison = compare(*reviews) if len(reviews) > 1 else None
    wanted = to_stop_at(reviews[0])
    told = [of_one(reviews[0], wanted)]
    alone: dict[int, Finding] = {}
    if comparison is not None:
        told.append(of_other(reviews[1], wanted, comparison))
        own = to_stop_at(reviews[1])[:1]
        if not wanted and own:
            told[1], alone = of_one(reviews[1], own), {1: own[0]}
    plan = plan_film(
        reviews,
        wish.fps,
        wish.seconds,
        wanted=wanted,
        moments=told[0],
        mode=wish.mode,
        slow=wish.slow,
        comparison=comparison,
        answers=told[1] if wanted and comparison is not None else None,
    )
    return plan, told, alone


def _azimuth_of(view: Any) -> float | None:
    away = np.subtract(view.position_m, view.aim_m)
    return math.atan2(away[1], away[0]) if view.name != "top" and np.hypot(away[0], away[1]) > 1e-3 else None


def _facing(review: Review, sample: int) -> float:
    forward = review.movement.segment("pelvis")[sample, :2, 0]
    return math.atan2(forward[1], forward[0]) if np.isfinite(forward).all() else 0.0


def _azimuth(reviews: list[Review], take: int, stop: Stop | None, plan: FilmPlan, told: list[dict[str, Shown]]) -> float:
    """Direction in the laboratory from which a take is seen at a stop: the correction's, the same side of the body in both."""
    at = (stop.first + stop.last) // 2 if stop is not None else 0
    finding = stop.finding if stop is not None else None
    samples = [
        frame_at(review.movement, shown[finding.id].time_s)
        if finding is not None and finding.id in shown and np.isfinite(shown[finding.id].time_s)
        else int(plan.frames[at, index])
        for index, (review, shown) in enumerate(zip(reviews, told, strict=True))
    ]
    if finding is None:
        return _facing(reviews[take], samples[take]) + _BESIDE_FRONT_RAD
    view = finding.view
    if take:
        view = same_view(view, reviews[0].movement, samples[0], reviews[take].movement, samples[take])
    found = _azimuth_of(view)
    return found if found is not None else _facing(reviews[take], samples[take]) + _BESIDE_FRONT_RAD


def _pelvis(review: Review, samples: NDArray[np.int64]) -> Floats:
    """Where on the floor the dancer is (K, 2); what is not seen lies between its neighbours."""
    hips = review.movement.joint("pelvis")[:, :2]
    known = np.flatnonzero(np.isfinite(hips).all(axis=1))
    if not known.size:
        return np.zeros((len(samples), 2))
    return np.stack([np.interp(samples, known, hips[known, axis]) for axis in (0, 1)], axis=1)


def _between(values: Floats, plan: FilmPlan, stops: list[Stop], step_s: float) -> Floats:
    """Values at stops (S, …) for every picture: the stop's own while it is held, gliding between, at once in a cut."""
    pictures = len(plan.turned_rad)
    at = np.arange(pictures)
    cuts = np.flatnonzero(np.abs(np.diff(plan.time_s)) > _CUT * step_s)
    knots: list[float] = []
    rows: list[Floats] = []
    for index, stop in enumerate(stops):
        own = [c + 1 for c in cuts if (stops[index - 1].last if index else -1) <= c < stop.first]
        after = [c for c in cuts if stop.last <= c < (stops[index + 1].first if index + 1 < len(stops) else pictures)]
        knots += [float(own[-1] if own else stop.first), float(after[0] if after else stop.last)]
        rows += [values[index], values[index]]
    flat = np.array(rows).reshape(len(rows), -1)
    spread = np.stack([np.interp(at, knots, column) for column in flat.T], axis=1)
    return spread.reshape(pictures, *np.shape(values)[1:])


def _course(reviews: list[Review], take: int, plan: FilmPlan, told: list[dict[str, Shown]], fps: float) -> _Course:
    review, samples = reviews[take], plan.frames[:, take]
    path = _pelvis(review, samples)
    held = [stop for stop in plan.stops if stop.held]
    if held:
        azimuths = np.unwrap([_azimuth(reviews, take, stop, plan, told) for stop in held])
        middles = np.array([path[stop.first] for stop in held])
        azimuth, middle = _between(azimuths, plan, held, 1.0 / fps), _between(middles, plan, held, 1.0 / fps)
    else:
        worst = max(plan.stops, key=lambda stop: stop.finding.severity if stop.finding else 0.0, default=None)
        azimuth = np.full(len(samples), _azimuth(reviews, take, worst, plan, told))
        middle = _smoothed(path, max(1, round(_SMOOTH_S * fps)))
        if np.linalg.norm(path - (path.min(axis=0) + path.max(axis=0)) / 2, axis=1).max() <= _FOLLOWS_M:
            middle = np.tile((path.min(axis=0) + path.max(axis=0)) / 2, (len(path), 1))
    away = path - middle
    far = np.linalg.norm(away, axis=1, keepdims=True)
    return _Course(azimuth, middle + away * np.clip(1.0 - _FOLLOWS_M / np.maximum(far, 1e-9), 0.0, 1.0))


def _smoothed(path: Floats, around: int) -> Floats:
    """The mean of so many rows on both sides; at the ends the last one goes on."""
    wide = np.concatenate([np.repeat(path[:1], around, axis=0), path, np.repeat(path[-1:], around, axis=0)])
    kernel = np.ones(2 * around + 1) / (2 * around + 1)
    return np.stack([np.convolve(column, kernel, mode="valid") for column in wide.T], axis=1)


def _needs(review: Review, samples: NDArray[np.int64], course: _Course, drawn: list[Shown]) -> tuple[float, float, float]:
    """To each side, upwards, and round the feet, metres: what a take needs of the picture and of its stage."""
    centres = review.movement.joint_centres_m[samples]
    away = np.linalg.norm(centres[:, :, :2] - course.middle_m[:, None], axis=2)
    side, up = (float(np.nanmax(values, initial=0.0)) for values in (away, centres[:, :, 2]))
    low = np.where(centres[:, :, 2] < 0.35, away, np.nan)
    feet = float(np.nanmax(low, initial=0.0))
    heights = [float(point[2]) for shown in drawn if shown.drawing is not None for point in shown.drawing.points]
    up = max([up + _ABOVE_M, *(height + 0.1 for height in heights if math.isfinite(height))])
    return min(max(side + _BEYOND_M, _LEAST_SIDE_M), _MOST_SIDE_M), max(up, _LEAST_UP_M), feet + _ROUND_FEET_M


def _turning(name: str, place: Vector, turned_rad: Floats, collection: Collection) -> Any:
    """An empty that turns; row i of turned_rad lies on frame 1 + i."""
    turning = bpy.data.objects.new(name, None)
    turning.location = place
    turning.hide_render = True
    collection.objects.link(turning)
    curves = compat.curves_of(turning, name)
    key(curves, "rotation_euler", 2, 1.0 + np.arange(turned_rad.size), turned_rad)
    return turning


def stages_for(layout: Layout, aspect: float, side: float, up: float, radius: float) -> tuple[list[Vector], float]:
    """Where the stages stand, so that each dancer is in the place that is laid out, and the height of the picture, metres.

    side, up: what a dancer needs to each side and upwards; radius: of a stage.
    """
    below = radius * math.sin(TILT_RAD) + film_stage.HIGH_M
    high = up + below
    wide = 2 * max(side, radius + 0.05)
    height = max(max(high / place.height, wide / (place.width * aspect)) for place in layout.dancers)
    stages = []
    for place in layout.dancers:
        across = (0.5 * (place.left + place.right) - 0.5) * height * aspect
        # In the middle of its place, but for what is left over above its head.
        lift = (place.bottom - 0.5) * height + 0.5 * min(place.height * height - high, 0.6) + below
        stages.append(Vector((across, 0.0, lift / math.cos(TILT_RAD))))
    return stages, height


def camera_for(height: float, aspect: float, collection: Collection) -> Any:
    """One camera for all stages, from the front and a little above, without perspective: all are seen from the same angle."""
    distance = max(distance_for(height * aspect, height, aspect), 4.0 + 2 * _NEARER_M)
    place = Vector((0.0, -math.cos(TILT_RAD), math.sin(TILT_RAD))) * distance
    camera = make_camera("Film camera", place, Vector((0.0, 0.0, 0.0)), collection)
    optics(camera).type = "ORTHO"
    optics(camera).ortho_scale = height * max(aspect, 1.0)
    return camera


def _eye(azimuth_rad: float, at: Floats) -> Eye:
    """The film's camera as the dancer of the laboratory sees it while the stage is not turned."""
    level = np.array([math.cos(azimuth_rad), math.sin(azimuth_rad), 0.0])
    away = level * math.cos(TILT_RAD) + np.array([0.0, 0.0, math.sin(TILT_RAD)])
    right = np.array([-math.sin(azimuth_rad), math.cos(azimuth_rad), 0.0])
    return Eye(at + 100.0 * away, right, np.cross(away, right))


def _pictures_of(stop: Stop, time_s: float, samples_s: Floats) -> tuple[int, int]:
    """First and last picture in which a drawing is seen: while the film stands still, or near its moment."""
    if stop.held:
        return stop.first, stop.last
    near = np.flatnonzero(np.abs(samples_s - time_s) <= _AROUND_S)
    return (int(near[0]), int(near[-1])) if near.size else (0, -1)


@dataclass(frozen=True)
class _Stage:
    """One take on its stage. line_m: height of a line of words; side_m: of the picture on each side of the stage's middle;
    height_m: of the whole picture; coarseness: of the skin."""

    take: int
    review: Review
    course: _Course
    turning: Any
    camera: Any
    line_m: float
    side_m: float
    height_m: float
    collection: Collection
    coarseness: float


def _draw_measures(on: _Stage, plan: FilmPlan, shown: dict[str, Shown], rest: Rest, look: str) -> None:
    """The measure of every stop on the stage of a take, turning with it, its number beside it; the body inside the band."""
    towards = (on.camera.matrix_basis.to_3x3() @ Vector((0.0, 0.0, 1.0))).normalized()
    nearer = _turning(
        f"{on.turning.name} drawing", on.turning.location + towards * _NEARER_M, _turned(plan, on.course), on.collection
    )
    told = [(stop, item) for stop in plan.stops if stop.finding and (item := shown.get(stop.finding.id)) and item.drawing]
    # Where nothing stands still, another body for half a second only confuses.
    insides = tuple(item.inside for stop, item in told if stop.held and item.inside is not None)
    surfaces = surfaces_of(on.review, insides, rest, figure_skin(rest, look, on.coarseness))
    for stop, item in told:
        first, last = _pictures_of(stop, item.time_s, plan.frames[:, on.take] / on.review.take.rate_hz)
        if last < first or item.drawing is None:
            continue
        middle = on.course.middle_m[first]
        shift = np.array([-middle[0], -middle[1], 0.0])
        eye = _eye(float(on.course.azimuth_rad[first]), item.drawing.number_at)
        thickness = drawings.fine_for(item.drawing, drawings.thickness_for(on.height_m))
        made = drawings.draw(item.drawing, eye, thickness, on.collection, partial(np.add, shift))
        for thing in made:
            thing.parent = nearer
        made += _number(on, plan, item.drawing, shift, (first, last))
        surface = surfaces.get(item.inside.finding) if item.inside is not None else None
        if surface is not None:
            veil = draw_inside(surface, on.collection)
            veil.parent, veil.location = on.turning, shift.tolist()
            made.append(veil)
        for thing in made:
            seen(thing, [(first, last)], len(plan.turned_rad))


def _number(on: _Stage, plan: FilmPlan, drawing: Drawing, shift: Floats, span: tuple[int, int]) -> list[Any]:
    """The number of a drawing beside its place, on the outer side, for every picture of a span; it never leaves its half."""
    made, half = label(drawing.words, _NUMBER * on.line_m, on.collection)
    pictures = np.arange(span[0], span[1] + 1)
    angle = _turned(plan, on.course)[pictures]
    x, y, z = (drawing.number_at + shift).tolist()
    right = x * np.cos(angle) - y * np.sin(angle)
    back = x * np.sin(angle) + y * np.cos(angle)
    # From one side of its place to the other it goes gently, above it.
    side = np.tanh(right / _CHANGES_SIDE_M)
    card = np.clip(right + side * (half + 1.2 * on.line_m), half - on.side_m, on.side_m - half)
    stage_at = on.turning.location
    across = stage_at.x + card
    up = (stage_at.z + z) * math.cos(TILT_RAD) + back * math.sin(TILT_RAD) + (0.4 + 1.6 * (1 - side * side)) * on.line_m
    # What moves is not what is shown and hidden: each has its own keys.
    place = bpy.data.objects.new("Measure number place", None)
    on.collection.objects.link(place)
    place.parent, place.location = on.camera, (0.0, 0.0, -2 * DEPTH_M)
    curves = compat.curves_of(place, place.name)
    for axis, values in ((0, across), (1, up)):
        key(curves, "location", axis, 1.0 + pictures, values)
    made[0].parent = place
    return made


def _turned(plan: FilmPlan, course: _Course) -> Floats:
    # The camera looks along +Y: what faces it in the picture has the direction -90° of the laboratory.
    return np.asarray(plan.turned_rad - math.pi / 2 - course.azimuth_rad)


def build_film(reviews: list[Review], wish: Wish, beside: float | None = None) -> Film:
    """A scene that holds the film: figures on turning stages, camera, words. Nothing of the user's is touched.

    beside: aspect of a film for which a place is left free beside the dancer.
    """
    plan, told, alone = plan_of(reviews, wish)
    pictures, aspect = len(plan.turned_rad), wish.size[0] / wish.size[1]
    scene = bpy.data.scenes.new("Turntable")
    collection = bpy.data.collections.new("Turntable")
    scene.collection.children.link(collection)
    layout = layout_of(aspect, len(reviews), len(LEGEND), beside)
    courses = [_course(reviews, take, plan, told, wish.fps) for take in range(len(reviews))]
    drawn = [
        [told[take][s.finding.id] for s in plan.stops if s.finding and s.finding.id in told[take]] for take in range(len(reviews))
    ]
    needs = [_needs(review, plan.frames[:, take], courses[take], drawn[take]) for take, review in enumerate(reviews)]
    side, up, feet = (max(values) for values in zip(*needs, strict=True))
    radius = min(max(feet, _STAGE_M[0]), _STAGE_M[1])
    places, height = stages_for(layout, aspect, side, up, radius)
    camera = camera_for(height, aspect, collection)
    scene.camera = camera
    coarseness = coarseness_for(wish.size[1])
    for take, (review, place, course) in enumerate(zip(reviews, places, courses, strict=True)):
        turning = _turning(f"Stage {take + 1}", place, _turned(plan, course), collection)
        rest = rest_of(review.movement)
        motion = chosen(motion_of(review.movement, rest), plan.frames[:, take])
        levels = levels_of(review.findings, review.movement.time_s)[plan.frames[:, take]]
        figure = make_figure(f"Dancer {take + 1}", rest, motion, levels, 1, collection, wish.look, coarseness)
        _carried(figure.armature, turning, course, collection)
        for part in film_stage.turntable(f"Stage {take + 1}", radius, figure.body, collection):
            part.parent = turning
        if not plan.shown[:, take].all():
            seen(figure.body, spans_of(plan.shown[:, take]), pictures)
        side_m = 0.5 * layout.dancers[take].width * height * aspect
        on = _Stage(take, review, course, turning, camera, layout.line * height, side_m, height, collection, coarseness)
        _draw_measures(on, plan, told[take], rest, wish.look)
    film_stage.backdrop(camera, height * aspect, height, [(place, radius) for place in places], TILT_RAD, collection)
    put_words(reviews, plan, told, layout, camera, aspect, collection, names=wish.names, alone=alone)
    stage.light(collection)
    stage.world(scene)
    film_stage.draw_softly(scene, draft=wish.draft)
    compat.choose_engine(scene)
    scene.frame_start, scene.frame_end = 1, pictures
    scene.render.fps, scene.render.fps_base = wish.fps, 1.0
    scene.render.resolution_x, scene.render.resolution_y = wish.size
    scene.render.resolution_percentage = 100
    return Film(scene, plan, layout.film)


def _carried(armature: Any, turning: Any, course: _Course, collection: Collection) -> None:
    """An empty between stage and dancer that holds her over the middle; keyed only when the middle moves."""
    carrier = bpy.data.objects.new(f"{turning.name} middle", None)
    carrier.hide_render = True
    collection.objects.link(carrier)
    carrier.parent = turning
    armature.parent = carrier
    away = -course.middle_m
    carrier.location = (float(away[0, 0]), float(away[0, 1]), 0.0)
    if np.ptp(away, axis=0).max() > 1e-6:
        curves = compat.curves_of(carrier, carrier.name)
        for axis in (0, 1):
            key(curves, "location", axis, 1.0 + np.arange(len(away)), away[:, axis])
