"""Going through the corrections: one click, next and previous, slow motion, what came first."""

from typing import Annotated, Any

import bpy
from bpy.props import EnumProperty, StringProperty
from bpy.types import Operator

from .. import moments, walk
from .. import state as states
from ..analysis_core.wording import reports, unavailable
from ..blender_types import Ended, there
from ..properties import state_of
from .common import has_chosen, has_review

#: Speed of slow motion around a correction, per cent. Proposed default, no published norm.
SLOW_PER_CENT = 25.0


class DANCE_REVIEW_OT_go_to(Operator):
    """Go to this correction: its frame, its camera, its body part"""

    bl_idname = "dance_review.go_to"
    bl_label = "Go to Correction"
    bl_options = {"REGISTER", "UNDO_GROUPED"}
    bl_undo_group = "Go to Correction"

    finding: Annotated[str, StringProperty(name="Correction", options={"SKIP_SAVE"}, description="Id of the correction")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        place = next((place for place, item in enumerate(state.findings) if item.finding == self.finding), None)
        if place is None:
            self.report({"ERROR"}, reports.no_correction(self.finding))
            return {"CANCELLED"}
        state.chosen = place
        return {"FINISHED"}


class DANCE_REVIEW_OT_step(Operator):
    """Go to the next or previous correction of the list, as filtered"""

    bl_idname = "dance_review.step"
    bl_label = "Next Correction"
    bl_options = {"REGISTER", "UNDO_GROUPED"}
    bl_undo_group = "Go to Correction"

    direction: Annotated[
        str,
        EnumProperty(
            name="Direction",
            items=(("NEXT", "Next", "Go down the list"), ("PREVIOUS", "Previous", "Go up the list")),
            default="NEXT",
            description="Which way to go",
        ),
    ]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_review(cls, context):
            return False
        state = state_of(context)
        if not any(states.is_visible(state, item) for item in state.findings):
            cls.poll_message_set(unavailable.NONE_PASSES)
            return False
        return True

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        return "Go to the next correction" if properties.direction == "NEXT" else "Go to the previous correction"

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        shown = [place for place, item in enumerate(state.findings) if states.is_visible(state, item)]
        if self.direction == "NEXT":
            state.chosen = next((place for place in shown if place > state.chosen), shown[0])
        else:
            state.chosen = next((place for place in reversed(shown) if place < state.chosen), shown[-1])
        return {"FINISHED"}


def _play(context: bpy.types.Context, playing: bool) -> None:
    """Start or stop playback where there is a window to play in."""
    if not bpy.app.background and context.screen is not None and context.screen.is_animation_playing != playing:
        bpy.ops.screen.animation_play()


class DANCE_REVIEW_OT_play(Operator):
    """Play a part of the take over and over"""

    bl_idname = "dance_review.play"
    bl_label = "Play"

    what: Annotated[
        str,
        EnumProperty(
            name="Part",
            items=(
                ("MOMENT", "Moment", "The chosen correction, with what leads in and out"),
                ("SLOWLY", "Slowly", "The chosen correction in slow motion"),
                ("STEP", "Step", "The step that the chosen correction belongs to"),
                ("PHRASE", "Phrase", "The whole take"),
            ),
            default="MOMENT",
            description="What is played",
        ),
    ]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        return {
            "MOMENT": "Play the chosen correction, with what leads in and out, over and over",
            "SLOWLY": "Play the chosen correction in slow motion, over and over",
            "STEP": "Play the step that the chosen correction belongs to, over and over",
            "PHRASE": "Play the whole take at full speed",
        }[properties.what]

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        item = states.chosen(state)
        if self.what == "PHRASE":
            there(context.scene).use_preview_range = False
        elif item is None:
            self.report({"ERROR"}, unavailable.NOTHING_CHOSEN)
            return {"CANCELLED"}
        else:
            walk.set_range(state, *(moments.step_of(state, item) if self.what == "STEP" else moments.moment_of(item)))
            there(context.scene).frame_set(there(context.scene).frame_preview_start)
        state.speed = SLOW_PER_CENT if self.what == "SLOWLY" else 100.0
        _play(context, True)
        return {"FINISHED"}


class DANCE_REVIEW_OT_stop(Operator):
    """Stop playing and go back to the whole take at full speed"""

    bl_idname = "dance_review.stop"
    bl_label = "Stop"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        _play(context, False)
        there(context.scene).use_preview_range = False
        state.speed = 100.0
        walk.show_chosen(context, state)
        return {"FINISHED"}


class DANCE_REVIEW_OT_look_around(Operator):
    """Leave the camera of the correction and look at the dancer from wherever you like"""

    bl_idname = "dance_review.look_around"
    bl_label = "Look Around"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_chosen(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        walk.leave_camera(context, state_of(context))
        return {"FINISHED"}


CLASSES = (
    DANCE_REVIEW_OT_go_to,
    DANCE_REVIEW_OT_step,
    DANCE_REVIEW_OT_play,
    DANCE_REVIEW_OT_stop,
    DANCE_REVIEW_OT_look_around,
)
