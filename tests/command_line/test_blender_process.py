"""The child process that works in Blender: its answers, its errors, and its death."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest
from in_the_round.command_line import blender_process
from in_the_round.command_line.output import Output


def _child(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, body: str) -> None:
    """Let a small script stand where the worker stands: real process, real pipes, any way of ending."""
    (tmp_path / "stand_in.py").write_text("import json, os, signal, sys\n" + body, encoding="utf-8")
    monkeypatch.setattr(blender_process, "_WORKER", "stand_in")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(filter(None, [str(tmp_path), os.environ.get("PYTHONPATH")])))
    monkeypatch.setattr(blender_process.system_libraries, "missing_to_import", lambda: [])


def test_the_answer_comes_back(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The last line of the child is the result; progress lines before it are not."""
    body = 'job = json.load(sys.stdin)\nprint(json.dumps({"doing": "x", "share": 0.5}))\nprint(json.dumps({"result": job}))\n'
    _child(monkeypatch, tmp_path, body)
    assert blender_process.run_job({"do": "é"}, Output(as_json=True), debug=False) == {"do": "é"}


@pytest.mark.skipif(sys.platform == "win32", reason="signals are not told by the exit code there")
def test_a_crash_of_native_code_is_a_sentence(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """An aborted child, as when a graphics library is missing, gives an error of ours."""
    _child(monkeypatch, tmp_path, "json.load(sys.stdin)\nos.kill(os.getpid(), signal.SIGABRT)\n")
    with pytest.raises(blender_process.BlenderError, match=f"signal {int(signal.SIGABRT)}"):
        blender_process.run_job({}, Output(as_json=True), debug=False)


def test_a_child_that_dies_before_it_listens(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Its last word is in the sentence."""
    _child(monkeypatch, tmp_path, 'sys.exit("no floor to dance on")\n')
    with pytest.raises(blender_process.BlenderError, match="no floor to dance on"):
        blender_process.run_job({"much": "x" * 1_000_000}, Output(as_json=True), debug=False)


def test_what_is_prepared_meanwhile_follows_the_job(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Parts arrive whole and in order, larger than a pipe holds."""
    body = (
        "import pickle\njob = json.loads(sys.stdin.buffer.readline())\n"
        "one, other = pickle.load(sys.stdin.buffer), pickle.load(sys.stdin.buffer)\n"
        'print(json.dumps({"result": {"job": job, "one": len(one), "other": other}}))\n'
    )
    _child(monkeypatch, tmp_path, body)
    with blender_process.started({"do": "x"}, Output(as_json=True), debug=False) as child:
        child.send(b"x" * 1_000_000)
        child.send("é")
        assert child.answer() == {"job": {"do": "x"}, "one": 1_000_000, "other": "é"}


def test_a_child_that_dies_before_it_takes_its_parts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No broken pipe, but why it died: what it says at once, while much is still being sent."""
    body = 'sys.stdin.buffer.readline()\nprint(json.dumps({"error": "no floor"}))\nsys.stdout.flush()\nos._exit(2)\n'
    _child(monkeypatch, tmp_path, body)
    with blender_process.started({}, Output(as_json=True), debug=False) as child:
        child.send(b"x" * 5_000_000)
        child.send(b"x" * 5_000_000)
        with pytest.raises(blender_process.BlenderError, match="no floor"):
            child.answer()


def test_a_child_ends_with_its_block(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Whoever fails while preparing leaves no Blender behind that waits for what will never come, or writes."""
    left = tmp_path / "left"
    body = f'import time\nopen({str(left)!r}, "w").write(str(os.getpid()))\ntime.sleep(60)\n'
    _child(monkeypatch, tmp_path, body)

    def fail() -> None:
        with blender_process.started({}, Output(as_json=True), debug=False):
            while not left.exists() or not left.read_text():
                pass
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    with pytest.raises(ProcessLookupError):
        os.kill(int(left.read_text()), 0)


def test_missing_system_libraries_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before anything starts, the sentence says what to install."""
    libraries = blender_process.system_libraries
    monkeypatch.setattr(libraries, "NEEDED_TO_IMPORT", {"libnot-there.so.1": "libnot-there1"})
    monkeypatch.setattr(libraries.sys, "platform", "linux")
    with pytest.raises(blender_process.BlenderError, match="apt-get install libnot-there1"):
        blender_process.run_job({}, Output(as_json=True), debug=False)
