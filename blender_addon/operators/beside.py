"""Music and a reference film beside the dancer."""

from pathlib import Path
from typing import Annotated, Any

import bpy
from bpy.props import EnumProperty, FloatProperty, StringProperty
from bpy.types import Operator

from .. import beside, walk
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.views.beside import Clip, Kind
from ..blender_types import Ended, there
from ..properties import state_of
from .common import has_review, refused

_KINDS = (
    ("music", "Music", "A sound file that plays in step with the dancer"),
    ("film", "Film from a Phone", "A film taken with a phone, shown in step beside the dancer"),
)
_GLOBS = {
    "music": "*.wav;*.flac;*.mp3;*.ogg;*.oga;*.opus;*.m4a;*.aac;*.aif;*.aiff;*.mp4;*.mov;*.mkv;*.webm",
    "film": "*.mp4;*.m4v;*.mov;*.avi;*.mkv;*.webm;*.mpg;*.mpeg",
}


class DANCE_REVIEW_OT_attach(Operator):
    """Play music or a film taken with a phone in step beside the dancer; its file stays where it is, and is on no page"""

    bl_idname = "dance_review.attach"
    bl_label = "Attach"
    bl_options = {"REGISTER", "UNDO"}

    kind: Annotated[
        Kind, EnumProperty(name="What", items=_KINDS, options={"SKIP_SAVE"}, description="What plays beside the take")
    ]
    filepath: Annotated[
        str, StringProperty(name="File", subtype="FILE_PATH", options={"SKIP_SAVE"}, description="The sound file or the film")
    ]
    at_s: Annotated[
        float,
        FloatProperty(
            name="Take Begins At",
            unit="TIME_ABSOLUTE",
            options={"SKIP_SAVE"},
            description="How far into the file the take begins; below zero where the file begins after the take",
        ),
    ]
    filter_glob: Annotated[str, StringProperty(options={"HIDDEN", "SKIP_SAVE"})]

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        return f"{next(says for name, _, says in _KINDS if name == properties.kind)}; it stays where it is and goes on no page"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        self.filter_glob = _GLOBS[self.kind]
        there(context.window_manager).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def draw(self, context: bpy.types.Context) -> None:
        there(self.layout).use_property_split = True
        there(self.layout).prop(self, "at_s")

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        try:
            beside.attach(state, self.kind, Clip(Path(bpy.path.abspath(self.filepath)), self.at_s))
        except InTheRoundError as error:
            return refused(self, error)
        walk.place_film(context, state)
        return {"FINISHED"}


class DANCE_REVIEW_OT_detach(Operator):
    """Take music or film away from the take; the file stays where it is"""

    bl_idname = "dance_review.detach"
    bl_label = "Take Away"
    bl_options = {"REGISTER", "UNDO"}

    kind: Annotated[Kind, EnumProperty(name="What", items=_KINDS, options={"SKIP_SAVE"}, description="What is taken away")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        try:
            beside.detach(state_of(context), self.kind)
        except InTheRoundError as error:
            return refused(self, error)
        walk.place_film(context, state_of(context))
        return {"FINISHED"}


CLASSES: tuple[type, ...] = (DANCE_REVIEW_OT_attach, DANCE_REVIEW_OT_detach)
