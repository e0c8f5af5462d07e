"""The dancer's record: a take added, a consent entered, earlier takes and progress looked up."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import bpy
from bpy.props import BoolProperty, StringProperty
from bpy.types import Operator

from .. import record_view, saving
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import reports
from ..blender_types import Ended, OperatorPart, own_operators, there
from ..properties import state_of
from .common import has_review, refused


class _OfRecord(OperatorPart):
    """What the operators of the record share: a review is open, and sentences instead of tracebacks."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        try:
            self.report({"INFO"}, self.act(context))
        except InTheRoundError as error:
            return refused(self, error)
        if context.area:
            context.area.tag_redraw()
        return {"FINISHED"}

    def act(self, context: bpy.types.Context) -> str:
        """Do it; returns what to say."""
        raise NotImplementedError


class DANCE_REVIEW_OT_add_to_record(_OfRecord, Operator):
    """Add this take with its corrections and your decisions to the dancer's record. It needs a consent"""

    bl_idname = "dance_review.add_to_record"
    bl_label = "Add to the Record"

    dancer: Annotated[
        str, StringProperty(name="Dancer", description="The dancer's pseudonym; names of people stay out of the record")
    ]
    phrase: Annotated[str, StringProperty(name="Phrase", description="Which phrase it is: progress compares the same phrase")]
    day: Annotated[str, StringProperty(name="Recorded On", description="Year-month-day; empty: today", options={"SKIP_SAVE"})]
    term: Annotated[str, StringProperty(name="Term", description="The term it belongs to")]
    of_age: Annotated[
        bool,
        BoolProperty(
            name="Of Age and Has Agreed", options={"SKIP_SAVE"}, description="The dancer is of age and has agreed herself"
        ),
    ]

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        # What is known stands there already, to be changed.
        self.day = self.day or date.today().isoformat()
        self.dancer = self.dancer or record_view.dancer_of(state_of(context)) or ""
        return there(context.window_manager).invoke_props_dialog(self, width=360)

    def act(self, context: bpy.types.Context) -> str:
        from ..analysis_core.record.dancers import checked_name, dancer_of, day_of, enter_adult
        from ..analysis_core.record.folders import read_folder
        from ..analysis_core.record.takes import When, add_take

        state, today, name = state_of(context), date.today(), checked_name(self.dancer)
        saving.save(context, state)
        recording = saving.take_of(state)
        when = When(
            day_of(self.day) if self.day else today, "", self.term, self.phrase, recording if recording.is_file() else None
        )  # fmt: skip
        with record_view.open_record(context) as store:
            secret = store.secret()
            with store.begin() as connection:
                dancer = enter_adult(connection, name, today, None) if self.of_age else dancer_of(connection, name)
                outcome = add_take(connection, dancer, read_folder(saving.folder_of(state)), when, secret=secret, today=today)
        looked = record_view.look_up(context, state)
        return reports.in_record(state.take_name, outcome, looked.dancer, len(looked.takes))


class DANCE_REVIEW_OT_enter_consent(_OfRecord, Operator):
    """Enter the consent of a guardian and of the child, or of a dancer of age, for reviews to be kept"""

    bl_idname = "dance_review.enter_consent"
    bl_label = "Enter Consent"

    dancer: Annotated[str, StringProperty(name="Dancer", description="The dancer's pseudonym; empty: one is drawn")]
    until: Annotated[
        str, StringProperty(name="Until", description="Last day of the consent, year-month-day", options={"SKIP_SAVE"})
    ]
    by: Annotated[str, StringProperty(name="Given By", default="guardian", description="guardian, dancer, or in words")]
    assent: Annotated[
        bool, BoolProperty(name="The Child Agrees", options={"SKIP_SAVE"}, description="The child herself was asked and agrees")
    ]
    note: Annotated[str, StringProperty(name="Paper", description="Where the signed paper lies")]

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        return there(context.window_manager).invoke_props_dialog(self, width=360)

    def act(self, context: bpy.types.Context) -> str:
        from ..analysis_core.record.dancers import Assent, Given, day_of, give_consent
        from ..analysis_core.record.overview import dancers
        from ..analysis_core.record.pseudonyms import draw

        assent: Assent = "yes" if self.assent else "not recorded"
        given = Given(day_of(self.until), self.by.strip() or "guardian", assent=assent, note=self.note)
        with record_view.open_record(context) as store, store.begin() as connection:
            name = self.dancer.strip() or draw({item.pseudonym for item in dancers(connection)})
            entered = give_consent(connection, name, given, date.today())
        return reports.consent_entered(entered.pseudonym, given.until)


class DANCE_REVIEW_OT_look_up_record(_OfRecord, Operator):
    """Find this dancer's earlier takes, and what changed since"""

    bl_idname = "dance_review.look_up_record"
    bl_label = "Look Up in the Record"

    def act(self, context: bpy.types.Context) -> str:
        looked = record_view.look_up(context, state_of(context))
        return reports.looked_up(looked.dancer, len(looked.takes), len(looked.series))


class DANCE_REVIEW_OT_open_earlier(Operator):
    """Open an earlier take of this dancer: in a scene of its own, beside this one, or as a ghost in it"""

    bl_idname = "dance_review.open_earlier"
    bl_label = "Open Earlier Take"
    bl_options = {"REGISTER", "UNDO"}

    directory: Annotated[
        str,
        StringProperty(name="Review", description="The folder of the earlier review", subtype="DIR_PATH", options={"SKIP_SAVE"}),
    ]
    ghost: Annotated[
        bool, BoolProperty(name="As Ghost", options={"SKIP_SAVE"}, description="Show it in the same place as this take")
    ]
    beside: Annotated[bool, BoolProperty(name="Beside", options={"SKIP_SAVE"}, description="Show it at this dancer's side")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def execute(self, context: bpy.types.Context) -> Ended:
        if not Path(self.directory).is_dir():
            self.report({"ERROR"}, reports.review_gone(self.directory))
            return {"CANCELLED"}
        if self.ghost or self.beside:
            place = "beside" if self.beside else "ghost"
            return set(own_operators().add_second_take(directory=self.directory, place=place))
        return set(own_operators().open_review(directory=self.directory))


CLASSES = (
    DANCE_REVIEW_OT_add_to_record,
    DANCE_REVIEW_OT_enter_consent,
    DANCE_REVIEW_OT_look_up_record,
    DANCE_REVIEW_OT_open_earlier,
)
