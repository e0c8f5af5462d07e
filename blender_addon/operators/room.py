"""The workspace."""

import bpy
from bpy.types import Operator

from .. import room
from ..analysis_core.wording import unavailable
from ..blender_types import Ended


class DANCE_REVIEW_OT_enter_workspace(Operator):
    """Go to a tidy screen with dancer, timeline and corrections only; delete it like any workspace when you are done"""

    bl_idname = "dance_review.enter_workspace"
    bl_label = "Dance Review Workspace"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if bpy.app.background or context.window is None:
            cls.poll_message_set(unavailable.NO_WINDOW)
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        room.enter(context)
        return {"FINISHED"}


CLASSES = (DANCE_REVIEW_OT_enter_workspace,)
