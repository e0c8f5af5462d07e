"""The second take: what is different, the largest first."""

from typing import Any

import bpy
from bpy.types import Panel, UIList

from ..analysis_core.wording import numbers
from ..analysis_core.wording import panels as words
from ..blender_types import there
from ..properties import state_of
from .take import ReviewPanel
from .text import sentence, when


class DANCE_REVIEW_UL_differences(UIList):
    """A line for every difference that can be shown."""

    def draw_item(
        self, context: bpy.types.Context, layout: bpy.types.UILayout, data: Any, item: Any, icon: int | None, active_data: Any,
        active_property: str | None, index: int | None = 0, flt_flag: int | None = 0,
    ) -> None:  # fmt: skip
        row = layout.row(align=True)
        row.progress(factor=item.size, type="RING", text="")
        row.label(text=item.name)
        when(row, numbers.seconds(item.a_s))


class DANCE_REVIEW_PT_second_take(ReviewPanel, Panel):
    """The second take of the scene."""

    bl_label = "Second Take"
    bl_order = 4
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        second = state_of(context).second
        if not second.take_name:
            sentence(layout, context, words.SECOND_TAKE)
            layout.operator("dance_review.add_second_take", icon="GHOST_ENABLED")
            return
        row = layout.row(align=True)
        row.label(text=second.take_name)
        row.operator("dance_review.add_second_take", text="", icon="FILE_REFRESH")
        row.operator("dance_review.remove_second_take", text="", icon="X")
        sentence(layout, context, words.in_step(second.how))
        if second.differences:
            layout.template_list("DANCE_REVIEW_UL_differences", "", second, "differences", second, "chosen", rows=4, maxrows=10)
            if 0 <= second.chosen < len(second.differences):
                sentence(layout, context, second.differences[second.chosen].name)
            row = layout.row(align=True)
            row.operator("dance_review.step_difference", text="Previous", icon="TRIA_LEFT").direction = "PREVIOUS"
            row.operator("dance_review.step_difference", text="Next", icon="TRIA_RIGHT").direction = "NEXT"
        else:
            sentence(layout, context, words.NO_DIFFERENCE, icon="CHECKMARK")
        for line in second.said:
            sentence(layout, context, line.what, icon="DOT")


CLASSES: tuple[type, ...] = (DANCE_REVIEW_UL_differences, DANCE_REVIEW_PT_second_take)
