"""Sentences in panels: broken into lines that fit, because a label is cut off otherwise."""

from __future__ import annotations

import textwrap

import bpy

from ..blender_types import Icon, there

#: Average width of a letter in Blender's interface font, pixels at a scale of 1.
_LETTER = 6.3
_MARGIN = 46.0
#: Width of a letter and of the air round a label in units of Blender's interface, widely reckoned.
_LETTER_UNITS, _AIR_UNITS = 0.34, 0.9


def letters(context: bpy.types.Context, indent: float = 0.0) -> int:
    """How many letters fit into a line of the region that is drawn."""
    scale = there(context.preferences).system.ui_scale
    width = context.region.width / scale if context.region else 300.0
    return max(int((width - _MARGIN - indent) / _LETTER), 16)


def sentence(layout: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: Icon = "NONE", indent: float = 0.0) -> None:
    """Draw a sentence in as many lines as it needs; the icon stands before the first."""
    column = layout.column(align=True)
    column.scale_y = 0.8
    has_icon = icon != "NONE"
    for number, line in enumerate(textwrap.wrap(text, letters(context, indent + 20.0 * has_icon)) or [""]):
        if has_icon:
            column.label(text=line, icon=icon if number == 0 else "BLANK1")
        else:
            column.label(text=line)


def when(row: bpy.types.UILayout, text: str) -> None:
    """A moment at the end of a line of a list: as wide as it is, so that what stands before it is cut and it never is."""
    end = row.row()
    end.alignment = "RIGHT"
    end.ui_units_x = _AIR_UNITS + _LETTER_UNITS * len(text)
    end.label(text=text)
