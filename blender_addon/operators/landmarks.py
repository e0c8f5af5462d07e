"""Proposing what unknown markers are, for a studio's own table."""

import time
from pathlib import Path
from typing import Any

import bpy
from bpy.types import Operator

from .. import state as states
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import reports
from ..blender_types import Ended, there
from ..properties import review_of, state_of
from ..review_job import ReviewJob
from ..saving import take_of
from .common import has_review, refused
from .waiting import POLL_S, Waiting, can_wait, is_free, scene_with


class DANCE_REVIEW_OT_propose_landmarks(Waiting, Operator):
    """Propose what markers with unknown labels are, from where they lie on the dancer standing still; a table to check"""

    bl_idname = "dance_review.propose_landmarks"
    bl_label = "Propose Landmarks"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return is_free(cls) and has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        settings = states.settings_of(state.settings)
        # Standing still shows best where every marker sits; the phrase itself is the next best.
        take = settings.static or take_of(state)
        if not take.is_file():
            self.report({"ERROR"}, reports.recording_gone(take))
            return {"CANCELLED"}
        try:
            job = ReviewJob(take, take.parent, settings, take.with_name(f"{take.stem} landmarks.toml"))
        except InTheRoundError as error:
            return refused(self, error)
        self._scene = there(context.scene).session_uid
        if can_wait(context):
            return self.wait_for(context, job)
        while not job.finished:
            time.sleep(POLL_S)
            job.poll()
        try:
            job.check()
        except InTheRoundError as error:
            return refused(self, error)
        return self.done(context, job)

    def done(self, context: bpy.types.Context, job: Any) -> Ended:
        """Use the table from now on, and show it to be checked."""
        scene = scene_with(self._scene)
        if scene is not None:  # deleted or undone while the process worked: the table is still worth having
            review_of(scene).settings.landmarks = str(job.table)
        text = next((text for text in bpy.data.texts if Path(bpy.path.abspath(text.filepath)) == job.table), None)
        if text is not None:
            bpy.data.texts.remove(text)
        bpy.data.texts.load(str(job.table))
        self.report({"INFO"}, reports.check_table(job.table.name, job.result))
        return {"FINISHED"}


CLASSES: tuple[type, ...] = (DANCE_REVIEW_OT_propose_landmarks,)
