"""The teacher decides: keep, set aside, reword, change the band, add a correction, cut or add a link."""

import secrets
from typing import Annotated, Any

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, StringProperty
from bpy.types import Operator

from .. import moments, walk
from .. import state as states
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.findings.finding import View
from ..analysis_core.review.decisions import OwnCorrection
from ..analysis_core.take import Side
from ..analysis_core.wording import names, numbers, reports, unavailable
from ..blender_types import Ended, there
from ..properties import state_of
from ..saving import folder_of, save, take_from_file
from .common import decided, has_chosen, has_review, refused

#: Half the span of a correction that the teacher adds at one frame. Proposed default, no published norm.
OWN_HALF_SPAN_S = 0.25
#: What the names of body parts on a side end in.
_SIDES: dict[str, Side] = {"L": "left", "R": "right"}
#: How far the camera stands from what a correction of the teacher's own is about, metres. Proposed default.
OWN_VIEW_DISTANCE_M = 3.0


class DANCE_REVIEW_OT_keep(Operator):
    """Keep this correction: it will be worked on"""

    bl_idname = "dance_review.keep"
    bl_label = "Keep"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_chosen(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        states.the_chosen(state_of(context)).decision = "kept"
        return decided(self, context)


class DANCE_REVIEW_OT_set_aside(Operator):
    """Set this correction aside, with a reason"""

    bl_idname = "dance_review.set_aside"
    bl_label = "Set Aside"
    bl_options = {"REGISTER", "UNDO"}

    note: Annotated[str, StringProperty(name="Reason", description="Why it is set aside")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_chosen(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        self.note = states.the_chosen(state_of(context)).note
        return there(context.window_manager).invoke_props_dialog(self, width=400)

    def execute(self, context: bpy.types.Context) -> Ended:
        item = states.the_chosen(state_of(context))
        item.decision, item.note = "set aside", self.note
        return decided(self, context)


class DANCE_REVIEW_OT_reopen(Operator):
    """Take the decision, the words and the band back to what the analysis proposed"""

    bl_idname = "dance_review.reopen"
    bl_label = "Take Decision Back"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_chosen(cls, context):
            return False
        if states.the_chosen(state_of(context)).own:
            cls.poll_message_set(unavailable.OWN_IS_REMOVED)
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        item = states.the_chosen(state_of(context))
        item.decision, item.note, item.words = "open", "", ""
        states.set_band(item, None)
        walk.apply_display(context, state_of(context))
        return decided(self, context)


class DANCE_REVIEW_OT_reword(Operator):
    """Say this correction in your own words"""

    bl_idname = "dance_review.reword"
    bl_label = "Reword"
    bl_options = {"REGISTER", "UNDO"}

    words: Annotated[str, StringProperty(name="Cue", description="What the dancer will read")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_chosen(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        item = states.the_chosen(state_of(context))
        self.words = item.words or item.cue
        return there(context.window_manager).invoke_props_dialog(self, width=600)

    def execute(self, context: bpy.types.Context) -> Ended:
        item = states.the_chosen(state_of(context))
        words = self.words.strip()
        if item.own:
            if not words:
                self.report({"ERROR"}, reports.OWN_NEEDS_WORDS)
                return {"CANCELLED"}
            item.words = item.title = words
        else:
            item.words = "" if words == item.cue else words
        return decided(self, context)


class DANCE_REVIEW_OT_change_band(Operator):
    """Set another target band for this correction"""

    bl_idname = "dance_review.change_band"
    bl_label = "Change Band"
    bl_options = {"REGISTER", "UNDO"}

    use_low: Annotated[bool, BoolProperty(name="Lower Limit", description="The value must not be below")]
    low: Annotated[float, FloatProperty(name="At Least", description="Lower limit, in the unit that the value is shown in")]
    use_high: Annotated[bool, BoolProperty(name="Upper Limit", description="The value must not be above")]
    high: Annotated[float, FloatProperty(name="At Most", description="Upper limit, in the unit that the value is shown in")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_chosen(cls, context):
            return False
        if states.the_chosen(state_of(context)).own:
            cls.poll_message_set(unavailable.OWN_HAS_NO_VALUE)
            return False
        return True

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        item = states.the_chosen(state_of(context))
        self.use_low, self.use_high = item.has_low, item.has_high
        self.low, self.high = (numbers.shown(limit, item.unit) for limit in (item.band_low, item.band_high))
        return there(context.window_manager).invoke_props_dialog(self)

    def draw(self, context: bpy.types.Context) -> None:
        layout = there(self.layout)
        layout.use_property_split = True
        unit = states.the_chosen(state_of(context)).unit
        for use, limit in (("use_low", "low"), ("use_high", "high")):
            row = layout.row(heading=names.with_unit(self.bl_rna.properties[use].name, unit))
            row.prop(self, use, text="")
            sub = row.row()
            sub.enabled = getattr(self, use)
            sub.prop(self, limit, text="")

    def execute(self, context: bpy.types.Context) -> Ended:
        if self.use_low and self.use_high and self.low > self.high:
            self.report({"ERROR"}, reports.LIMITS_EXCHANGED)
            return {"CANCELLED"}
        item = states.the_chosen(state_of(context))
        low, high = (states.plain_number(numbers.stored(value, item.unit)) for value in (self.low, self.high))
        states.set_band(item, (low if self.use_low else None, high if self.use_high else None))
        walk.apply_display(context, state_of(context))
        return decided(self, context)


def _part_at(context: bpy.types.Context) -> str:
    """The body part that is selected: the active bone's name; empty when none is."""
    bone = getattr(context, "active_pose_bone", None) or getattr(context, "active_bone", None)
    if bone is not None:
        return str(bone.name)
    item = context.active_object
    return str(item.get("body_part", "")) if item is not None else ""


class DANCE_REVIEW_OT_add_correction(Operator):
    """Add a correction of your own at the current frame, on the selected body part"""

    bl_idname = "dance_review.add_correction"
    bl_label = "Add Correction"
    bl_options = {"REGISTER", "UNDO"}

    words: Annotated[str, StringProperty(name="Cue", description="What the dancer will read")]
    parts: Annotated[
        str, StringProperty(name="Body Parts", description="Names of the body parts, such as foot.L, separated by spaces")
    ]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        self.parts = _part_at(context)
        return there(context.window_manager).invoke_props_dialog(self, width=600)

    def execute(self, context: bpy.types.Context) -> Ended:
        words = self.words.strip()
        if not words:
            self.report({"ERROR"}, reports.CORRECTION_NEEDS_WORDS)
            return {"CANCELLED"}
        state = state_of(context)
        parts = tuple(self.parts.split() or _part_at(context).split())
        sides = {_SIDES.get(part.rpartition(".")[2]) for part in parts}
        time_s = moments.time_of(state, there(context.scene).frame_current)
        # Not numbered: another window may add one to the same review.
        name = f"own-{secrets.token_hex(4)}"
        aim = walk.place_of(context, state, parts)
        own = OwnCorrection(
            id=name,
            words=words,
            side=sides.pop() if len(sides) == 1 else None,
            start_s=max(time_s - OWN_HALF_SPAN_S, 0.0),
            peak_s=time_s,
            end_s=time_s + OWN_HALF_SPAN_S,
            parts=parts,
            view=View((aim[0], aim[1] - OWN_VIEW_DISTANCE_M, aim[2]), aim, "own"),
        )
        item = state.findings.add()
        states.fill_own(item, own)
        moments.mark_own(context, state, item)
        state.chosen = len(state.findings) - 1
        return decided(self, context)


class DANCE_REVIEW_OT_remove_correction(Operator):
    """Remove this correction of your own"""

    bl_idname = "dance_review.remove_correction"
    bl_label = "Remove Correction"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_chosen(cls, context):
            return False
        if not states.the_chosen(state_of(context)).own:
            cls.poll_message_set(unavailable.ONLY_OWN_IS_REMOVED)
            return False
        return True

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        name = states.the_chosen(state).finding
        for place in reversed(range(len(state.links))):
            if name in (state.links[place].before, state.links[place].after):
                state.links.remove(place)
        state.findings.remove(state.chosen)
        state.chosen = -1
        moments.unmark_own(state, name)
        return decided(self, context)


class DANCE_REVIEW_OT_cut_link(Operator):
    """Cut this link: the one did not lead to the other"""

    bl_idname = "dance_review.cut_link"
    bl_label = "Cut Link"
    bl_options = {"REGISTER", "UNDO"}

    before: Annotated[str, StringProperty(options={"HIDDEN", "SKIP_SAVE"})]
    after: Annotated[str, StringProperty(options={"HIDDEN", "SKIP_SAVE"})]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        after = states.find(state, self.after)
        if after is None or self.before not in states.came_after(state, after):
            self.report({"ERROR"}, reports.NO_SUCH_LINK)
            return {"CANCELLED"}
        states.forget_link(state, self.before, self.after)
        if self.before in after.came_after.split():
            link = state.links.add()
            link.before, link.after, link.choice = self.before, self.after, "cut"
        return decided(self, context)


_earlier_items: list[tuple[str, str, str]] = []


def _earlier(operator: Any, context: bpy.types.Context) -> list[tuple[str, str, str]]:
    """Corrections that began before the chosen one. Kept in a module list: Blender does not keep the texts itself."""
    state = state_of(context)
    item = states.chosen(state)
    others = [] if item is None else [other for other in state.findings if other.onset_s < item.onset_s]
    _earlier_items[:] = [(other.finding, f"{other.title}, {other.count}", other.cue) for other in others]
    return _earlier_items


class DANCE_REVIEW_OT_add_link(Operator):
    """Say that an earlier correction came first and may have led to this one"""

    bl_idname = "dance_review.add_link"
    bl_label = "Add Link"
    bl_options = {"REGISTER", "UNDO"}

    before: Annotated[str, EnumProperty(name="Came First", items=_earlier, description="The correction that came first")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not has_chosen(cls, context):
            return False
        if not _earlier(None, context):
            cls.poll_message_set(unavailable.NONE_BEFORE)
            return False
        return True

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        return there(context.window_manager).invoke_props_dialog(self, width=400)

    def execute(self, context: bpy.types.Context) -> Ended:
        state = state_of(context)
        item = states.the_chosen(state)
        if self.before in states.came_after(state, item):
            self.report({"ERROR"}, reports.LINK_IS_THERE)
            return {"CANCELLED"}
        states.forget_link(state, self.before, item.finding)
        if self.before not in item.came_after.split():
            link = state.links.add()
            link.before, link.after, link.choice = self.before, item.finding, "added"
        return decided(self, context)


class DANCE_REVIEW_OT_save_decisions(Operator):
    """Write all decisions to the review file beside the take"""

    bl_idname = "dance_review.save_decisions"
    bl_label = "Save Decisions"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        try:
            save(context, state_of(context), replace=True)
        except InTheRoundError as error:
            return refused(self, error)
        self.report({"INFO"}, reports.saved_in(folder_of(state_of(context))))
        return {"FINISHED"}


class DANCE_REVIEW_OT_load_decisions(Operator):
    """Take the decisions from the review file beside the take in place of those in this Blender file"""

    bl_idname = "dance_review.load_decisions"
    bl_label = "Take Decisions from File"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        try:
            take_from_file(context, state_of(context))
        except InTheRoundError as error:
            return refused(self, error)
        return {"FINISHED"}


class DANCE_REVIEW_OT_forget_unmatched(Operator):
    """Forget the decisions whose corrections are no longer there"""

    bl_idname = "dance_review.forget_unmatched"
    bl_label = "Forget Earlier Decisions"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        return there(context.window_manager).invoke_confirm(self, event)

    def execute(self, context: bpy.types.Context) -> Ended:
        state_of(context).unmatched.clear()
        return decided(self, context)


CLASSES = (
    DANCE_REVIEW_OT_keep,
    DANCE_REVIEW_OT_set_aside,
    DANCE_REVIEW_OT_reopen,
    DANCE_REVIEW_OT_reword,
    DANCE_REVIEW_OT_change_band,
    DANCE_REVIEW_OT_add_correction,
    DANCE_REVIEW_OT_remove_correction,
    DANCE_REVIEW_OT_cut_link,
    DANCE_REVIEW_OT_add_link,
    DANCE_REVIEW_OT_save_decisions,
    DANCE_REVIEW_OT_load_decisions,
    DANCE_REVIEW_OT_forget_unmatched,
)
