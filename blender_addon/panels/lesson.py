"""The next class, from what was found."""

import bpy
from bpy.types import Panel

from .. import record_view
from ..analysis_core.wording import panels as words
from ..blender_types import there
from ..properties import review_of, state_of
from .take import ReviewPanel
from .text import sentence


class DANCE_REVIEW_PT_lesson(ReviewPanel, Panel):
    """The lesson."""

    bl_label = "Lesson"
    bl_order = 5
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        sentence(layout, context, words.LESSON)
        dancer = record_view.dancer_of(state_of(context))
        if dancer is not None:
            sentence(layout, context, words.record_counts(dancer), icon="USER")
        column = layout.column(align=True)
        column.operator("dance_review.plan_lesson", text="Plan for This Dancer", icon="TEXT").whole_class = False
        open_takes = sum(bool(review_of(scene).take_name) for scene in bpy.data.scenes)
        if open_takes > 1:
            column.operator("dance_review.plan_lesson", text=words.plan_for_all(open_takes), icon="COMMUNITY").whole_class = True


CLASSES = (DANCE_REVIEW_PT_lesson,)
