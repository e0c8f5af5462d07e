"""Watching the folder into which the capture room saves its takes."""

from pathlib import Path
from typing import Annotated

import bpy
from bpy.props import StringProperty
from bpy.types import Operator

from .. import watching
from ..analysis_core.wording import unavailable
from ..analysis_core.wording import watching as words
from ..blender_types import Ended
from ..preferences import preferences
from ..properties import state_of

#: So long the first look may take before it is said that the folder does not answer; Blender stands still meanwhile, seconds.
_FIRST_LOOK_S = 1.0


class DANCE_REVIEW_OT_watch_folder(Operator):
    """Open and review each new take that is saved in this folder"""

    bl_idname = "dance_review.watch_folder"
    bl_label = "Watch Folder"

    directory: Annotated[
        str, StringProperty(name="Folder", subtype="DIR_PATH", options={"SKIP_SAVE"}, description="The folder to watch")
    ]

    def execute(self, context: bpy.types.Context) -> Ended:
        defaults = preferences(context)
        text = self.directory or state_of(context).watch_folder or (defaults.watch_folder if defaults else "")
        folder = Path(bpy.path.abspath(text)) if text else None
        if folder is None:
            self.report({"ERROR"}, words.CHOOSE_FOLDER)
            return {"CANCELLED"}
        watcher = watching.watch(folder)
        if not watcher.answers_within(_FIRST_LOOK_S):
            self.report({"WARNING"}, words.no_answer_yet(folder))
            return {"FINISHED"}
        if trouble := watcher.trouble():
            watching.stop()
            self.report({"ERROR"}, words.cannot_be_watched(folder, trouble))
            return {"CANCELLED"}
        self.report({"INFO"}, words.begun(folder))
        return {"FINISHED"}


class DANCE_REVIEW_OT_stop_watching(Operator):
    """Let new takes wait until they are opened"""

    bl_idname = "dance_review.stop_watching"
    bl_label = "Stop Watching"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if watching.watched() is None:
            cls.poll_message_set(unavailable.NO_FOLDER_WATCHED)
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        watching.stop()
        return {"FINISHED"}


CLASSES = (DANCE_REVIEW_OT_watch_folder, DANCE_REVIEW_OT_stop_watching)
