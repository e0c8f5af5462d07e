"""The whole walk: check, review, decide, compare, film, page, lesson, record, hand-over, by the commands alone."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

REAL = Path(__file__).resolve().parents[3] / "shared" / "data" / "dance_c3d"


def went_all_the_way(steps: dict[str, Any], *names: str) -> int:
    """Everything is there, and what was decided reached page and record. names: of the takes, which no page tells. Returns the
    number of decisions: a take may hold nothing to say."""
    assert [name for name, step in steps.items() if step.made is not None and not step.made.exists()] == []
    assert {path.suffix for path in steps["hand-over"].made.iterdir()} >= {".bvh", ".glb", ".html"}
    page = steps["page"].made.read_text(encoding="utf-8")
    assert [name for name in names if name in page] == []
    # What is to be said first was kept by the teacher, in her own words.
    decided = int(steps["decide"].said.split()[0])
    with closing(sqlite3.connect(steps["record"].made)) as record:
        kept = record.execute("select count(*) from decision where decision = 'kept'").fetchone()[0]
    assert kept == min(decided, 1)
    assert ("Breathe before you go." in page) == bool(decided)
    return decided


@pytest.mark.slow
@pytest.mark.blender
def test_the_whole_walk_on_the_demo(demo_walk: dict[str, Any]) -> None:
    """Would catch a step that cannot take in what an earlier one left, and a decision that reaches neither page nor record."""
    pytest.importorskip("bpy", reason="the film needs Blender's module")
    assert went_all_the_way(demo_walk, "careful", "careless") == 2
    # An MP4 file names its kind in the second word, and a track of AAC sound by "mp4a" (ISO 14496-14).
    film = demo_walk["film"].made.read_bytes()
    assert film[4:8] == b"ftyp"
    assert b"mp4a" in film
    said = json.loads(demo_walk["film"].said)
    assert (said["seconds"], said["pictures"], said["music"], said["resumed"]) == (1.0, 2, True, 0)
    assert "data:video/mp4" in demo_walk["page"].made.read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.blender
def test_the_whole_walk_on_a_real_dance_without_a_static_take(
    walk: Any, in_this_process: Callable[..., str], tmp_path: Path
) -> None:
    """The same on recordings that were made elsewhere; no start of the program in between hides what a command leaves behind."""
    before, now = REAL / "ballroom_g.c3d", REAL / "ballroom_f.c3d"
    if not now.is_file():
        pytest.skip(f"{now.name} is not there: the open recordings lie beside the repository")
    pytest.importorskip("bpy", reason="the film needs Blender's module")
    steps = {step.name: step for step in walk(tmp_path, (before, now), pictures=False, command=in_this_process)}
    went_all_the_way(steps, before.stem, now.stem)
