"""The words of a film: captions, names of the takes, the phrase as a strip, what is counted, and legend, each in its place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.types import Collection
from numpy.typing import NDArray

from .. import compat
from ..analysis_core.figure.palette import CANNOT_TELL, FAULT, IN_BAND, RING, WATCH
from ..analysis_core.film.counted import counts_of, said_at
from ..analysis_core.film.plan import FilmPlan
from ..analysis_core.film.shown import Shown
from ..analysis_core.findings.finding import Finding
from ..analysis_core.review import Review
from ..analysis_core.wording import findings as say
from ..analysis_core.wording import pictures as words
from . import stage
from .captions import extent, half_picture, in_picture, text_object, without_shadow
from .curves import CONSTANT, key
from .film_layout import Layout, Place
from .fitting import LINE, fitted, on_one_line

LEGEND = ((words.IN_BAND, IN_BAND), (words.WATCH, WATCH), (words.CORRECT_FIRST, FAULT), (words.CANNOT_BE_TOLD, CANNOT_TELL))
#: What takes are called where no file is named; one alone is now.
_BEFORE_AND_NOW = (words.BEFORE, words.NOW)
#: A caption is seen a little longer than the hold, pictures.
_AROUND = 4
#: Light rings on the disc of what to correct first: their middles and height in radii, and how far before it they lie, metres.
_RINGS_AT, _RING_HIGH, _IN_FRONT_M = (-0.4, 0.4), 0.34, 0.002
#: Sizes against a line: the title, other words of a caption, names and what is counted, the legend.
_TITLE, _TOLD, _NAMED, _SMALL = 1.12, 0.9, 0.8, 0.74
#: The title takes at most this share of a caption's place.
_TITLE_SHARE = 0.5
#: Colours of the strip: its ground, its steps, what of them is a turn or a jump; brighter than they come out.
_GROUND, _STEP, _GREAT = (1.40, 1.37, 1.32), (0.72, 0.71, 0.69), (0.33, 0.37, 0.43)
#: Of the card behind a number.
_CARD = (1.45, 1.45, 1.42)
#: A mark on the strip, share of its height that it stands out; width of marks and of the playhead, shares of its height.
_OUT, _MARK, _HEAD = 0.35, 0.28, 0.2


class _Picture:
    """Puts words into places of the picture of a camera."""

    def __init__(self, camera: bpy.types.Object, aspect: float, line: float, collection: Collection) -> None:
        self.camera = camera
        self.collection = collection
        half_width, half_height = half_picture(camera, aspect)
        self.width, self.height = 2.0 * half_width, 2.0 * half_height
        self.size = line * self.height

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Metres at the captions' depth of a point of the picture, 0 to 1."""
        return (x - 0.5) * self.width, (y - 0.5) * self.height

    def words(self, name: str, said: str, place: Place, size: float) -> tuple[Any, float]:
        """Words from the top of a place down, and how much of the picture's height they take."""
        text, size = fitted(said, place.width * self.width, place.height * self.height, size * self.size, extent)
        made = text_object(name, text, size, self.collection)
        in_picture(made, self.camera, *self.at(place.left, place.top))
        return made, LINE * size * (text.count("\n") + 1) / self.height

    def caption(self, name: str, said: str, place: Place) -> list[bpy.types.Object]:
        """A caption whose first line is its title."""
        title, _, rest = said.partition("\n")
        top, taken = self.words(f"Title {name}", title, place.within(0.0, 1 - _TITLE_SHARE, 1.0, 1.0), _TITLE)
        below = Place(place.left, place.bottom, place.right, place.top - taken - 0.25 * self.size / self.height)
        told, _ = self.words(f"Caption {name}", rest, below, _TOLD)
        return [top, told]

    def line(
        self, name: str, said: str, place: Place, *, size: float = _NAMED, indent: float = 0.0, right: bool = False
    ) -> bpy.types.Object:
        """One line of words at the top of a place; indent: metres at its left without words; right: ends at its right."""
        text, size = on_one_line(said, place.width * self.width - indent, size * self.size, extent)
        x, y = self.at(place.right if right else place.left, place.top)
        made = text_object(name, text, size, self.collection, align="RIGHT" if right else "LEFT")
        in_picture(made, self.camera, x + indent, y)
        return made

    def legend(self, said: str, colour: tuple[float, float, float], place: Place) -> None:
        """A disc of a colour and what it means; with the rings of the body where that colour has them, so that it is told
        without any colour."""
        radius = 0.26 * self.size
        swatch = stage.disc(f"Legend {said}", radius, 0.0005, stage.plain_material(f"Legend {said}", colour), self.collection, 24)
        without_shadow(swatch)
        x, y = self.at(place.left, place.top)
        in_picture(swatch, self.camera, x + radius, y - 0.5 * _SMALL * self.size)
        if colour == FAULT:
            made = self._rings(f"Rings {said}", radius)
            in_picture(made, self.camera, x + radius, y - 0.5 * _SMALL * self.size, behind=-_IN_FRONT_M)
        self.line(f"Legend {said} words", said, place, size=_SMALL, indent=2.9 * radius)

    def _rings(self, name: str, radius: float) -> bpy.types.Object:
        """The rings across a disc about the origin."""
        corners = []
        for middle in _RINGS_AT:
            half = radius * float(np.sqrt(1.0 - (abs(middle) + 0.5 * _RING_HIGH) ** 2))
            low, high = (radius * (middle + side * 0.5 * _RING_HIGH) for side in (-1.0, 1.0))
            corners += [(-half, low, 0.0), (half, low, 0.0), (half, high, 0.0), (-half, high, 0.0)]
        faces = [tuple(range(first, first + 4)) for first in range(0, len(corners), 4)]
        made = stage.mesh_object(name, corners, faces, stage.plain_material("Rings", RING), self.collection)
        without_shadow(made)
        return made

    def boxes(self, name: str, boxes: list[Place], colour: tuple[float, float, float], *, behind: float) -> bpy.types.Object:
        """Rectangles of one colour."""
        corners = []
        for box in boxes:
            (x0, y0), (x1, y1) = self.at(box.left, box.bottom), self.at(box.right, box.top)
            corners += [(x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0)]
        faces = [tuple(range(i, i + 4)) for i in range(0, len(corners), 4)]
        made = stage.mesh_object(name, corners, faces, stage.plain_material(name, colour), self.collection)
        without_shadow(made)
        in_picture(made, self.camera, 0.0, 0.0, behind=behind)
        return made


