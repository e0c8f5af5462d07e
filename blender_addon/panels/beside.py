"""Music and a reference film beside the dancer."""

from pathlib import PurePath

import bpy
from bpy.types import Panel

from ..analysis_core.views.beside import KINDS
from ..analysis_core.wording import panels as words
from ..blender_types import Icon, there
from ..properties import state_of
from .take import ReviewPanel
from .text import sentence

_TITLES = {"music": "Music", "film": "Film from a Phone"}
_ICONS: dict[str, Icon] = {"music": "SOUND", "film": "FILE_MOVIE"}


class DANCE_REVIEW_PT_beside(ReviewPanel, Panel):
    """What plays beside the take."""

    bl_label = "Music and Film"
    bl_order = 4
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, state = there(self.layout), state_of(context)
        for kind in KINDS:
            held = getattr(state, kind)
            if not held.file:
                layout.operator("dance_review.attach", text=f"{_TITLES[kind]}…", icon=_ICONS[kind]).kind = kind
                if held.said:
                    sentence(layout, context, held.said, icon="ERROR")
                continue
            box = layout.box()
            row = box.row(align=True)
            row.label(text=PurePath(held.file).name, icon=_ICONS[kind])
            row.operator("dance_review.attach", text="", icon="FILE_REFRESH").kind = kind
            row.operator("dance_review.detach", text="", icon="X").kind = kind
            if held.said:
                sentence(box, context, held.said, icon="ERROR")
                continue
            box.prop(held, "at_s")
            if kind == "music" and state.speed < 100.0:
                sentence(box, context, words.SLOW_IS_SILENT, icon="MUTE_IPO_ON")


CLASSES: tuple[type, ...] = (DANCE_REVIEW_PT_beside,)
