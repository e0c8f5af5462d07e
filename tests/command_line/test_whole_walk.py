"""The whole walk: check, review, decide, compare, film, page, lesson, record, hand-over, by the commands alone."""

from __future__ import annotations

import runpy
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_data"
REAL = ROOT.parent / "shared" / "data" / "dance_c3d"
TAKES = {
    "demo": ((DEMO / "careful.c3d", DEMO / "careless.c3d"), DEMO / "static.c3d"),
    "real dance without a static take": ((REAL / "ballroom_c.c3d", REAL / "ballroom_f.c3d"), None),
}


@pytest.mark.slow
@pytest.mark.blender
@pytest.mark.parametrize("which", TAKES)
def test_the_whole_walk(which: str, tmp_path: Path) -> None:
    """Would catch a step that cannot take in what an earlier one left, and a decision that reaches neither page nor record."""
    takes, static = TAKES[which]
    if not takes[0].is_file():
        pytest.skip(f"{takes[0].name} is not there: the open recordings lie beside the repository")
    pytest.importorskip("bpy", reason="the film needs Blender's module")
    script: dict[str, Any] = runpy.run_path(str(ROOT / "scripts" / "whole_walk.py"), run_name="walk")
    steps = {step.name: step for step in script["walk"](tmp_path, takes, static, film=which == "demo", pictures=False)}
    assert [name for name, step in steps.items() if step.made is not None and not step.made.exists()] == []
    assert {path.suffix for path in steps["hand-over"].made.iterdir()} >= {".bvh", ".glb", ".html"}
    page = steps["page"].made.read_text(encoding="utf-8")
    assert takes[0].stem not in page
    assert takes[1].stem not in page
    # What is to be said first was kept by the teacher, in her own words; a take may hold nothing to say.
    decided = int(steps["decide"].said.split()[0])
    with closing(sqlite3.connect(steps["record"].made)) as record:
        kept = record.execute("select count(*) from decision where decision = 'kept'").fetchone()[0]
    assert kept == min(decided, 1)
    assert ("Breathe before you go." in page) == bool(decided)
    if which == "demo":
        assert decided == 2