def seen(item: bpy.types.Object, spans: list[tuple[int, int]], pictures: int) -> None:
    """Key an object to be seen on pictures first to last of each span only."""
    curves = compat.curves_of(item, item.name)
    hidden = np.ones(pictures + 2)
    for first, last in spans:
        hidden[max(first, 0) : last + 1] = 0.0
    changes = np.concatenate([[0], np.flatnonzero(np.diff(hidden)) + 1])
    for path in ("hide_viewport", "hide_render"):
        key(curves, path, 0, 1.0 + changes, hidden[changes], kind=CONSTANT)


def spans_of(shown: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last picture of every stretch (K,) that is True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], shown, [False]]).astype(np.int8)))
    return [(int(first), int(last) - 1) for first, last in zip(edges[::2], edges[1::2], strict=True)]


def _said(shown: Shown | None, wanted: Finding | None, *, cue: bool, held: bool) -> str:
    """The caption of a correction in one take. held: whether the film stands still, and the body inside the band is shown."""
    if wanted is None or shown is None:
        return f"{say.NOTHING_FIRST}\n"
    if not np.isfinite(shown.time_s):
        return f"{say.title(wanted)}\n{words.NOT_DANCED}"
    if shown.found and shown.finding is not None:
        said = say.caption(shown.finding, cue=cue)
        # Whatever is seen of it is said to be one.
        return said if shown.inside is None or not held else f"{said}\n\n{words.INSIDE}" if cue else f"{said}\n{words.INSIDE}"
    if shown.finding is None:
        return f"{say.title(wanted)}\n{say.NOT_FOUND}"
    return "\n".join([say.title(wanted), say.measured(shown.finding, unbroken=True), say.target(wanted, unbroken=True)])


def _put_captions(
    picture: _Picture, plan: FilmPlan, told: list[dict[str, Shown]], layout: Layout, alone: dict[int, Finding]
) -> None:
    """alone: for takes, by their place, what is told where the first take has nothing to correct."""
    pictures = len(plan.turned_rad)
    around = _AROUND if any(stop.held for stop in plan.stops) else 0
    for index, stop in enumerate(plan.stops):
        # Two captions never share the picture: where holds follow each other closely they take turns.
        first = max(stop.first - around, plan.stops[index - 1].last + 1 if index else 0)
        last = min(stop.last + around, plan.stops[index + 1].first - around - 1 if index + 1 < len(plan.stops) else pictures)
        for take, shown in enumerate(told):
            finding = stop.finding or alone.get(take)
            said = _said(shown.get(finding.id) if finding else None, finding, cue=len(told) == 1, held=stop.held)
            for item in picture.caption(f"{index + 1} {take + 1}", said, layout.captions[take]):
                seen(item, [(first, max(last, stop.last))], pictures)


