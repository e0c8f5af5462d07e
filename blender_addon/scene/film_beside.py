"""The reference film of a phone in the film for the student: laid over its pictures by Blender's sequencer, frame by frame."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.types import Scene

from .. import compat
from ..analysis_core.film.plan import FilmPlan
from ..analysis_core.film.reference import frames_at
from .beside import read_film
from .curves import CONSTANT, key
from .film_layout import Place

#: Its frame: so broad, share of the picture's shorter side, and so grey.
_FRAME, _GREY = 0.004, (0.30, 0.31, 0.33)


@dataclass(frozen=True)
class Reference:
    """A film beside the dancer. at_s: second of it at which the take begins; size: pixels."""

    file: Path
    at_s: float
    size: tuple[int, int]
    rate_hz: float
    frames: int

    @property
    def aspect(self) -> float:
        """Width against height."""
        return self.size[0] / self.size[1]


def reference_of(file: str, at_s: float) -> Reference:
    """The film in a file. Raises TakeError when Blender can show none."""
    image, rate_hz = read_film(Path(file))
    found = Reference(Path(file), at_s, (image.size[0], image.size[1]), rate_hz, image.frame_duration)
    if image.users == 0:
        bpy.data.images.remove(image)
    return found


def _put(strip: Any, place: Place, picture: tuple[int, int], own: tuple[int, int], beyond: float = 0.0) -> None:
    """Lay a strip whose own size is given into a place of the picture; beyond: so many pixels more on each side."""
    strip.transform.scale_x = (place.width * picture[0] + 2 * beyond) / own[0]
    strip.transform.scale_y = (place.height * picture[1] + 2 * beyond) / own[1]
    strip.transform.offset_x = (0.5 * (place.left + place.right) - 0.5) * picture[0]
    strip.transform.offset_y = (0.5 * (place.bottom + place.top) - 0.5) * picture[1]


def lay_over(scene: Scene, film: Reference, plan: FilmPlan, place: Place, channel: int) -> None:
    """Put a film with a frame round it over the sequencer's pictures of a scene, at the take's moment on every one of them."""
    editor, pictures = scene.sequence_editor, len(plan.time_s)
    picture = (scene.render.resolution_x, scene.render.resolution_y)
    frame = compat.new_effect(editor, "Reference frame", "COLOR", channel, pictures)
    frame.color, frame.blend_type = _GREY, "ALPHA_OVER"
    _put(frame, place, picture, picture, max(1.0, _FRAME * min(picture)))
    movie = compat.strips_of(editor).new_movie("Reference", str(film.file), channel + 1, 1, fit_method="ORIGINAL")
    movie.frame_final_duration = pictures
    _put(movie, place, picture, film.size)
    # Whatever the rates of the two are: the frame is named for each picture.
    step = compat.new_effect(editor, "Reference step", "SPEED", channel + 2, pictures, movie)
    step.speed_control, step.use_frame_interpolate, step.blend_type = "FRAME_NUMBER", False, "ALPHA_OVER"
    shown = frames_at(plan.time_s, film.at_s, film.rate_hz, film.frames)
    path = step.path_from_id("speed_frame_number")
    curves, numbers = compat.curves_of(scene, "Reference step"), np.arange(1.0, pictures + 1.0)
    key(curves, path, 0, numbers, shown.astype(np.float64), kind=CONSTANT)
