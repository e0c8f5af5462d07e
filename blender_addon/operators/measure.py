"""The curves of what was measured."""

import bpy
from bpy.types import Operator

from .. import curves_shown
from .. import state as states
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import reports
from ..blender_types import Ended
from ..properties import state_of
from .common import has_review, refused


class DANCE_REVIEW_OT_show_measures(Operator):
    """Show how the chosen number changes over time, with its band, in the Graph Editor; all numbers when none is chosen"""

    bl_idname = "dance_review.show_measures"
    bl_label = "Show Measured Curves"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        try:
            own = curves_shown.show(context, state, states.chosen(state))
        except InTheRoundError as error:
            return refused(self, error)
        if not own:
            self.report({"INFO"}, reports.NO_COURSE)
        curves_shown.open_editor(context, state)
        return {"FINISHED"}


CLASSES = (DANCE_REVIEW_OT_show_measures,)
