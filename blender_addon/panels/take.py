"""The take and its verdict: the first thing seen."""

import bpy
from bpy.types import Panel

from .. import room, saving, trouble
from ..analysis_core.wording import panels as words
from ..analysis_core.wording import watching as watch_words
from ..blender_types import Icon, PanelPart, there
from ..properties import state_of
from ..review_job import running
from ..watching import seen, watched
from .settings import draw_settings
from .text import sentence

TAB = "Dance Review"
VERDICT_ICONS: dict[str, Icon] = {"good": "CHECKMARK", "usable": "INFO", "retake": "ERROR"}


#: So many reasons of the verdict stand above the corrections, which would be out of sight otherwise; and the air of a box.
_REASONS, _BOX = 2, 16.0


class SidebarPanel(PanelPart):
    """Where the panels of the add-on are."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = TAB


class ReviewPanel(SidebarPanel):
    """A panel that needs a review in the scene."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return bool(state_of(context).take_name)


def _draw_trouble(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What to do when the last step did not work, while it is the last."""
    if trouble.report() is not None:
        box = layout.box()
        sentence(box, context, trouble.said(), icon="ERROR")
        sentence(box, context, words.HAVE_IT_LOOKED_AT)
        box.operator("dance_review.copy_report", icon="COPYDOWN")


class DANCE_REVIEW_PT_take(SidebarPanel, Panel):
    """Take and verdict."""

    bl_label = "Take"
    bl_order = 0

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        state = state_of(context)
        if running:
            column = layout.column()
            job = running[0]
            column.label(text=job.name, icon="SORTTIME")
            column.progress(factor=job.share, text=job.stage)
            column.label(text=words.ESC_STOPS)
            return
        _draw_trouble(layout, context)
        if not state.take_name:
            sentence(layout, context, words.BEGIN)
            column = layout.column(align=True)
            column.scale_y = 1.3
            column.operator("dance_review.open_take", icon="FILE_FOLDER")
            column.operator("dance_review.try_demo", icon="PLAY")
            column = layout.column(align=True)
            column.operator("dance_review.open_review", icon="RECOVER_LAST")
            column.operator("dance_review.review_armature", icon="ARMATURE_DATA")
            return
        box = layout.box()
        column = box.column(align=True)
        column.alert = state.verdict == "retake"
        verdict = words.TRUSTED.get(state.verdict, state.verdict)
        sentence(column, context, verdict, icon=VERDICT_ICONS.get(state.verdict, "QUESTION"))
        for reason in list(state.reasons)[:_REASONS]:
            sentence(box, context, reason.value, indent=_BOX)
        if len(state.reasons) > _REASONS:
            sentence(box, context, words.more_reasons(len(state.reasons) - _REASONS), indent=_BOX)
        column = box.column(align=True)
        column.active = False
        column.label(text=state.take_name)
        if saving.differs(state):
            box = layout.box()
            sentence(box, context, words.DECISIONS_DIFFER, icon="ERROR")
            column = box.column(align=True)
            column.operator("dance_review.load_decisions", text="Use Those in the Review File")
            column.operator("dance_review.save_decisions", text="Use Those in This File")
        if saving.reviewed_elsewhere(state):
            sentence(layout, context, words.REVIEWED_ELSEWHERE, icon="INFO")
        row = layout.row(align=True)
        row.operator("dance_review.open_take", icon="FILE_FOLDER")
        row.operator("dance_review.open_review", text="", icon="RECOVER_LAST")
        if context.workspace is not None and not room.is_ours(context.workspace):
            layout.operator("dance_review.enter_workspace", icon="WORKSPACE")


class DANCE_REVIEW_PT_settings(ReviewPanel, Panel):
    """What was inferred and what can be changed."""

    bl_label = "Recording"
    bl_order = 10
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        state = state_of(context)
        sentence(layout, context, f"{state.take_name}: {state.summary}", icon="FILE")
        for line in state.load:
            sentence(layout, context, line.value, icon="SORT_DESC")
        for reason in list(state.reasons)[_REASONS:]:
            sentence(layout, context, reason.value, icon="ERROR")
        for line in state.inferred:
            sentence(layout, context, f"{line.what}: {line.value} ({line.why})", icon="DOT")
        told = {reason.value for reason in state.reasons}
        for line in (line for line in state.warnings if line.value not in told):
            sentence(layout, context, line.value, icon="ERROR")
        draw_settings(layout, state.settings)
        column = layout.column()
        column.prop(state, "take")
        column.prop(state, "folder")
        layout.operator("dance_review.propose_landmarks", icon="VIEWZOOM")
        layout.operator("dance_review.review_again", icon="FILE_REFRESH")


class DANCE_REVIEW_PT_unsure(ReviewPanel, Panel):
    """What this take cannot tell."""

    bl_label = "Cannot Be Told"
    bl_order = 11
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return bool(state_of(context).unsure)

    def draw(self, context: bpy.types.Context) -> None:
        for line in state_of(context).unsure:
            sentence(there(self.layout), context, f"{line.what}, {line.value}: {line.why}", icon="DOT")


class DANCE_REVIEW_PT_watch(SidebarPanel, Panel):
    """Takes that open by themselves."""

    bl_label = "Watch a Folder"
    bl_order = 12
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        folder = watched()
        if folder is not None:
            sentence(layout, context, watch_words.going_on(folder))
            sentence(layout, context, seen())
            layout.operator("dance_review.stop_watching", icon="PAUSE")
            return
        layout.use_property_split = True
        layout.prop(state_of(context), "watch_folder")
        layout.operator("dance_review.watch_folder", icon="HIDE_OFF")


CLASSES: tuple[type, ...] = (DANCE_REVIEW_PT_take, DANCE_REVIEW_PT_settings, DANCE_REVIEW_PT_unsure, DANCE_REVIEW_PT_watch)
