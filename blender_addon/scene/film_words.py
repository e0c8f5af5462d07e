"""The words of a film: captions of its holds, names of the takes, and the legend, each within its own place of the picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from .. import compat
from ..analysis_core.figure.palette import CANNOT_TELL, FAULT, IN_BAND, WATCH
from ..analysis_core.findings.finding import Finding
from ..analysis_core.review import Review
from ..analysis_core.wording import findings as say
from . import stage
from .armature import key
from .captions import extent, half_picture, in_picture, text_object, without_shadow
from .film_layout import Layout, Place
from .film_plan import FilmPlan
from .fitting import fitted, on_one_line

LEGEND = (("in the band", IN_BAND), ("watch", WATCH), ("correct first", FAULT), ("cannot be told", CANNOT_TELL))
#: What takes are called where no file is named; one alone is now.
_BEFORE_AND_NOW = ("before", "now")
#: A caption is seen a little longer than the hold, pictures.
_AROUND = 4


class _Picture:
    """Puts words into places of the picture of a camera."""

    def __init__(self, camera: Any, aspect: float, line: float, collection: Any) -> None:
        self.camera = camera
        self.collection = collection
        half_width, half_height = half_picture(camera, aspect)
        self.width, self.height = 2.0 * half_width, 2.0 * half_height
        self.size = line * self.height

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Metres at the captions' depth of a point of the picture, 0 to 1."""
        return (x - 0.5) * self.width, (y - 0.5) * self.height

    def words(self, name: str, said: str, place: Place) -> Any:
        """Words from the top of a place down."""
        text, size = fitted(said, place.width * self.width, place.height * self.height, self.size, extent)
        made = text_object(name, text, size, self.collection)
        in_picture(made, self.camera, *self.at(place.left, place.top))
        return made

    def line(self, name: str, said: str, place: Place, indent: float = 0.0) -> None:
        """One line of words at the top of a place; indent: metres at its left that are not for words."""
        text, size = on_one_line(said, place.width * self.width - indent, 0.9 * self.size, extent)
        x, y = self.at(place.left, place.top)
        in_picture(text_object(name, text, size, self.collection), self.camera, x + indent, y)

    def legend(self, said: str, colour: tuple[float, float, float], place: Place) -> None:
        """A disc of a colour and what it means."""
        radius = 0.3 * self.size
        swatch = stage.disc(f"Legend {said}", radius, 0.0005, stage.plain_material(f"Legend {said}", colour), self.collection, 24)
        without_shadow(swatch)
        x, y = self.at(place.left, place.top)
        in_picture(swatch, self.camera, x + radius, y - 0.45 * self.size)
        self.line(f"Legend {said} words", said, place, indent=2.6 * radius)


def _seen(item: Any, first: int, last: int, pictures: int) -> None:
    """Key an object to be seen on pictures first to last only."""
    curves = compat.curves_of(item, item.name)
    frames = np.array([0.0, 1.0 + first, 2.0 + last, pictures + 2.0])
    for path in ("hide_viewport", "hide_render"):
        key(curves, path, 0, frames, np.array([1.0, 0.0, 1.0, 1.0]), kind=0)


def _said(finding: Finding | None, wanted: Finding | None, *, cue: bool) -> str:
    if finding is not None:
        return say.caption(finding, cue=cue)
    return f"{say.title(wanted)}:\n{say.NOT_FOUND}" if wanted is not None else say.NOTHING_FIRST


def put_words(
    reviews: list[Review],
    plan: FilmPlan,
    found: list[list[Finding | None]],
    layout: Layout,
    camera: Any,
    aspect: float,
    collection: Any,
    *,
    names: bool = False,
) -> None:
    """Captions, names and legend.

    found: for each take, what is told at each hold of the plan; None where it has nothing. names: whether the takes' files are
    named, and with them perhaps the dancer; else the takes are called before and now.
    """
    picture = _Picture(camera, aspect, layout.line, collection)
    pictures = len(plan.turned_rad)
    for index, hold in enumerate(plan.holds):
        # Two captions never share the picture: where holds follow each other closely they take turns.
        first = max(hold.first - _AROUND, plan.holds[index - 1].last + 1 if index else 0)
        last = min(hold.last + _AROUND, plan.holds[index + 1].first - _AROUND - 1 if index + 1 < len(plan.holds) else pictures)
        for take, told in enumerate(found):
            said = _said(told[index], hold.finding, cue=len(reviews) == 1)
            caption = picture.words(f"Caption {index + 1} {take + 1}", said, layout.captions[take])
            _seen(caption, first, max(last, hold.last), pictures)
    if len(reviews) > 1 or not plan.holds:
        for take, (review, place) in enumerate(zip(reviews, layout.names, strict=True)):
            told_apart = _BEFORE_AND_NOW[take - len(reviews)]
            picture.line(f"Take {take + 1}", (Path(review.take.file).stem if names else "") or told_apart, place)
    for (said, colour), place in zip(LEGEND, layout.legend, strict=True):
        picture.legend(said, colour, place)
