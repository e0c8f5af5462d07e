"""A second take beside the first or as a ghost over it, and the walk through what is different."""

from pathlib import Path
from typing import Annotated, Any

import bpy
from bpy.props import EnumProperty, FloatProperty, StringProperty
from bpy.types import Operator

from .. import second_take, walk
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.review import read_review
from ..analysis_core.views.second_take import Place
from ..analysis_core.wording import reports, unavailable
from ..blender_types import Ended, there
from ..properties import state_of
from ..saving import folder_of
from ..scene import second_dancer
from ..scene.figure import look_in
from .common import has_review, refused

_PLACES = (
    ("ghost", "As a Ghost", "In the same place: a pale veil, solid where it differs"),
    ("beside", "Beside", "To the first dancer's right"),
)
_STEPS = (
    ("movement", "By the Movement", "In step by what both dance, moment by moment"),
    ("music", "By the Music", "Count 1 of the music together, so that early and late are seen"),
)


def _has_second(operator: Any, context: bpy.types.Context) -> bool:
    if not has_review(operator, context):
        return False
    if not state_of(context).second.take_name:
        operator.poll_message_set(unavailable.NO_SECOND_TAKE)
        return False
    return True


class DANCE_REVIEW_OT_add_second_take(Operator):
    """Show another reviewed take of the phrase together with this one, coloured where it differs"""

    bl_idname = "dance_review.add_second_take"
    bl_label = "Open Second Take"
    bl_options = {"REGISTER", "UNDO"}

    directory: Annotated[
        str,
        StringProperty(
            name="Review Folder", subtype="DIR_PATH", options={"SKIP_SAVE"}, description="The review of the other take"
        ),
    ]
    place: Annotated[
        Place, EnumProperty(name="Place", items=_PLACES, default="ghost", description="Where the second dancer is shown")
    ]
    step: Annotated[
        str, EnumProperty(name="In Step", items=_STEPS, default="movement", description="What brings the two together")
    ]
    first_count: Annotated[
        float,
        FloatProperty(
            name="First Count", unit="TIME_ABSOLUTE", default=0.0, description="Time of count 1 from the start of the second take"
        ),
    ]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        there(context.window_manager).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        layout.use_property_split = True
        layout.prop(self, "place", expand=True)
        layout.prop(self, "step", expand=True)
        sub = layout.row()
        sub.enabled = self.step == "music"
        sub.prop(self, "first_count")

    def execute(self, context: bpy.types.Context) -> Ended:
        # Comparing needs scipy: loaded when it is asked for.
        from ..analysis_core.compare import compare
        from ..analysis_core.views.second_take import by_the_music, in_step, levels_of_differences

        state, scene = state_of(context), there(context.scene)
        folder = Path(bpy.path.abspath(self.directory))
        try:
            a, b = read_review(folder_of(state)), read_review(folder)
            comparison = compare(a, b)
        except InTheRoundError as error:
            return refused(self, error)
        own = state.settings.offset if state.settings.use_tempo else 0.0
        music = self.step == "music"
        step = (
            by_the_music(a.movement, b.movement, own, self.first_count)
            if music
            else in_step(comparison.alignment, a.movement, b.movement)
        )
        levels = levels_of_differences(a, b, comparison)
        second_dancer.add(scene, a, b, step, levels, place=self.place, look=look_in(scene), frame_start=state.frame_start)
        how = reports.IN_STEP_BY["music" if music else comparison.alignment.method]
        second_take.fill(state.second, comparison, str(folder), how)
        walk.show_both(context, state)
        if not len(state.second.differences):
            self.report({"INFO"}, reports.NO_DIFFERENCE)
        return {"FINISHED"}


class DANCE_REVIEW_OT_remove_second_take(Operator):
    """Take the second take out of the scene"""

    bl_idname = "dance_review.remove_second_take"
    bl_label = "Remove Second Take"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _has_second(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        second_dancer.remove(there(context.scene))
        second_take.empty(state_of(context).second)
        return {"FINISHED"}


class DANCE_REVIEW_OT_step_difference(Operator):
    """Go to the next or previous difference of the second take, the largest first"""

    bl_idname = "dance_review.step_difference"
    bl_label = "Next Difference"
    bl_options = {"REGISTER", "UNDO_GROUPED"}
    bl_undo_group = "Go to Difference"

    direction: Annotated[
        str,
        EnumProperty(
            name="Direction",
            items=(("NEXT", "Next", "Go to the next smaller one"), ("PREVIOUS", "Previous", "Go to the next larger one")),
            default="NEXT",
            description="Which way to go",
        ),
    ]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not _has_second(cls, context):
            return False
        if not len(state_of(context).second.differences):
            cls.poll_message_set(unavailable.NO_DIFFERENCE)
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        second = state_of(context).second
        count = len(second.differences)
        if self.direction == "NEXT":
            second.chosen = (second.chosen + 1) % count
        else:
            second.chosen = (max(second.chosen, 0) - 1) % count
        return {"FINISHED"}


CLASSES: tuple[type, ...] = (
    DANCE_REVIEW_OT_add_second_take,
    DANCE_REVIEW_OT_remove_second_take,
    DANCE_REVIEW_OT_step_difference,
)
