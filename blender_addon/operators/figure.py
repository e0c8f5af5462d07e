"""What the dancer wears."""

from typing import Annotated

import bpy
from bpy.props import EnumProperty
from bpy.types import Operator

from ..analysis_core.errors import InTheRoundError
from ..analysis_core.figure.proportions import rest_of
from ..analysis_core.review import read_review
from ..analysis_core.wording import unavailable
from ..blender_types import Ended, there
from ..properties import FIGURES, state_of
from ..saving import folder_of
from ..scene.figure import body_in, change_look
from ..walk import apply_display
from .common import has_review, refused


class DANCE_REVIEW_OT_change_figure(Operator):
    """Dress the dancer of this scene differently; new scenes begin with the figure of the preferences"""

    bl_idname = "dance_review.change_figure"
    bl_label = "Change Figure"
    bl_options = {"REGISTER", "UNDO"}

    figure: Annotated[str, EnumProperty(name="Figure", items=FIGURES, description="What the dancer wears")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_review(cls, context):
            return False
        if body_in(there(context.scene)) is None:
            cls.poll_message_set(unavailable.NO_DANCER)
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        try:
            review = read_review(folder_of(state))
        except InTheRoundError as error:
            return refused(self, error)
        change_look(body_in(there(context.scene)), rest_of(review.movement), self.figure)
        apply_display(context, state)
        return {"FINISHED"}


CLASSES: tuple[type, ...] = (DANCE_REVIEW_OT_change_figure,)
