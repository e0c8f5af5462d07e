"""The film: one take, or two side by side, turning."""

from pathlib import Path
from typing import Annotated, Any

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, IntProperty, StringProperty
from bpy.types import Operator

from ..analysis_core.errors import InTheRoundError
from ..analysis_core.film.wish import Wish
from ..analysis_core.review import read_review
from ..analysis_core.wording import reports
from ..beside import clip_of
from ..blender_types import Ended, there
from ..properties import review_of, state_of
from ..review_job import FilmJob
from ..saving import folder_of
from ..scene.figure import look_in
from .common import has_review, refused
from .waiting import Waiting, can_wait, is_free

SIZES = {
    "WIDE": (1280, 720),
    "UPRIGHT": (720, 1280),
    "LARGE": (1920, 1080),
    "LARGE_UPRIGHT": (1080, 1920),
    "SMALL": (640, 360),
}
#: Shares of the dancer's own speed; None: each kind of film has its own.
SPEEDS = {"KIND": None, "FULL": 1.0, "HALF": 0.5, "QUARTER": 0.25}
MODES = {"HOLD": "hold", "PLAY": "play", "STILL_VIEW": "still-view"}
_other_items: list[tuple[str, str, str]] = []


def other_takes(operator: Any, context: bpy.types.Context) -> list[tuple[str, str, str]]:
    """The other reviews in this file. Kept in a module list: Blender does not keep the texts itself."""
    others = [scene for scene in bpy.data.scenes if scene != context.scene and review_of(scene).take_name]
    _other_items[:] = [("NONE", "None", "Only this take"), *((scene.name, scene.name, "Beside this take") for scene in others)]
    return _other_items


class DANCE_REVIEW_OT_render_turntable(Waiting, Operator):
    """Render a film of this take turning, alone or beside another one that is open in this file"""

    bl_idname = "dance_review.render_turntable"
    bl_label = "Render Turntable"

    filepath: Annotated[
        str, StringProperty(name="Film", subtype="FILE_PATH", options={"SKIP_SAVE"}, description="Where the film goes (MP4)")
    ]
    filter_glob: Annotated[str, StringProperty(default="*.mp4", options={"HIDDEN"})]
    check_existing: Annotated[bool, BoolProperty(default=True, options={"HIDDEN"})]
    other: Annotated[
        str, EnumProperty(name="Beside It", items=other_takes, description="Another take of this file, shown beside this one")
    ]
    size: Annotated[
        str,
        EnumProperty(
            name="Size",
            items=(
                ("WIDE", "1280 × 720", "For a screen"),
                ("UPRIGHT", "720 × 1280", "For a phone"),
                ("LARGE", "1920 × 1080", "For a large screen"),
                ("LARGE_UPRIGHT", "1080 × 1920", "For a phone, in full"),
                ("SMALL", "640 × 360", "To try out"),
            ),
            default="WIDE",
            description="Size of the picture",
        ),
    ]
    fps: Annotated[int, IntProperty(name="Pictures per Second", default=24, min=1, max=120, description="Frame rate of the film")]
    seconds: Annotated[
        float, FloatProperty(name="Length", default=10.0, min=0.1, unit="TIME_ABSOLUTE", description="Length of the film")
    ]
    mode: Annotated[
        str,
        EnumProperty(
            name="Kind",
            items=(
                ("HOLD", "Hold and Turn", "Slows into each correction you kept, turns all the way round it, and goes on"),
                ("PLAY", "Play and Turn", "The phrase plays while the stage turns"),
                ("STILL_VIEW", "One View", "The phrase plays, seen from the side that shows its worst correction best"),
            ),
            default="HOLD",
            description="What the film does",
        ),
    ]
    speed: Annotated[
        str,
        EnumProperty(
            name="Speed",
            items=(
                ("KIND", "As Suits the Film", "Slow near each hold; the dancer's own speed where nothing is held"),
                ("FULL", "Full", "The dancer's own speed"),
                ("HALF", "Half", "Half the dancer's own speed: near each hold, or all through where nothing is held"),
                ("QUARTER", "Quarter", "A quarter of it: near each hold, or all through where nothing is held"),
            ),
            default="KIND",
            description="How fast the dancer is seen to move",
        ),
    ]
    draft: Annotated[bool, BoolProperty(name="Draft", description="Quicker, with rougher edges")]
    with_music: Annotated[
        bool,
        BoolProperty(
            name="Music", default=True, description="Play the music of this take wherever the dancer is seen at full speed"
        ),
    ]
    with_film: Annotated[
        bool,
        BoolProperty(
            name="Film from a Phone",
            default=True,
            description="Show it in step beside the dancer; not with two takes",
        ),
    ]

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return is_free(cls) and has_review(cls, context)

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> Ended:
        if not self.filepath:
            self.filepath = str(folder_of(state_of(context)) / "turntable.mp4")
        there(context.window_manager).fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> Ended:
        film = Path(bpy.path.abspath(self.filepath)).with_suffix(".mp4")
        folders = [folder_of(state_of(context))]
        if self.other != "NONE":
            folders.append(folder_of(review_of(bpy.data.scenes[self.other])))
        try:
            wish = self._wish(context)
            reviews = [read_review(folder) for folder in folders]
            if can_wait(context):
                return self.wait_for(context, FilmJob(bpy.app.binary_path, folders, film, wish))
            from ..scene.film_output import render

            render(reviews, film, wish)
        except InTheRoundError as error:
            return refused(self, error)
        return self._said(film)

    def _wish(self, context: bpy.types.Context) -> Wish:
        clip = clip_of(state_of(context), "music") if self.with_music else None
        phone = clip_of(state_of(context), "film") if self.with_film and self.other == "NONE" else None
        return Wish(
            size=SIZES[self.size],
            fps=self.fps,
            seconds=self.seconds,
            mode=MODES[self.mode],
            slow=SPEEDS[self.speed],
            look=look_in(there(context.scene)),
            draft=self.draft,
            music=str(clip.file) if clip is not None else "",
            music_offset=clip.at_s if clip is not None else 0.0,
            reference=str(phone.file) if phone is not None else "",
            reference_offset=phone.at_s if phone is not None else 0.0,
        )

    def done(self, context: bpy.types.Context, job: Any) -> Ended:
        return self._said(job.file)

    def _said(self, film: Path) -> Ended:
        self.report({"INFO"}, reports.film_in(film))
        return {"FINISHED"}


CLASSES = (DANCE_REVIEW_OT_render_turntable,)
