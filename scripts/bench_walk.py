"""How long the whole walk takes, from a recording to everything that is made of it, step by step: by commands, and in Blender."""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

from bench_common import DATA, Row
from whole_walk import walk


def _with_sum(rows: list[Row]) -> list[Row]:
    return [*rows, Row("all of it", sum(row.value for row in rows), "s")]


def whole_walk() -> list[Row]:
    """Each step of the demo takes' walk in seconds of the clock, each with the start of its process; and all of it."""
    with tempfile.TemporaryDirectory() as folder:
        steps = list(walk(Path(folder), (DATA / "careful.c3d", DATA / "careless.c3d"), DATA / "static.c3d"))
    return _with_sum([Row(step.name, step.seconds, "s") for step in steps])


def walk_in_blender() -> list[Row]:
    """Each step of the same walk by the add-on's buttons in one Blender without a window; and all of it."""
    script = Path(__file__).with_name("walk_in_blender.py")
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run([sys.executable, str(script), folder], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise RuntimeError(done.stderr.strip() or f"Blender ended with code {done.returncode}")
    told = re.findall(r"^(\w[\w, -]*?) +([\d.]+) s {3}", done.stdout, re.MULTILINE)
    return _with_sum([Row(name, float(seconds), "s") for name, seconds in told])
