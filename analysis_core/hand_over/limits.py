"""The hand-over's limits, read from the table beside this file."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any


@cache
def limits() -> dict[str, Any]:
    """The table of limits: section -> name -> value."""
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
