"""Opening: a take, a review, a take again with other settings."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import bpy
from bpy.props import BoolProperty, StringProperty
from bpy.types import FileHandler, Operator

from .. import demo_take, trouble
from .. import state as states
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.review import Review, read_review
from ..analysis_core.wording import reports, unavailable
from ..blender_types import Ended, there
from ..opening import replace_scene, review_now, review_take_now, settings_values, show
from ..preferences import preferences
from ..properties import LEVELS, TakeSettings, review_of, state_of
from ..review_job import ArmatureJob, ReviewJob
from ..saving import folder_of, save, take_of
from .common import has_review, refused
from .waiting import Waiting, can_wait, is_free, scene_with

ENDINGS = (".c3d", ".bvh")


class Reviewing(Waiting):
    """An operator that reviews a take: at once without a window, in a process of its own with progress and Esc in one."""

    at_once: Annotated[
        bool,
        BoolProperty(
            name="Wait for the Review",
            options={"HIDDEN", "SKIP_SAVE"},
            description="Review in this process instead of a second one",
        ),
    ]

    def start(self, context: bpy.types.Context, take: Path, settings: Any) -> Ended:
        """Begin; ``settings`` has the properties of DanceReviewSettings."""
        folder = states.folder_beside(take)
        # As values: what they are read from may be gone when the review is done.
        self._scene_settings = settings_values(settings)
        try:
            chosen = states.settings_of(settings)
            if not self.at_once and can_wait(context):
                # The process looks whether the take is there: a drive that hangs is not asked here.
                return self.wait_for(context, ReviewJob(take, folder, chosen))
            return self.finish(context, review_now(take, folder, chosen), take, folder)
        except InTheRoundError as error:
            return refused(self, error)

    def done(self, context: bpy.types.Context, job: Any) -> Ended:
        """The process has written the review: show it."""
        return self.finish(context, read_review(job.folder), job.take, job.folder)

    def finish(self, context: bpy.types.Context, review: Review, take: Path, folder: Path) -> Ended:
        """Show what was found."""
        show(context, review, take, folder, self._scene_settings)
        trouble.forget()
        lost = len(review.decisions.unmatched) + len(review.decisions.unmatched_links)
        self.report({"INFO"}, reports.reviewed(take.name, review.quality.verdict, len(review.findings), lost))
        return {"FINISHED"}


class DANCE_REVIEW_OT_open_take(TakeSettings, Reviewing, Operator):
    """Open a recorded phrase (C3D or BVH), review it and show the corrections"""

    bl_idname = "dance_review.open_take"
    bl_label = "Open Take"
    bl_options = {"REGISTER", "UNDO"}

    filepath: Annotated[str, StringProperty(name="Take", subtype="FILE_PATH", options={"SKIP_SAVE"}, description="The recording")]
    filter_glob: Annotated[str, StringProperty(default="*.c3d;*.C3D;*.bvh;*.BVH", options={"HIDDEN"})]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return is_free(cls)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        defaults = preferences(context)
        if defaults is not None:
            for name in ("level", "landmarks"):
                if not self.properties.is_property_set(name):
                    setattr(self, name, getattr(defaults, name))
        if self.filepath:  # dropped into the window
            return self.execute(context)
        there(context.window_manager).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def draw(self, context: bpy.types.Context) -> None:
        from ..panels.settings import draw_settings

        draw_settings(there(self.layout), self)

    def execute(self, context: bpy.types.Context) -> Ended:
        return self.start(context, Path(bpy.path.abspath(self.filepath)), self)


class DANCE_REVIEW_OT_try_demo(TakeSettings, Reviewing, Operator):
    """Open a take of an invented dancer that comes with the program, to look round without a recording of your own"""

    bl_idname = "dance_review.try_demo"
    bl_label = "Try the Demo Take"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return is_free(cls)

    def execute(self, context: bpy.types.Context) -> Ended:
        try:
            take, static = demo_take.lay_out()
        except InTheRoundError as error:
            return refused(self, error)
        self.static, self.use_tempo, self.tempo = str(static), True, demo_take.TEMPO_BPM
        return self.start(context, take, self)


class DANCE_REVIEW_OT_copy_report(Operator):
    """Copy what a developer needs to find out what went wrong: versions and the place in the program, no names and no paths"""

    bl_idname = "dance_review.copy_report"
    bl_label = "Copy the Report"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if trouble.report() is None:
            cls.poll_message_set(unavailable.NOTHING_WRONG)
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        there(context.window_manager).clipboard = trouble.report() or ""
        self.report({"INFO"}, reports.REPORT_COPIED)
        return {"FINISHED"}


class DANCE_REVIEW_OT_review_again(Reviewing, Operator):
    """Review this take again with the settings as they are now; all decisions are kept"""

    bl_idname = "dance_review.review_again"
    bl_label = "Review Again"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return is_free(cls) and has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        take = take_of(state)
        if not state.take or not take.is_file():
            self.report({"ERROR"}, reports.recording_gone(state.take or state.take_name))
            return {"CANCELLED"}
        try:
            # What was decided has to be in the file before it is carried over.
            if folder_of(state).is_dir():
                save(context, state)
        except InTheRoundError as error:
            return refused(self, error)
        self._old_scene = there(context.scene).session_uid
        return self.start(context, take, state.settings)

    def finish(self, context: bpy.types.Context, review: Review, take: Path, folder: Path) -> Ended:
        outcome = Reviewing.finish(self, context, review, take, folder)
        old = scene_with(self._old_scene)
        if old is not None and old != there(context.window).scene:
            replace_scene(old, there(context.window).scene)
        return outcome


class DANCE_REVIEW_OT_review_armature(TakeSettings, Waiting, Operator):
    """Review the movement of the selected skeleton (armature), wherever it was imported from"""

    bl_idname = "dance_review.review_armature"
    bl_label = "Review Selected Armature"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not is_free(cls):
            return False
        if context.active_object is None or context.active_object.type != "ARMATURE":
            cls.poll_message_set(unavailable.NO_ARMATURE_WITH_ACTION)
            return False
        if not bpy.data.filepath:
            cls.poll_message_set(unavailable.FILE_NOT_SAVED)
            return False
        return True

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        return there(context.window_manager).invoke_props_dialog(self, width=400)

    def draw(self, context: bpy.types.Context) -> None:
        from ..panels.settings import draw_settings

        draw_settings(there(self.layout), self, only=("level", "tempo"))

    def execute(self, context: bpy.types.Context) -> Ended:
        from ..armature_take import sampling, take_of

        armature, scene, depsgraph = there(context.active_object), there(context.scene), context.evaluated_depsgraph_get()
        file = Path(bpy.data.filepath)
        folder = file.with_name(f"{file.stem} {bpy.path.clean_name(armature.name)} review")
        self._scene_settings = settings_values(self)
        # Positions come in metres by the scene's own unit: no flight is asked how large the dancer is.
        settings = replace(states.settings_of(self), unit="m")
        try:
            if can_wait(context):
                job = ArmatureJob(armature.name, sampling(armature, scene, depsgraph), folder, settings)
                return self.wait_for(context, job)
            review = review_take_now(take_of(armature, scene, depsgraph), folder, settings)
        except InTheRoundError as error:
            return refused(self, error)
        return self._finish(context, review, folder)

    def done(self, context: bpy.types.Context, job: Any) -> Ended:
        """The process has written the review: show it."""
        return self._finish(context, read_review(job.folder), job.folder)

    def _finish(self, context: bpy.types.Context, review: Review, folder: Path) -> Ended:
        show(context, review, None, folder, self._scene_settings)
        self.report({"INFO"}, reports.reviewed(review.take.file, review.quality.verdict, len(review.findings)))
        return {"FINISHED"}


class DANCE_REVIEW_OT_open_review(Operator):
    """Open a folder that holds a review made earlier"""

    bl_idname = "dance_review.open_review"
    bl_label = "Open Review"
    bl_options = {"REGISTER", "UNDO"}

    directory: Annotated[
        str, StringProperty(name="Folder", subtype="DIR_PATH", options={"SKIP_SAVE"}, description="The review folder")
    ]
    filter_folder: Annotated[bool, BoolProperty(default=True, options={"HIDDEN"})]

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        there(context.window_manager).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> Ended:
        folder = Path(bpy.path.abspath(self.directory))
        try:
            review = read_review(folder)
        except InTheRoundError as error:
            return refused(self, error)
        take = folder.parent / review.take.file
        scene = show(context, review, take if take.is_file() else None, folder, None)
        trouble.forget()
        review_of(scene).settings.level = review.profile if review.profile in {item[0] for item in LEVELS} else "intermediate"
        return {"FINISHED"}


class DANCE_REVIEW_FH_take(FileHandler):
    """Takes dropped into the 3D view."""

    bl_idname = "DANCE_REVIEW_FH_take"
    bl_label = "Dance Take"
    bl_import_operator = "dance_review.open_take"
    bl_file_extensions = ";".join(ENDINGS)

    @classmethod
    def poll_drop(cls, context: bpy.types.Context) -> bool:
        return context.area is not None and context.area.type == "VIEW_3D"


CLASSES = (
    DANCE_REVIEW_OT_open_take,
    DANCE_REVIEW_OT_try_demo,
    DANCE_REVIEW_OT_copy_report,
    DANCE_REVIEW_OT_review_again,
    DANCE_REVIEW_OT_review_armature,
    DANCE_REVIEW_OT_open_review,
    DANCE_REVIEW_FH_take,
)
