"""The curves of what was measured."""

import bpy
from bpy.types import Operator

from .. import measures, room
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.review import read_review
from ..saving import folder_of
from .common import has_review, refused, state_of


class DANCE_REVIEW_OT_show_measures(Operator):
    """Show the measured angles and heights as curves in the Graph Editor, with the band of the chosen correction"""

    bl_idname = "dance_review.show_measures"
    bl_label = "Show Measured Curves"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> set[str]:
        state, scene = state_of(context), context.scene
        if measures.find(scene) is None:
            try:
                movement = read_review(folder_of(state)).movement
            except InTheRoundError as error:
                return refused(self, error)
            measures.add(scene, movement, state.frame_start)
        measures.show(scene, state)
        item = measures.find(scene)
        # The Graph Editor shows what is selected.
        for other in context.selected_objects:
            other.select_set(False)
        item.select_set(True)
        context.view_layer.objects.active = item
        if context.screen is not None and not bpy.app.background:
            room.open_graph_editor(context)
        return {"FINISHED"}


CLASSES = (DANCE_REVIEW_OT_show_measures,)
