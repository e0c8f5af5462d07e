"""Drawing what helps to see: plumb line, support, turnout, the axis of a turn, a path."""

from typing import Annotated, Any

import bpy
from bpy.props import EnumProperty
from bpy.types import Operator

from ..analysis_core.body.anatomy import ARM, LEG, TRUNK_SEGMENTS
from ..analysis_core.body.movement import JOINTS
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.review import Review, read_review
from ..analysis_core.wording import names, unavailable
from ..blender_types import Ended, there
from ..properties import DanceReviewFinding, DanceReviewState, state_of
from ..saving import folder_of
from ..scene import aids
from ..state import chosen
from .common import has_review, refused

_KINDS = (
    ("plumb line", "Plumb Line", "An upright line from the middle of the support"),
    ("support", "Support", "The area between the soles on the floor"),
    ("turnout", "Turnout", "Where feet and bent knees point, drawn on the floor"),
    ("turn axis", "Turn Axis", "From the support through the centre of mass, during turns"),
    ("markers", "Markers", "Balls where they were measured, cubes where gaps were filled, large dark cubes for guesses"),
)
#: Joints whose path is drawn for a correction of a body part, by the part's first word.
_JOINT_OF_PART = {
    **{segment: far for segment, _, far in (*LEG, *ARM) if far},
    **{part: part for part in TRUNK_SEGMENTS if part in JOINTS},
    **{"foot": "heel", "toes": "toe", "thorax": "neck", "clavicle": "shoulder", "hand": "wrist"},
}


def _review(operator: Operator, state: DanceReviewState) -> Review | None:
    """The review of a scene, read from its folder; reports why it cannot be."""
    try:
        return read_review(folder_of(state))
    except InTheRoundError as error:
        refused(operator, error)
        return None


class DANCE_REVIEW_OT_show_aid(Operator):
    """Draw a line or an area that helps to see, or take it away again"""

    bl_idname = "dance_review.show_aid"
    bl_label = "Show Aid"
    bl_options = {"REGISTER", "UNDO"}

    kind: Annotated[str, EnumProperty(name="Aid", items=_KINDS, description="What is drawn")]

    @classmethod
    def description(cls, context: bpy.types.Context, properties: Any) -> str:
        return next(text for name, _, text in _KINDS if name == properties.kind)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        state, scene = state_of(context), there(context.scene)
        drawn = aids.collection_of(scene, self.kind)
        if drawn is not None:
            drawn.hide_viewport = drawn.hide_render = not drawn.hide_viewport
            return {"FINISHED"}
        review = _review(self, state)
        if review is None:
            return {"CANCELLED"}
        try:
            aids.DRAW[self.kind](scene, review, state.frame_start)
        except InTheRoundError as error:
            return refused(self, error)
        return {"FINISHED"}


def _joints(operator: Any, context: bpy.types.Context) -> list[tuple[str, str, str]]:
    return _JOINT_ITEMS


#: Blender keeps no copy of the words of a list.
_JOINT_ITEMS = [(joint, names.quantity(joint), "") for joint in JOINTS]


class DANCE_REVIEW_OT_draw_path(Operator):
    """Draw the path of a body part through the whole phrase; a bead every half second shows how fast it went"""

    bl_idname = "dance_review.draw_path"
    bl_label = "Draw Path"
    bl_options = {"REGISTER", "UNDO"}

    joint: Annotated[
        str, EnumProperty(name="Body Part", items=_joints, options={"SKIP_SAVE"}, description="The joint whose path is drawn")
    ]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        if not self.properties.is_property_set("joint"):
            self.joint = _joint_of(chosen(state_of(context)))
        return self.execute(context)

    def execute(self, context: bpy.types.Context) -> Ended:
        review = _review(self, state_of(context))
        if review is None:
            return {"CANCELLED"}
        aids.path_of(there(context.scene), review.movement, self.joint)
        return {"FINISHED"}


def _joint_of(item: DanceReviewFinding | None) -> str:
    """The joint whose path belongs to a correction; the pelvis without one."""
    part = item.parts.split()[0] if item is not None and item.parts else "pelvis"
    stem, dot, side = part.partition(".")
    joint = _JOINT_OF_PART.get(stem, "pelvis") + dot + side
    return joint if joint in JOINTS else joint.partition(".")[0] if joint.partition(".")[0] in JOINTS else "pelvis"


class DANCE_REVIEW_OT_clear_paths(Operator):
    """Take all drawn paths away"""

    bl_idname = "dance_review.clear_paths"
    bl_label = "Clear Paths"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not _drawn(there(context.scene)):
            cls.poll_message_set(unavailable.NO_PATH)
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        for collection in _drawn(there(context.scene)):
            for item in list(collection.objects):
                bpy.data.objects.remove(item)
            bpy.data.collections.remove(collection)
        return {"FINISHED"}


def _drawn(scene: bpy.types.Scene) -> list[bpy.types.Collection]:
    return [item for item in scene.collection.children_recursive if str(item.get(aids.MARK, "")).startswith("path of ")]


CLASSES: tuple[type, ...] = (
    DANCE_REVIEW_OT_show_aid,
    DANCE_REVIEW_OT_draw_path,
    DANCE_REVIEW_OT_clear_paths,
)
