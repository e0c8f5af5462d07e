"""What a newcomer reads: no line wider than a terminal, nothing said twice, every number with its unit, what to do next."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from in_the_round.command_line.__main__ import COMMANDS, main
from in_the_round.command_line.output import COLUMNS, folded

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_data"
BALLROOM = ROOT.parent / "shared" / "data" / "dance_c3d" / "ballroom_e.c3d"


def lines_of(capsys: pytest.CaptureFixture[str], *words: str) -> list[str]:
    assert main(words) == 0
    return capsys.readouterr().out.rstrip("\n").split("\n")


def reads_well(lines: list[str]) -> None:
    """Eighty columns, but for commands, which are copied; no "1 findings", no name of the code, no number of nothing."""
    # A path alone has nowhere to be broken.
    wide = [line for line in lines if len(line) > COLUMNS and not line.startswith("  in-the-round ")]
    assert [line for line in wide if len(line.split()) > 1] == []
    text = "\n".join(lines)
    assert not re.search(r"(?<![\d.,])1 (findings|differences|steps|jumps|takes|dancers|pictures|times|more lines)\b", text), text
    assert not re.search(r"\w_\w+\.[LR]\b", text), text
    # A number with its ± and no unit behind it.
    assert not re.search(r"± [\d.]+(?=[\s,;)]*(\(|at \d|$))", text, re.MULTILINE), text


@pytest.mark.parametrize("take", [DEMO / "careless.c3d", BALLROOM], ids=["demo", "ballroom"])
def test_a_take_is_checked_and_reviewed_in_words(take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Catches lines of 200 letters ("check"), "anterior_superior_iliac_spine.L", a heading that says of the rate that the file
    does not tell it above "written in the file", a remark told as reason and again as note, and no word of what to do next."""
    if not take.is_file():
        pytest.skip(f"{take} is not there: an open recording of ballroom dance")
    checked = lines_of(capsys, "check", str(take))
    reads_well(checked)
    assert checked[-2:] == ["next:", f"  in-the-round review {take} --out DIR"]
    reviewed = lines_of(capsys, "review", str(take), "--out", str(tmp_path / "out"))
    reads_well(reviewed)
    assert reviewed[-1].startswith("next: ")
    for lines in (checked, reviewed):
        assert not any("does not say" in line for line in lines)
        sentences = re.split(r"(?<=[.:]) (?=[A-Z])", " ".join(line.strip() for line in lines))
        long = [
            sentence for sentence in sentences if len(sentence) > 40 and not re.match(r"It is used|They are used|Stick", sentence)
        ]
        assert len(long) == len(set(long)), [sentence for sentence in long if long.count(sentence) > 1]


def test_two_takes_are_compared_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Catches "in step by landmarks, 32 landmarks", "Heel height mm", and differences of which nobody says whose is more."""
    for name in ("careless", "careful"):
        lines_of(capsys, "review", str(DEMO / f"{name}.c3d"), "--static", str(DEMO / "static.c3d"), "--out", str(tmp_path / name))
    lines = lines_of(
        capsys, "compare", str(tmp_path / "careless"), str(tmp_path / "careful"), "--out", str(tmp_path / "compared")
    )
    reads_well(lines)
    text = "\n".join(lines)
    assert "landmarks" not in text
    assert "Heel height mm" not in text
    assert "+ is more in" in text


def test_a_command_is_never_broken() -> None:
    """Catches an example that is wrapped: its first line alone, copied, is another command."""
    command = (
        "  in-the-round review takes/monday/morning/second_try.c3d --static takes/monday/morning/standing.c3d --out out/second"
    )
    assert folded(f"next:\n{command}") == ["next:", command]
    sentence = f"  {'word ' * 40}end"
    assert max(map(len, folded(sentence))) <= COLUMNS
    assert " ".join(" ".join(folded(sentence)).split()) == " ".join(sentence.split())


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_help_says_of_what_it_takes_what_it_is(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Catches "DIR2" and a review called DIR in one command, REVIEW_DIR in the next."""
    with pytest.raises(SystemExit):
        main([command, "--help"])
    text = capsys.readouterr().out
    assert not re.search(r"DIR\d|DIR_|_DIR", text)
    assert [line for line in text.split("\n") if len(line) > COLUMNS and not line.startswith("  in-the-round ")] == []
