"""What to look at, and what to draw for each measure."""

from __future__ import annotations

from .drawing import Area, Bracket, Drawing, Line, Marks, Sweep, Way
from .measures import drawing_of

__all__ = ["Area", "Bracket", "Drawing", "Line", "Marks", "Sweep", "Way", "drawing_of"]
