"""Sentences in panels: broken into lines that fit, because a label is cut off otherwise."""

from __future__ import annotations

from collections.abc import Iterable

import blf
import bpy

from ..blender_types import Icon, there

#: Air beside a label in a panel, pixels at a scale of 1; with an icon before it so much more.
_MARGIN, _ICON = 56.0, 26.0
#: Width of a usual sidebar; one that was not drawn yet has none, and lines are no shorter than the least. Pixels at a scale of 1.
_USUAL, _LEAST = 300.0, 160.0
#: Blender's own font, of which labels are made.
_FONT = 0
#: Width of a letter and of the air round a label in units of Blender's interface, widely reckoned.
_LETTER_UNITS, _AIR_UNITS = 0.34, 0.9


def _broken(parts: Iterable[str], between: str, room: float) -> list[str]:
    """Parts put together into lines that are no wider than the room, a part alone where it is wider itself."""
    lines: list[str] = []
    for part in parts:
        longer = f"{lines[-1]}{between}{part}" if lines else part
        if lines and blf.dimensions(_FONT, longer)[0] <= room:
            lines[-1] = longer
        else:
            lines.append(part)
    return lines


def lines_of(context: bpy.types.Context, text: str, indent: float = 0.0) -> list[str]:
    """The lines that a text takes in the region that is drawn, by its width in Blender's own font; a path breaks anywhere."""
    preferences = there(context.preferences)
    # Without a window Blender tells neither its scale nor a region.
    scale = preferences.system.ui_scale or 1.0
    room = max((context.region.width if context.region else _USUAL * scale) - (_MARGIN + indent) * scale, _LEAST * scale)
    blf.size(_FONT, preferences.ui_styles[0].widget.points * scale)
    return [part for line in _broken(text.split(), " ", room) for part in _broken(line, "", room)] or [""]


def sentence(layout: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: Icon = "NONE", indent: float = 0.0) -> None:
    """Draw a sentence in as many lines as it needs; the icon stands before the first."""
    column = layout.column(align=True)
    column.scale_y = 0.8
    has_icon = icon != "NONE"
    for number, line in enumerate(lines_of(context, text, indent + _ICON * has_icon)):
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
