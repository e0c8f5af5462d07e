"""What users see when something is wrong: a sentence on standard error, exit code 2, nothing written."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from in_the_round.analysis_core.review import MOVEMENT_FILE, REVIEW_FILE
from in_the_round.command_line.__main__ import COMMANDS, main


def _refused(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """Run a command that must fail; return its sentence."""
    try:
        code = main(arguments)
    except SystemExit as error:
        code = error.code
    said = capsys.readouterr()
    assert code == 2
    assert said.out == ""
    assert "Traceback" not in said.err
    assert len(said.err.strip().splitlines()) == 1
    return said.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "command"),
        (["dance"], "dance"),
        (["check"], "take"),
        (["review", "a.c3d"], "--out"),
        (["review", "a.c3d", "--out", "x", "--tempo", "fast"], "--tempo"),
        (["review", "a.c3d", "--out", "x", "--tempo", "0"], "above zero"),
        (["review", "a.c3d", "--out", "x", "--offset", "nan"], "--offset"),
        (["check", "a.c3d", "--rate", "-5"], "--rate"),
        (["check", "a.c3d", "--unit", "mile"], "--unit"),
        (["check", "a.c3d", "--up", "w"], "--up"),
        (["turntable", "a", "--out", "f.mp4", "--size", "1280"], "1280x720"),
        (["turntable", "a", "--out", "f.mp4", "--size", "641x360"], "even"),
        (["turntable", "a", "--out", "f.mp4", "--fps", "0"], "--fps"),
        (["turntable", "a", "--out", "f.avi"], ".mp4"),
        (["turntable", "a", "b", "c", "--out", "f.mp4"], "one or two"),
        (["scene", "a", "--out", "f.fbx"], ".blend"),
    ],
)
def test_options_that_make_no_sense(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each is refused with a sentence that names it."""
    monkeypatch.chdir(tmp_path)
    assert words.lower() in _refused(arguments, capsys).lower()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["scene", "turntable"])
def test_a_folder_without_a_review(command: str, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The sentence names the folder and the command that fills it."""
    out = tmp_path / ("f.blend" if command == "scene" else "f.mp4")
    sentence = _refused([command, str(tmp_path / "empty"), "--out", str(out)], capsys)
    assert "empty" in sentence
    assert "review" in sentence
    assert list(tmp_path.iterdir()) == []


def test_an_earlier_review_is_not_overwritten(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """It is refused before any work, and both files stay as they were."""
    for name in (REVIEW_FILE, MOVEMENT_FILE):
        (tmp_path / name).write_text("mine", encoding="utf-8")
    assert "--force" in _refused(["review", "a.c3d", "--out", str(tmp_path)], capsys)
    assert [(tmp_path / name).read_text(encoding="utf-8") for name in (REVIEW_FILE, MOVEMENT_FILE)] == ["mine", "mine"]


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_help_has_an_example_that_parses(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The example of each command is a command line that the parser takes."""
    from in_the_round.command_line.__main__ import make_parser

    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    # On one line, so that it can be copied: a terminal breaks it by itself.
    assert f"Example:\n  {COMMANDS[command].EXAMPLE}\n" in capsys.readouterr().out
    words = COMMANDS[command].EXAMPLE.split()
    assert make_parser().parse_args(words[1:]).command == command


def test_the_installed_program() -> None:
    """The entry point and ``python -m`` are the same program."""
    program = Path(sys.executable).with_name("in-the-round")
    said = [
        subprocess.run([*words, "check"], capture_output=True, text=True, check=False)
        for words in ([str(program)], [sys.executable, "-m", "in_the_round.command_line"])
    ]
    assert [outcome.returncode for outcome in said] == [2, 2]
    assert said[0].stderr == said[1].stderr
