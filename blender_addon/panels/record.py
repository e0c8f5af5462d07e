"""The dancer's record: earlier takes, and what became of the chosen correction."""

import bpy
from bpy.types import Panel

from .. import record_view
from .. import state as states
from ..analysis_core.wording import panels as words
from ..analysis_core.wording import record as say
from ..blender_types import there
from ..properties import DanceReviewState, state_of
from .take import ReviewPanel
from .text import sentence

#: Takes and series listed; the command line shows all.
_LISTED, _SERIES = 8, 3


def _takes(layout: bpy.types.UILayout, looked: record_view.Looked) -> None:
    box = layout.box().column(align=True)
    for take in looked.others[:_LISTED]:
        row = box.row(align=True)
        row.label(text=f"{take.day}  {take.phrase or take.file}")
        row.operator("dance_review.open_earlier", text="", icon="SCENE_DATA").directory = take.folder
        beside = row.operator("dance_review.open_earlier", text="", icon="ARROW_LEFTRIGHT")
        beside.directory, beside.beside = take.folder, True
        ghost = row.operator("dance_review.open_earlier", text="", icon="GHOST_ENABLED")
        ghost.directory, ghost.ghost = take.folder, True


def _progress(
    layout: bpy.types.UILayout, context: bpy.types.Context, state: DanceReviewState, looked: record_view.Looked
) -> None:
    item = states.chosen(state)
    if item is None or item.own:
        return
    found = record_view.series_of(looked, item.fault, item.side)
    sentence(layout, context, words.over_time(item.title), icon="GRAPH")
    if not found:
        sentence(layout, context, words.NOTHING_COMPARABLE)
    for series in found[:_SERIES]:
        box = layout.box()
        sentence(box, context, f"{series.title.removeprefix(item.title).lstrip(', ')}: {say.outcome(series)}")
        for remark in say.remarks(series):
            sentence(box, context, remark, indent=16.0)


class DANCE_REVIEW_PT_record(ReviewPanel, Panel):
    """The record."""

    bl_label = "Record"
    bl_order = 6
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        state = state_of(context)
        column = layout.column(align=True)
        column.operator("dance_review.add_to_record", icon="ADD")
        column.operator("dance_review.enter_consent", icon="CURRENT_FILE")
        column.operator("dance_review.look_up_record", icon="VIEWZOOM")
        looked = record_view.found(state)
        if looked is None:
            return
        sentence(layout, context, words.takes_of(looked.dancer, len(looked.takes)), icon="USER")
        _takes(layout, looked)
        _progress(layout, context, state, looked)


CLASSES = (DANCE_REVIEW_PT_record,)
