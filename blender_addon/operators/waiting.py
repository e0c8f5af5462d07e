"""Operators that wait for a process: progress in the status bar and the panel, Esc ends it."""

from __future__ import annotations

from typing import Any

import bpy

from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import reports, unavailable
from ..blender_types import Ended, OperatorPart, there
from ..review_job import Job, running
from .common import refused

#: How often a process is asked how far it is, seconds.
POLL_S = 0.1


def is_free(operator: Any) -> bool:
    """Poll: nothing is under way."""
    if running:
        operator.poll_message_set(unavailable.under_way(running[0].name))
        return False
    return True


def can_wait(context: bpy.types.Context) -> bool:
    """Whether there is a window whose events let an operator wait; without one the work is done at once."""
    return not bpy.app.background and context.window is not None


def scene_with(session_uid: int) -> Any | None:
    """The scene that had this id when a job began, whatever it is called by now; None when it is gone."""
    return next((scene for scene in bpy.data.scenes if scene.session_uid == session_uid), None)


def _redraw(context: bpy.types.Context) -> None:
    """The panels show how far it is; Blender draws them again only when something moved."""
    for window in there(context.window_manager).windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


class Waiting(OperatorPart):
    """Mixed into an operator: ``wait_for`` a job, then ``done`` is called with it."""

    _job: Job | None = None
    _timer: bpy.types.Timer | None = None

    def wait_for(self, context: bpy.types.Context, job: Job) -> Ended:
        """Become modal until the job is finished."""
        self._job = job
        running.append(job)
        try:
            return self._begin(context)
        except BaseException:
            job.cancel()
            self._end(context)
            raise

    def _begin(self, context: bpy.types.Context) -> Ended:
        manager = there(context.window_manager)
        self._timer = manager.event_timer_add(POLL_S, window=context.window)
        manager.progress_begin(0, 100)
        manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        """Poll the job; Esc ends it. Whatever happens, a job that is over is no longer under way."""
        job = self._job
        if job is None or event.type not in ("TIMER", "ESC"):
            return {"PASS_THROUGH"}
        if event.type == "ESC":
            if event.value != "PRESS":
                return {"PASS_THROUGH"}
            job.cancel()
        try:
            job.poll()
            if not job.finished:
                self._show(context, job)
                return {"PASS_THROUGH"}
        except BaseException:
            job.cancel()
            self._end(context)
            raise
        self._end(context)
        return self._over(context, job)

    def _show(self, context: bpy.types.Context, job: Job) -> None:
        there(context.window_manager).progress_update(int(100 * job.share))
        if context.workspace is not None:
            context.workspace.status_text_set(reports.working(job.name, job.stage))
        _redraw(context)

    def _over(self, context: bpy.types.Context, job: Job) -> Ended:
        """Say how it ended, and do what there is to do with the result."""
        if job.state == "cancelled":
            self.report({"INFO"}, reports.stopped(job.name))
            return {"CANCELLED"}
        try:
            job.check()
            return self.done(context, job)
        except InTheRoundError as error:
            return refused(self, error, job.where)

    def done(self, context: bpy.types.Context, job: Any) -> Ended:
        """What to do with the result."""
        raise NotImplementedError

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender ends the operator (file load, quit): end the job too."""
        if self._job is not None:
            self._job.cancel()
        self._end(context)

    def _end(self, context: bpy.types.Context) -> None:
        if self._job in running:
            running.remove(self._job)
        if self._timer is not None:
            there(context.window_manager).event_timer_remove(self._timer)
            self._timer = None
            there(context.window_manager).progress_end()
            if context.workspace is not None:
                context.workspace.status_text_set(None)
            _redraw(context)
