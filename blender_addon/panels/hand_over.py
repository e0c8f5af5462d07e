"""The take for an animator."""

import bpy
from bpy.types import Panel

from ..analysis_core.wording import panels as words
from ..blender_types import there
from .take import ReviewPanel
from .text import sentence


class DANCE_REVIEW_PT_hand_over(ReviewPanel, Panel):
    """The hand-over."""

    bl_label = "For the Animator"
    bl_order = 7
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        sentence(layout, context, words.FOR_ANIMATING)
        layout.operator("dance_review.hand_over", text="Write Files", icon="EXPORT")
        column = layout.column(align=True)
        column.operator(
            "dance_review.bring_onto_armature", text="Bring onto the Active Armature", icon="ARMATURE_DATA"
        ).choose = False
        column.operator("dance_review.bring_onto_armature", text="… with Its Own Bone Names", icon="FILE_TEXT").choose = True


CLASSES = (DANCE_REVIEW_PT_hand_over,)
