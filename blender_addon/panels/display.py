"""How the corrections are shown, and the film."""

from typing import Any

import bpy
from bpy.types import Panel

from .take import ReviewPanel


class DANCE_REVIEW_PT_display(ReviewPanel, Panel):
    """Display options."""

    bl_label = "Display"
    bl_order = 4
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        state = context.scene.dance_review
        column = layout.column()
        column.prop(state, "use_camera")
        column.prop(state, "show_caption")
        column.prop(state, "isolate")
        column.prop(state, "speed")
        column.operator("dance_review.play", text="Play the Whole Take", icon="PLAY").what = "PHRASE"
        column.operator("dance_review.show_measures", icon="GRAPH")
        column.operator("dance_review.render_turntable", icon="RENDER_ANIMATION")


CLASSES: tuple[Any, ...] = (DANCE_REVIEW_PT_display,)
