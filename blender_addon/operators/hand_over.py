"""The animator's hand-over: files of the take, and the motion on an armature of another build."""

from pathlib import Path
from typing import Annotated, Any

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty
from bpy.types import Operator

from ..analysis_core.errors import InTheRoundError
from ..analysis_core.hand_over.formats import FORMATS
from ..analysis_core.review import read_review
from ..analysis_core.wording import hand_over as words
from ..analysis_core.wording import reports, unavailable
from ..blender_types import Ended, there
from ..properties import state_of
from ..review_job import HandOverJob
from ..saving import folder_of
from .common import has_review, refused
from .waiting import Waiting, can_wait, is_free

#: The folder within that of the review, where no other is chosen.
_FOLDER = "for the animator"


def _out_of(directory: str, review: Path) -> Path:
    """The folder to write to. Blender's file browser shows the review's own while there is none for the animator yet: nothing is
    written among the review's files."""
    chosen = Path(bpy.path.abspath(directory))
    return chosen / _FOLDER if chosen.resolve() == review.resolve() else chosen


class DANCE_REVIEW_OT_hand_over(Waiting, Operator):
    """Write this take for an animator: standing feet stay still, bones keep their length, and a note says what was measured"""

    bl_idname = "dance_review.hand_over"
    bl_label = "Hand Over"

    directory: Annotated[
        str, StringProperty(name="Folder", subtype="DIR_PATH", options={"SKIP_SAVE"}, description="The folder to write to")
    ]
    formats: Annotated[
        str,
        EnumProperty(
            name="Formats",
            items=[(name, *words.FORMATS[name], 1 << place) for place, name in enumerate(FORMATS)],
            options={"ENUM_FLAG"},
            default={"glb", "fbx", "blend"},
            description="The files to write",
        ),
    ]
    feet: Annotated[
        str,
        EnumProperty(
            name="Feet",
            items=(
                ("held", "Held", "Standing feet stay still: for animating"),
                ("measured", "As Measured", "Feet as the recording has them: for measuring"),
            ),
            description="Whether standing feet are kept still",
        ),
    ]
    rest: Annotated[
        str,
        EnumProperty(
            name="Rest Pose",
            items=(("t-pose", "T-Pose", "Arms to the side"), ("a-pose", "A-Pose", "Arms 45° below the horizontal")),
            description="The pose in which the bones are at rest",
        ),
    ]
    root: Annotated[
        str,
        EnumProperty(
            name="Travel",
            items=(
                ("pelvis", "On the Pelvis", "The pelvis carries all of the way"),
                ("bone", "On a Bone of Its Own", "A bone on the floor carries the way, the pelvis the dancing"),
                ("in-place", "In Place", "No travel across the floor; turns and jumps stay"),
            ),
            description="Where the way across the floor goes",
        ),
    ]
    cut_unusable: Annotated[
        bool,
        BoolProperty(
            name="Only the Usable Part", default=False, description="Only the longest stretch in which the whole body is known"
        ),
    ]
    reduce_keys: Annotated[
        bool,
        BoolProperty(
            name="Fewer Keys",
            default=False,
            description="Few keys with curves between them in glTF and Blender, within 0.2° and 1 mm",
        ),
    ]
    overwrite: Annotated[
        bool,
        BoolProperty(name="Replace", default=False, options={"SKIP_SAVE"}, description="Replace files that are there already"),
    ]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return is_free(cls) and has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        if not self.directory:
            self.directory = str(folder_of(state_of(context)) / _FOLDER) + "/"
        there(context.window_manager).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def draw(self, context: bpy.types.Context) -> None:
        """What is chosen beside the folder: formats one below the other, since their names do not fit beside each other."""
        layout = there(self.layout)
        column = layout.column(align=True)
        column.label(text="Formats")
        column.prop(self, "formats")
        for name in ("feet", "rest", "root", "cut_unusable", "reduce_keys", "overwrite"):
            layout.prop(self, name)
        # Imported here: panels import operators.
        from ..panels.text import sentence

        sentence(layout, context, words.folder_of_its_own(_FOLDER))

    def _wishes(self) -> dict[str, Any]:
        return {
            "feet": self.feet, "rest": self.rest, "root": self.root, "cut_unusable": self.cut_unusable,
            "reduce_keys": self.reduce_keys,
        }  # fmt: skip

    def execute(self, context: bpy.types.Context) -> Ended:
        out, formats = _out_of(self.directory, folder_of(state_of(context))), [name for name in FORMATS if name in self.formats]
        try:
            job = HandOverJob(bpy.app.binary_path, folder_of(state_of(context)), out, formats, self._wishes(), self.overwrite)
            if can_wait(context):
                return self.wait_for(context, job)
            job.to_its_end()
            job.check()
        except InTheRoundError as error:
            return refused(self, error)
        return self.done(context, job)

    def done(self, context: bpy.types.Context, job: Any) -> Ended:
        self.report({"INFO"}, reports.handed_over(job.files, job.out))
        return {"FINISHED"}


class DANCE_REVIEW_OT_bring_onto_armature(Operator):
    """Give the active armature the motion of this take: its limbs point as the dancer's, its feet hold. A new action"""

    bl_idname = "dance_review.bring_onto_armature"
    bl_label = "Bring onto Armature"
    bl_options = {"UNDO"}

    filepath: Annotated[
        str,
        StringProperty(
            name="Bone Names",
            subtype="FILE_PATH",
            options={"SKIP_SAVE"},
            description="bone_names.json of a hand-over with this armature's names; empty: humanoid names and Blender's meta-rig",
        ),
    ]
    filter_glob: Annotated[str, StringProperty(default="*.json", options={"HIDDEN"})]
    choose: Annotated[bool, BoolProperty(name="Choose Names", default=False, options={"SKIP_SAVE", "HIDDEN"})]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_review(cls, context):
            return False
        if context.object is None or context.object.type != "ARMATURE" or context.object.mode != "OBJECT":
            cls.poll_message_set(unavailable.NO_ARMATURE_TO_DANCE)
            return False
        return True

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        if self.choose:
            there(context.window_manager).fileselect_add(self)
            return {"RUNNING_MODAL"}
        return self.execute(context)

    def execute(self, context: bpy.types.Context) -> Ended:
        # Imported here: solvers are needed for this alone.
        from ..analysis_core.hand_over.bone_names import read_bone_names
        from ..analysis_core.hand_over.give import hand_over
        from ..analysis_core.hand_over.wishes import Wishes
        from ..scene.retarget import bring_onto_armature

        armature = there(context.object)
        try:
            names = read_bone_names(Path(bpy.path.abspath(self.filepath))) if self.filepath else None
            review = read_review(folder_of(state_of(context)))
            rig = bring_onto_armature(hand_over(review, Wishes()), armature, Path(review.take.file).stem, names)
        except InTheRoundError as error:
            return refused(self, error)
        self.report({"INFO"}, reports.dances(armature.name, review.take.file, rig.frames))
        return {"FINISHED"}


CLASSES = (DANCE_REVIEW_OT_hand_over, DANCE_REVIEW_OT_bring_onto_armature)
