"""The body inside the band: a translucent limb or body beside the dancer's own at the decisive moment. An illustration."""

from __future__ import annotations

import bpy
import numpy as np
from bpy.types import Collection
from numpy.typing import NDArray

from ..analysis_core.body.movement import SEGMENTS
from ..analysis_core.figure import palette
from ..analysis_core.figure.motion import chosen, motion_of
from ..analysis_core.figure.posing import skin_at
from ..analysis_core.figure.proportions import Rest
from ..analysis_core.figure.skin import Skin
from ..analysis_core.review import Review
from ..analysis_core.take import Floats
from ..analysis_core.views.inside import Inside, held_after
from ..blender_types import mesh_of
from .captions import without_shadow
from .stage import mesh_object, own_material, translucent

#: How much of what lies behind it it hides.
_ALPHA = 0.5
#: A face belongs to the turned parts where they move it by at least this share.
_SHARE = 0.35

#: Points (V, 3) and faces (Q, 4) of what is shown of one pose.
Surface = tuple[Floats, NDArray[np.int64]]


def surfaces_of(review: Review, shown: tuple[Inside, ...], rest: Rest, skin: Skin) -> dict[str, Surface]:
    """What is shown of each pose, by the finding's id: the figure's skin, of the parts that were turned only."""
    if not shown:
        return {}
    movement, frames = held_after(review.movement, shown)
    points = skin_at(skin, chosen(motion_of(movement, rest), np.array(frames, dtype=np.int64)), rest)
    surfaces = {}
    for row, item in enumerate(shown):
        moved = skin.weights[:, [SEGMENTS.index(name) for name in item.parts]].sum(axis=1)
        faces = skin.quads[(moved[skin.quads] > _SHARE).all(axis=1)]
        used, places = np.unique(faces, return_inverse=True)
        surfaces[item.finding] = points[row, used], places.reshape(-1, 4).astype(np.int64)
    return surfaces


def draw_inside(surface: Surface, collection: Collection) -> bpy.types.Object:
    """The translucent limb or body as an object, in its own place."""
    material = translucent(own_material("Inside the band", palette.INSIDE), _ALPHA)
    made = mesh_object("Inside the band", surface[0].tolist(), surface[1].tolist(), material, collection)
    made.color = (*palette.INSIDE, _ALPHA)
    mesh_of(made).shade_smooth()
    without_shadow(made)
    return made