def _put_names(picture: _Picture, reviews: list[Review], plan: FilmPlan, layout: Layout, *, names: bool) -> None:
    pictures = len(plan.turned_rad)
    for take, (review, place) in enumerate(zip(reviews, layout.names, strict=True)):
        name = (Path(review.take.file).stem if names else "") or _BEFORE_AND_NOW[take - len(reviews)]
        named = picture.line(f"Take {take + 1}", name, place)
        missing = spans_of(~plan.shown[:, take]) if plan.shown.size else []
        if missing:
            seen(named, spans_of(plan.shown[:, take]), pictures)
            seen(picture.line(f"Take {take + 1} missing", words.of_take(name, words.NOT_DANCED), place), missing, pictures)


def _put_strip(picture: _Picture, review: Review, plan: FilmPlan, told: list[Finding], layout: Layout) -> None:
    """The phrase from its first to its last second: steps as boxes, corrections as marks below, a playhead; what is counted."""
    strip, duration_s = layout.strip, max(review.take.duration_s, 1e-6)

    def part(start_s: float, end_s: float, low: float = 0.0, high: float = 1.0) -> Place:
        return strip.within(max(start_s, 0.0) / duration_s, low, min(end_s, duration_s) / duration_s, high)

    steps = [p for p in review.phrase.phases if p.kind != "static"]
    great = [part(p.start_s, p.end_s) for p in steps if p.kind in ("turn", "jump")]
    others = [part(p.start_s, p.end_s) for p in steps if p.kind not in ("turn", "jump")]
    picture.boxes("Strip ground", [part(0.0, duration_s)], _GROUND, behind=0.006)
    for name, boxes, colour, behind in (("Strip steps", others, _STEP, 0.005), ("Strip turns and jumps", great, _GREAT, 0.004)):
        if boxes:
            picture.boxes(name, boxes, colour, behind=behind)
    high = strip.height * picture.height
    mark_s = _MARK * high / (strip.width * picture.width) * duration_s
    marks = [part(f.peak_s - mark_s / 2, f.peak_s + mark_s / 2, -_OUT, 1.0) for f in told]
    if marks:
        picture.boxes("Strip corrections", marks, FAULT, behind=0.003)
    head_s = _HEAD * high / (strip.width * picture.width) * duration_s
    head = picture.boxes("Strip playhead", [part(0.0, head_s, -_OUT, 1.0 + _OUT)], (0.0, 0.0, 0.0), behind=0.002)
    curves = compat.curves_of(head, head.name)
    across = (plan.time_s / duration_s - 0.5 * head_s / duration_s) * strip.width * picture.width
    key(curves, "location", 0, 1.0 + np.arange(across.size), across)
    counted = said_at(plan.time_s, counts_of(review.phrase))
    for said in sorted(set(counted) - {""}):
        item = picture.line(f"Counted {said}", said, layout.counts, right=True)
        seen(item, spans_of(np.array([word == said for word in counted])), len(counted))


def put_words(
    reviews: list[Review],
    plan: FilmPlan,
    told: list[dict[str, Shown]],
    layout: Layout,
    camera: bpy.types.Object,
    aspect: float,
    collection: Collection,
    *,
    names: bool = False,
    alone: dict[int, Finding] | None = None,
) -> None:
    """Captions, names, strip, counts and legend.

    told: for each take, what it shows of each correction, by its id. names: whether the takes' files are named, and with them
    perhaps the dancer; else the takes are called before and now. alone: see _put_captions.
    """
    picture = _Picture(camera, aspect, layout.line, collection)
    _put_captions(picture, plan, told, layout, alone or {})
    if len(reviews) > 1 or not plan.stops:
        _put_names(picture, reviews, plan, layout, names=names)
    _put_strip(picture, reviews[0], plan, [stop.finding for stop in plan.stops if stop.finding is not None], layout)
    for (said, colour), place in zip(LEGEND, layout.legend, strict=True):
        picture.legend(said, colour, place)


def label(said: str, size: float, collection: Collection) -> tuple[list[bpy.types.Object], float]:
    """Words on a light card whose middle is its origin, card first; and half its width, in the units of size."""
    half = 0.5 * extent(said) * size + 0.45 * size
    text = text_object("Measure number", said, size, collection, align="CENTER")
    text.location = (0.0, 0.55 * size, 0.004)
    corners = [(-half, -0.72 * size, 0.0), (half, -0.72 * size, 0.0), (half, 0.78 * size, 0.0), (-half, 0.78 * size, 0.0)]
    paper = stage.mesh_object("Measure card", corners, [(0, 1, 2, 3)], _card_material(), collection)
    without_shadow(paper)
    text.parent = paper
    return [paper, text], half


def _card_material() -> bpy.types.Material:
    return stage.own_material("Film card", _CARD, glowing=True)
