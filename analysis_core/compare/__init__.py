"""Two takes of the same phrase: when each does what the other does, and what is different beyond what measurement can show."""

from __future__ import annotations

from .comparing import compare
from .comparison import Comparison
from .document import COMPARISON_FILE, to_json, write_comparison

__all__ = ["COMPARISON_FILE", "Comparison", "compare", "to_json", "write_comparison"]
