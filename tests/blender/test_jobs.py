"""Work under way in processes that misbehave in every way: it always ends, and says how. No Blender needed."""

from __future__ import annotations

import errno
import importlib
import json
import os
import shutil
import sys
import time
from collections.abc import Generator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.errors import InTheRoundError, TakeError
from in_the_round.analysis_core.read.sampled import read_sampled, write_sampled
from in_the_round.analysis_core.review import read_review
from in_the_round.analysis_core.settings import Settings, settings_from_json, settings_to_json
from in_the_round.analysis_core.take import Inference, Skeleton, Take
from in_the_round.review_job import ArmatureJob, Job, ProcessJob, ReviewJob

ROOT = Path(__file__).parents[2]


def process(code: str, job: dict[str, Any] | None = None) -> ProcessJob:
    return ProcessJob("The trial", [sys.executable, "-c", f"import sys, json, os, time\n{code}"], job or {})


def ended(job: Job, most_s: float = 60.0) -> Job:
    """Poll as Blender's timer does, until it is over."""
    until = time.monotonic() + most_s
    while not job.finished:
        assert time.monotonic() < until, f"still {job.state}: {job.stage}"
        job.poll()
        time.sleep(0.01)
    return job


SAYS = {
    "starts with a brace but is no JSON": "print('{half a line'); print('{}}')",
    "JSON that is no object": "print('[1]'); print('null'); print('{\"stage\": 5, \"share\": \"x\"}')",
    "bytes that are no text": "sys.stdout.buffer.write(bytes([123, 255, 254, 10]))",
    "a share beyond all": "print('{\"share\": 1e9}')",
    "nothing": "",
}


@pytest.mark.parametrize("code", SAYS.values(), ids=SAYS.keys())
def test_lines_that_are_none_of_ours_are_passed_over(code: str) -> None:
    job = ended(process(code))
    assert (job.state, job.error) == ("done", None)
    assert 0.0 <= job.share <= 1.0
    job.check()


ENDS_BADLY = {
    "with a code": ("sys.exit(3)", "code 3"),
    "with last words": ("sys.stderr.write('no such thing\\n'); sys.exit(1)", "no such thing"),
    "with a sentence": ("print(json.dumps({'error': 'The take is empty.'})); sys.exit(2)", "The take is empty."),
    "with a sentence and without a code": ("print(json.dumps({'error': 'The take is empty.'}))", "The take is empty."),
    "killed": ("os.kill(os.getpid(), 9)", "ended without a result"),
    "without listening": ("os.close(0); sys.exit(4)", "code 4"),
}


@pytest.mark.parametrize(("code", "words"), ENDS_BADLY.values(), ids=ENDS_BADLY.keys())
def test_a_process_that_ends_badly_is_a_sentence(code: str, words: str) -> None:
    # More than a pipe holds: one that does not listen breaks it.
    job = ended(process(code, {"much": "x" * 1_000_000}))
    assert job.state == "failed"
    assert words in str(job.error)
    with pytest.raises(InTheRoundError):
        job.check()


def test_cancelled_is_over_and_stays_so() -> None:
    job = process("time.sleep(600)")
    job.poll()
    assert not job.finished
    job.cancel()
    job.cancel()
    job.poll()
    assert (job.state, job.error) == ("cancelled", None)
    job.check()


def test_a_defect_in_the_work_ends_it() -> None:
    class Broken(Job):
        def _work(self) -> None:
            raise ZeroDivisionError("by nothing")

    job = ended(Broken("The trial"))
    assert job.state == "failed"
    assert "by nothing" in str(job.error)


def test_a_full_disk_is_no_defect_of_the_program() -> None:
    """As when what was sampled from an armature finds no room."""

    class Full(Job):
        def _work(self) -> None:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    job = ended(Full("The review of Dancer"))
    assert job.state == "failed"
    assert "No space left on device" in str(job.error)
    assert "defect" not in str(job.error)


def test_a_program_that_is_not_there_is_a_sentence() -> None:
    with pytest.raises(InTheRoundError, match="could not be started"):
        ProcessJob("The trial", ["/no/such/program"], {})


def test_settings_reach_the_worker_as_they_are() -> None:
    settings = Settings(static=Path("a b/é.c3d"), landmarks=Path("t.toml"), tempo_bpm=100.0, unit="mm")
    assert settings_from_json(json.loads(json.dumps(settings_to_json(settings)))) == settings
    assert settings_from_json(settings_to_json(Settings())) == Settings()


