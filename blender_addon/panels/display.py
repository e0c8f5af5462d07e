"""How the corrections are shown, and the film."""

import bpy
from bpy.types import Panel

from ..analysis_core.figure.looks import LOOKS
from ..blender_types import there
from ..properties import state_of
from ..scene.aids import DRAW, collection_of
from ..scene.figure import look_in
from .take import ReviewPanel


class DANCE_REVIEW_PT_display(ReviewPanel, Panel):
    """Display options."""

    bl_label = "Display"
    bl_order = 4
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        layout.use_property_split = True
        layout.use_property_decorate = False
        state = state_of(context)
        column = layout.column()
        column.prop(state, "use_camera")
        column.prop(state, "show_caption")
        column.prop(state, "show_measure")
        column.prop(state, "isolate")
        column.prop(state, "speed")
        look = LOOKS[look_in(there(context.scene))].title
        split = layout.split(factor=0.4)
        split.label(text="Figure")
        split.operator_menu_enum("dance_review.change_figure", "figure", text=look)
        column = layout.column(heading="Draw", align=True)
        for kind in DRAW:
            drawn = collection_of(there(context.scene), kind)
            shown = drawn is not None and not drawn.hide_viewport
            column.operator("dance_review.show_aid", text=kind.title(), depress=shown).kind = kind
        row = layout.row(align=True)
        row.operator("dance_review.draw_path", icon="CURVE_PATH")
        row.operator("dance_review.clear_paths", text="", icon="X")
        column = layout.column()
        column.operator("dance_review.play", text="Play the Whole Take", icon="PLAY").what = "PHRASE"
        column.operator("dance_review.show_measures", icon="GRAPH")
        column.operator("dance_review.render_turntable", icon="RENDER_ANIMATION")
        column.operator("dance_review.make_page", icon="USER")


CLASSES: tuple[type, ...] = (DANCE_REVIEW_PT_display,)
