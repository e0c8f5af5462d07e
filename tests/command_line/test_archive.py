"""The command ``archive`` from end to end on real takes, by its contract."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest


def archive(folder: Path, *words: str) -> tuple[int, dict[str, Any], str]:
    """Run the program itself: workers are started anew from it."""
    command = [sys.executable, "-m", "in_the_round.command_line", "archive", "takes", "--out", "out", "--json", *words]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=300)
    return done.returncode, json.loads(done.stdout) if done.stdout else {}, done.stderr


@pytest.mark.slow
def test_a_folder_of_takes(demo_at_60_hz: Path, tmp_path: Path) -> None:
    """A good take with its static one, the same again, a cut one: reviewed once, listed thrice; then nothing is left to do."""
    takes = tmp_path / "takes"
    (takes / "again").mkdir(parents=True)
    for name in ("careful.c3d", "static.c3d"):
        shutil.copy(demo_at_60_hz / name, takes)
    shutil.copy(demo_at_60_hz / "careful.c3d", takes / "again" / "same.c3d")
    (takes / "cut.C3D").write_bytes((demo_at_60_hz / "careless.c3d").read_bytes()[:5000])
    code, data, said = archive(tmp_path, "--workers", "1")
    assert (code, data["takes"], data["reviewed"], data["reused"], data["failed"]) == (1, 3, 1, 1, 1), said
    table = (tmp_path / "out" / "takes.csv").read_text(encoding="utf-8").splitlines()
    rows = {row["file"]: row for row in csv.DictReader(table)}
    assert rows["careful.c3d"]["verdict"] == "good"
    assert "cut" in rows["cut.C3D"]["error"]
    assert rows["again/same.c3d"]["sha256"] == rows["careful.c3d"]["sha256"]
    review = json.loads((tmp_path / "out" / "reviews" / "again" / "same" / "review.json").read_text(encoding="utf-8"))
    assert review["take"]["sha256"] == rows["careful.c3d"]["sha256"]
    assert "<img" in (tmp_path / "out" / "summary.html").read_text(encoding="utf-8") or review["findings"] == []
    (takes / "cut.C3D").unlink()
    code, data, _ = archive(tmp_path)
    assert (code, data["reviewed"], data["reused"], data["failed"]) == (0, 0, 2, 0)


def test_nothing_to_do(tmp_path: Path) -> None:
    """An empty folder: exit code 2 and a sentence."""
    (tmp_path / "takes").mkdir()
    code, _, said = archive(tmp_path)
    assert (code, "holds no C3D" in said) == (2, True)
