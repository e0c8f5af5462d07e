"""The list of corrections, the chosen one, and what the teacher makes of it."""

from typing import Any

import bpy
from bpy.types import Panel, UIList

from .. import saving
from .. import state as states
from ..analysis_core.findings.catalogue import catalogue
from ..analysis_core.findings.explain import explain
from ..analysis_core.wording import names, numbers
from ..analysis_core.wording import panels as words
from ..blender_types import Icon, there
from ..properties import DanceReviewFinding, state_of
from .severity_icon import icon_of
from .take import ReviewPanel
from .text import sentence, when

#: The list has at least and at most so many lines: on a laptop the chosen correction with its buttons is seen below it.
LINES = (5, 10)
DECISION_ICONS: dict[str, Icon] = {"open": "BLANK1", "kept": "CHECKMARK", "set aside": "X"}


def _name(item: DanceReviewFinding) -> str:
    return names.on_side(item.title, item.side)


class DANCE_REVIEW_UL_corrections(UIList):
    """A line for every correction, the first to say on top; what it may have led to stands beneath it, a little to the right."""

    def draw_item(
        self, context: bpy.types.Context, layout: bpy.types.UILayout, data: Any, item: Any, icon: int | None, active_data: Any,
        active_property: str | None, index: int | None = 0, flt_flag: int | None = 0,
    ) -> None:  # fmt: skip
        row = layout.row(align=True)
        row.active = item.decision != "set aside"
        for _ in range(item.depth + item.again):
            row.label(text="", icon="BLANK1")
        if item.own:
            row.label(text="", icon="GREASEPENCIL")
        else:
            row.label(text="", icon_value=icon_of(item.severity, item.grade))
        row.label(text=item.title)
        short = words.short_when(item.side, item.count)
        when(row, short if data.every_time else item.times or short)
        if item.decision != "open":
            row.label(text="", icon=DECISION_ICONS[item.decision])

    def draw_filter(self, context: bpy.types.Context, layout: bpy.types.UILayout) -> None:
        state = state_of(context)
        column = layout.column(align=True)
        column.prop(state, "filter_text", text="", icon="VIEWZOOM")
        column.prop(state, "every_time", toggle=True)
        row = column.row(align=True)
        for name in ("filter_decision", "filter_grade", "filter_side"):
            row.prop(state, name, text="")

    def filter_items(self, context: bpy.types.Context, data: Any, property: str) -> Any:  # arrays of its own, to Blender's types
        return [self.bitflag_filter_item if states.is_visible(data, item) else 0 for item in data.findings], []


class DANCE_REVIEW_PT_corrections(ReviewPanel, Panel):
    """The corrections."""

    bl_label = "Corrections"
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        state = state_of(context)
        if not state.findings:
            sentence(layout, context, words.NONE_FOUND, icon="INFO")
            layout.operator("dance_review.add_correction", icon="ADD")
            return
        first = [item for item in state.findings if item.main and item.decision != "set aside"]
        if first:
            column = layout.column(align=True)
            column.label(text="To Say First")
            for item in first:
                here = item == states.chosen(state)
                column.operator("dance_review.go_to", text=_name(item), depress=here).finding = item.finding
        lines = min(max(sum(states.is_visible(state, item) for item in state.findings), LINES[0]), LINES[1])
        # As wide as the sidebar: what is found and when has to be read; the buttons stand below.
        layout.template_list("DANCE_REVIEW_UL_corrections", "", state, "findings", state, "chosen", rows=lines, maxrows=lines)
        row = layout.row(align=True)
        row.operator("dance_review.step", text="Previous", icon="TRIA_UP").direction = "PREVIOUS"
        row.operator("dance_review.step", text="Next", icon="TRIA_DOWN").direction = "NEXT"
        row.separator()
        row.operator("dance_review.add_correction", text="", icon="ADD")
        row.operator("dance_review.remove_correction", text="", icon="REMOVE")


