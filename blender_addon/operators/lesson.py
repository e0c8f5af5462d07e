"""The next class: planned from the review of this take, or from all that are open."""

from datetime import date
from pathlib import Path
from typing import Annotated, Any

import bpy
from bpy.props import BoolProperty, EnumProperty, IntProperty, StringProperty
from bpy.types import Operator

from .. import record_view, saving
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.lesson.timetable import LONGEST, SHORTEST
from ..analysis_core.wording import reports
from ..blender_types import Ended, there
from ..properties import review_of, state_of
from .common import has_review, refused


def _folders(context: bpy.types.Context, whole_class: bool) -> list[tuple[str | None, Path]]:
    """The review folder of this scene, or of all scenes that show one; each folder once, with the dancer if she was looked up."""
    scenes = [scene for scene in bpy.data.scenes if review_of(scene).take_name] if whole_class else [there(context.scene)]
    states = {saving.folder_of(review_of(scene)): review_of(scene) for scene in scenes}
    return [(record_view.dancer_of(state), folder) for folder, state in states.items()]


def _plan(context: bpy.types.Context, wishes: Any, folders: list[tuple[str | None, Path]], path: Path, form: Any) -> int:
    """Write the plan; what the record knows of dancers who were looked up in it counts. Returns the number of texts kept.

    Raises InTheRoundError.
    """
    # Imported here: the template engine and the solver are needed for this alone.
    from ..analysis_core.lesson.dancers import named, read_dancer
    from ..analysis_core.lesson.from_record import keep_plan, with_record
    from ..analysis_core.lesson.library import load_library
    from ..analysis_core.lesson.page import write_lesson
    from ..analysis_core.lesson.plan import plan_lesson

    library, today = load_library(), date.today()
    dancers = tuple(read_dancer(folder, name) for name, folder in named(folders))
    if not any(name for name, _ in folders):
        _, kept = write_lesson(plan_lesson(dancers, wishes, library), path, overwrite=True, form=form)
        return kept
    with record_view.open_record(context) as store:
        dancers, _ = with_record(dancers, store, library, today)
        lesson, kept = write_lesson(plan_lesson(dancers, wishes, library), path, overwrite=True, form=form)
        keep_plan(lesson, path, store, today, names=form != "wall")
    return kept


def _unsaved(context: bpy.types.Context, whole_class: bool) -> bool:
    """Whether decisions stand in this file that the reviews beside the takes do not hold yet."""
    scenes = bpy.data.scenes if whole_class else [there(context.scene)]
    return any(review_of(scene).take_name and saving.needs_saving(review_of(scene)) for scene in scenes)


class DANCE_REVIEW_OT_plan_lesson(Operator):
    """Plan the next class from the corrections: a page to print and to change. Made anew, it keeps your words"""

    bl_idname = "dance_review.plan_lesson"
    bl_label = "Plan Lesson"

    filepath: Annotated[
        str,
        StringProperty(
            name="Plan", subtype="FILE_PATH", options={"SKIP_SAVE"}, description="Where the plan goes (HTML or Markdown)"
        ),
    ]
    filter_glob: Annotated[str, StringProperty(default="*.html;*.md", options={"HIDDEN"})]
    check_existing: Annotated[bool, BoolProperty(default=False, options={"HIDDEN"})]
    whole_class: Annotated[
        bool,
        BoolProperty(
            name="Whole Class",
            default=False,
            options={"SKIP_SAVE"},
            description="Plan for all dancers whose takes are open in this file",
        ),
    ]
    minutes: Annotated[int, IntProperty(name="Minutes", default=75, min=SHORTEST, max=LONGEST, description="Length of the class")]
    age: Annotated[
        int,
        IntProperty(
            name="Age",
            default=0,
            min=0,
            max=100,
            description="Age of the youngest in years, which limits the jumps; 0 when not known",
        ),
    ]
    form: Annotated[
        str,
        EnumProperty(
            name="For",
            items=(
                ("teacher", "Teacher", "The plan with the class sheet"),
                ("wall", "Wall", "Exercises and cues, nobody's name"),
                ("student", "Students", "Two lines for each dancer to take home"),
            ),
            description="Who reads it",
        ),
    ]
    open_it: Annotated[bool, BoolProperty(name="Open It", default=True, description="Show the plan in the browser")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        if not self.filepath:
            name = "class.html" if self.whole_class else "lesson.html"
            self.filepath = str(saving.folder_of(state_of(context)) / name)
        there(context.window_manager).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> Ended:
        from ..analysis_core.lesson.planned import Wishes

        path = Path(bpy.path.abspath(self.filepath))
        if _unsaved(context, self.whole_class):
            self.report({"WARNING"}, reports.NOT_IN_PLAN)
        try:
            wishes = Wishes(minutes=self.minutes, age=self.age or None)
            kept = _plan(context, wishes, _folders(context, self.whole_class), path, self.form)
        except InTheRoundError as error:
            return refused(self, error)
        self.report({"INFO"}, reports.plan_in(path, kept))
        if self.open_it and not bpy.app.background:
            bpy.ops.wm.url_open(url=path.resolve().as_uri())
        return {"FINISHED"}


CLASSES = (DANCE_REVIEW_OT_plan_lesson,)
