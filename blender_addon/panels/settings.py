"""The settings of a review, drawn alike in the file browser, in the sidebar and in dialogs: from their one declaration."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import bpy

from ..analysis_core.settings import SETTINGS, Setting


def _draw_number(layout: bpy.types.UILayout, owner: Any, setting: Setting) -> None:
    """A number that may stay unknown: a box that switches it on, and where the program can propose it, a box for that."""
    use = f"use_{setting.name}"
    row = layout.row(heading=setting.title)
    row.prop(owner, use, text="")
    sub = row.row()
    sub.enabled = getattr(owner, use)
    if not setting.proposed:
        sub.prop(owner, setting.name, text="")
        return
    propose = f"propose_{setting.name}"
    number = sub.row()
    number.enabled = not getattr(owner, propose)
    number.prop(owner, setting.name, text="")
    if getattr(owner, use):
        layout.prop(owner, propose)


def draw_settings(layout: bpy.types.UILayout, owner: Any, only: Sequence[str] = ()) -> None:
    """Level, static take and music first; what is usually found in the recording below. only: names, or all."""
    layout.use_property_split = True
    layout.use_property_decorate = False
    asked = [setting for setting in SETTINGS if not only or setting.name in only]
    for about in (("review", "music"), ("recording",)):
        column = layout.column()
        for setting in (setting for setting in asked if setting.about in about):
            if setting.kind == "number" and setting.can_be_left:
                _draw_number(column, owner, setting)
            else:
                column.prop(owner, setting.name)