class ChosenPanel(ReviewPanel):
    """A panel about the chosen correction."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return states.chosen(state_of(context)) is not None


class DANCE_REVIEW_PT_chosen(ChosenPanel, Panel):
    """The chosen correction."""

    bl_label = "This Correction"
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        state = state_of(context)
        item = states.the_chosen(state)
        column = layout.column(align=True)
        sentence(column, context, _name(item), icon=DECISION_ICONS[item.decision] if item.decision != "open" else "NONE")
        box = layout.box()
        sentence(box, context, item.words or item.cue)
        if item.caution:
            sentence(box, context, item.caution, icon="ERROR")
        if not item.own:
            low, high = states.band_of(item)
            facts = layout.column(align=True)
            facts.scale_y = 0.9
            for what, value in (
                ("Measured", item.measured),
                *((("Within Take", item.within_take),) if item.within_take else ()),
                ("Target", words.target(numbers.band(low, high, item.unit), own=item.own_band)),
                ("When", words.when(item.count, item.phase)),
                ("Marker", item.finding),
                ("How Often", item.how_often),
                ("Certainty", f"{item.confidence}, {item.grade}"),
            ):
                split = facts.split(factor=0.34)
                left = split.row()
                left.alignment = "RIGHT"
                left.active = False
                left.label(text=what)
                split.label(text=value)
        row = layout.row(align=True)
        row.operator("dance_review.play", text="Moment", icon="PLAY").what = "MOMENT"
        row.operator("dance_review.play", text="Slowly").what = "SLOWLY"
        row.operator("dance_review.play", text="Step").what = "STEP"
        row.operator("dance_review.stop", text="", icon="SNAP_FACE")
        layout.operator("dance_review.look_around", icon="ORIENTATION_GIMBAL")


class DANCE_REVIEW_PT_measured(ChosenPanel, Panel):
    """What the chosen correction rests on, as on the page docs/findings.md."""

    bl_label = "How Is This Measured?"
    bl_parent_id = "DANCE_REVIEW_PT_chosen"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        item = states.chosen(state_of(context))
        return item is not None and item.fault in catalogue()

    def draw(self, context: bpy.types.Context) -> None:
        column = there(self.layout).column(align=True)
        for heading, text in explain(catalogue()[states.the_chosen(state_of(context)).fault]).lines():
            # The band of this dancer's level stands above, as the target.
            if heading != "Band":
                sentence(column, context, f"{heading}: {text}")


class DANCE_REVIEW_PT_decision(ChosenPanel, Panel):
    """What the teacher makes of the chosen correction."""

    bl_label = "Decision"
    bl_parent_id = "DANCE_REVIEW_PT_chosen"

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        state = state_of(context)
        item = states.the_chosen(state)
        row = layout.row(align=True)
        row.operator("dance_review.keep", icon="CHECKMARK", depress=item.decision == "kept")
        row.operator("dance_review.set_aside", icon="X", depress=item.decision == "set aside")
        if item.note:
            sentence(layout, context, words.reason(item.note))
        row = layout.row(align=True)
        row.operator("dance_review.reword", icon="GREASEPENCIL")
        row.operator("dance_review.change_band")
        if item.own:
            layout.operator("dance_review.remove_correction", icon="TRASH")
        elif states.is_judged(item):
            layout.operator("dance_review.reopen", icon="LOOP_BACK")
        if saving.needs_saving(state):
            sentence(layout, context, words.NOT_SAVED, icon="INFO")
            layout.operator("dance_review.save_decisions")


class DANCE_REVIEW_PT_links(ChosenPanel, Panel):
    """What came first, and what it may have led to."""

    bl_label = "What Came First"
    bl_parent_id = "DANCE_REVIEW_PT_chosen"

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        state = state_of(context)
        item = states.the_chosen(state)
        for heading, ids, is_before in (
            (words.CAME_FIRST, states.came_after(state, item), True),
            (words.LED_TO, states.led_to(state, item), False),
        ):
            others = [other for name in ids if (other := states.find(state, name)) is not None]
            if not others:
                continue
            column = layout.column(align=True)
            column.label(text=heading)
            for other in others:
                row = column.row(align=True)
                row.operator("dance_review.go_to", text=f"{_name(other)}, {other.count}").finding = other.finding
                cut = row.operator("dance_review.cut_link", text="", icon="X")
                before, after = (other, item) if is_before else (item, other)
                cut.before, cut.after = before.finding, after.finding
        layout.operator("dance_review.add_link", icon="ADD")


class DANCE_REVIEW_PT_unmatched(ReviewPanel, Panel):
    """Decisions whose findings are no longer there."""

    bl_label = "Earlier Decisions"
    bl_order = 3

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return bool(state_of(context).unmatched)

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        sentence(layout, context, words.UNMATCHED)
        for item in state_of(context).unmatched:
            sentence(layout, context, item.text, icon="DOT")
        layout.operator("dance_review.forget_unmatched", icon="TRASH")


CLASSES: tuple[type, ...] = (
    DANCE_REVIEW_UL_corrections,
    DANCE_REVIEW_PT_corrections,
    DANCE_REVIEW_PT_chosen,
    DANCE_REVIEW_PT_measured,
    DANCE_REVIEW_PT_decision,
    DANCE_REVIEW_PT_links,
    DANCE_REVIEW_PT_unmatched,
)
