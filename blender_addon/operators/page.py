"""The student's page: one file for a phone, with what to work on in words, pictures and 3-D."""

from pathlib import Path
from typing import Annotated, Any

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty
from bpy.types import Operator

from .. import saving
from ..analysis_core.errors import InTheRoundError
from ..analysis_core.review import read_review
from ..analysis_core.wording import reports
from ..blender_types import Ended, there
from ..properties import review_of, state_of
from ..review_job import PageJob
from ..scene.figure import look_in
from .common import has_review, refused
from .film import other_takes
from .waiting import Waiting, can_wait, is_free


class DANCE_REVIEW_OT_make_page(Waiting, Operator):
    """Make the student's page: at most three things to work on, in words, pictures and 3-D. One file, works offline on a phone"""

    bl_idname = "dance_review.make_page"
    bl_label = "Make Student's Page"

    filepath: Annotated[
        str, StringProperty(name="Page", subtype="FILE_PATH", options={"SKIP_SAVE"}, description="Where the page goes (HTML)")
    ]
    filter_glob: Annotated[str, StringProperty(default="*.html", options={"HIDDEN"})]
    check_existing: Annotated[bool, BoolProperty(default=True, options={"HIDDEN"})]
    other: Annotated[
        str, EnumProperty(name="Before", items=other_takes, description="An earlier take of this file: shown as before")
    ]
    name_on_it: Annotated[
        str,
        StringProperty(
            name="Name", options={"SKIP_SAVE"}, description="The student's name on the page; nobody is named when it is empty"
        ),
    ]
    film: Annotated[
        str,
        StringProperty(
            name="Film", subtype="FILE_PATH", options={"SKIP_SAVE"}, description="A film to put in, as Render Turntable makes it"
        ),
    ]
    open_it: Annotated[bool, BoolProperty(name="Open It", default=True, description="Show the page in the browser")]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return is_free(cls) and has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        folder = saving.folder_of(state_of(context))
        if not self.filepath:
            self.filepath = str(folder / "page.html")
        if (folder / "turntable.mp4").is_file():
            self.film = str(folder / "turntable.mp4")
        there(context.window_manager).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> Ended:
        page = Path(bpy.path.abspath(self.filepath)).with_suffix(".html")
        film = Path(bpy.path.abspath(self.film)) if self.film else None
        states = [state_of(context)]
        if self.other != "NONE":
            states.append(review_of(bpy.data.scenes[self.other]))
        if any(saving.needs_saving(state) for state in states):
            self.report({"WARNING"}, reports.NOT_ON_PAGE)
        folders, look = [saving.folder_of(state) for state in states], look_in(there(context.scene))
        try:
            reviews = [read_review(folder) for folder in folders]
            if can_wait(context):
                return self.wait_for(context, PageJob(bpy.app.binary_path, folders, page, self.name_on_it.strip(), film, look))
            from ..scene.page_pictures import make_page

            return self._said(page, make_page(reviews, page, name=self.name_on_it.strip(), film=film, look=look))
        except InTheRoundError as error:
            return refused(self, error)

    def done(self, context: bpy.types.Context, job: Any) -> Ended:
        return self._said(job.file, job.result)

    def _said(self, page: Path, words: str) -> Ended:
        self.report({"INFO"}, words)
        if self.open_it and not bpy.app.background:
            bpy.ops.wm.url_open(url=page.resolve().as_uri())
        return {"FINISHED"}


CLASSES = (DANCE_REVIEW_OT_make_page,)