def test_a_take_that_is_none_is_a_sentence_of_the_worker(tmp_path: Path) -> None:
    take = tmp_path / "none.c3d"
    take.write_bytes(b"\x02\x50" + b"\0" * 600)
    job = ended(ReviewJob(take, tmp_path / "review", Settings()))
    assert job.state == "failed"
    assert "none.c3d" in str(job.error)
    assert "Traceback" not in str(job.error)
    assert not (tmp_path / "review").exists()


def test_neighbours_of_the_core_hide_no_module_from_the_worker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Catches the add-on's folder on sys.path: there a "queue.py" of the add-on would stand for the standard library's."""
    addon = tmp_path / "in_the_round"
    shutil.copytree(ROOT / "blender_addon", addon, ignore=shutil.ignore_patterns("__pycache__"))
    os.symlink(ROOT / "analysis_core", addon / "analysis_core")
    for name in ("numpy", "queue", "hashlib", "zipfile", "secrets"):
        (addon / f"{name}.py").write_text("raise ImportError('hidden by a neighbour')\n", encoding="utf-8")
    worker = addon / "worker.py"
    take = tmp_path / "none.c3d"
    take.write_bytes(b"")
    job = {
        "work": "review_worker", "blender": False, "package": str(addon), "core": str(addon / "analysis_core"), "path": sys.path,
        "take": str(take), "folder": str(tmp_path / "review"), "table": "", "settings": settings_to_json(Settings()),
    }  # fmt: skip
    over = ended(ProcessJob("The trial", [sys.executable, "-I", str(worker)], job))
    assert "none.c3d" in str(over.error)
    assert "hidden" not in str(over.error)


def skeleton_take(frames: int = 4) -> Take:
    rotations = np.broadcast_to(np.eye(3), (frames, 2, 3, 3)).copy()
    return Take(
        file=Path("Rig"), sha256="0" * 64, kind="skeleton", rate_hz=24.0, first_frame=1, labels=("hips", "head"),
        positions_m=np.zeros((frames, 2, 3)), skeleton=Skeleton(np.array([-1, 0]), np.zeros((2, 3)), rotations),
        inferred=(Inference("unit", "1 m", "the scene"),),
    )  # fmt: skip


def test_a_sampled_take_arrives_whole_or_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "sampled.npz"
    take = skeleton_take()
    write_sampled(take, path)
    again = read_sampled(path)
    assert (again.labels, again.rate_hz, again.inferred, again.file) == (take.labels, 24.0, take.inferred, take.file)
    assert again.skeleton is not None
    assert np.array_equal(again.skeleton.rotations, take.skeleton.rotations)
    path.write_bytes(path.read_bytes()[:100])
    with pytest.raises(TakeError, match="did not arrive whole"):
        read_sampled(path)


def test_an_armature_is_stepped_through_with_progress_and_stops_at_once(tmp_path: Path) -> None:
    put_back = []

    def steps() -> Generator[float, None, Take]:
        try:
            for number in range(10_000):
                time.sleep(0.001)
                yield number / 10_000
            return skeleton_take()
        finally:
            put_back.append(True)

    job = ArmatureJob("Rig", steps(), tmp_path, Settings())
    job.poll()
    assert 0.0 < job.share < 0.1
    assert not job.finished
    job.cancel()
    assert (job.state, put_back) == ("cancelled", [True])


def test_an_armature_that_holds_no_body_is_a_sentence_and_leaves_nothing(tmp_path: Path) -> None:
    def steps() -> Generator[float, None, Take]:
        yield 1.0
        return skeleton_take()

    job = ended(ArmatureJob("Rig", steps(), tmp_path / "review", Settings(unit="m")))
    assert job.state == "failed"
    assert "defect" not in str(job.error)
    assert not (tmp_path / "review").exists()


def test_an_armature_that_goes_away_is_a_sentence(tmp_path: Path) -> None:
    def steps() -> Generator[float, None, Take]:
        yield 0.1
        raise ReferenceError("StructRNA of type Object has been removed")

    assert "is gone" in str(ended(ArmatureJob("Rig", steps(), tmp_path, Settings())).error)


def test_the_module_of_jobs_needs_no_blender() -> None:
    assert "bpy" not in vars(importlib.import_module("in_the_round.review_job"))
    assert read_review is not None
