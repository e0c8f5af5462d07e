"""How long the whole walk takes, from a recording to everything that is made of it, step by step."""

from __future__ import annotations

import tempfile
from pathlib import Path

from bench_common import DATA, Row
from whole_walk import walk


def whole_walk() -> list[Row]:
    """Each step of the demo takes' walk in seconds of the clock, each with the start of its process; and all of it."""
    with tempfile.TemporaryDirectory() as folder:
        steps = list(walk(Path(folder), (DATA / "careful.c3d", DATA / "careless.c3d"), DATA / "static.c3d"))
    rows = [Row(step.name, step.seconds, "s") for step in steps]
    return [*rows, Row("all of it", sum(step.seconds for step in steps), "s")]
