"""What the documents tell a reader to type, to open and to press is there: commands with all their options, files, buttons."""

from __future__ import annotations

import argparse
import ast
import re
import shlex
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import pytest
from in_the_round.command_line.__main__ import COMMANDS, make_parser

ROOT = Path(__file__).resolve().parents[2]
GUIDES = sorted((ROOT / "docs" / "guides").glob("*.md"))
FOR_USERS = [ROOT / "README.md", ROOT / "docs" / "index.md", *GUIDES]
DOCUMENTS = [*FOR_USERS, ROOT / "DEVELOPERS.md"]
#: Names in a guide that are Blender's own buttons and keys, and one that is a thing on the screen, no button.
NOT_OURS = {"Install", "Install from Disk", "N", "Space", "The verdict"}


def _parsers(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for inner in action.choices.values():
                yield from _parsers(inner)


OPTIONS = {option for parser in _parsers(make_parser()) for option in parser._option_string_actions}


def _typed(document: Path) -> list[str]:
    """The lines that a reader would type: those of a block, and whole commands in a sentence. Remarks behind a # are left out."""
    text = document.read_text(encoding="utf-8")
    blocks = re.findall(r"^(?: {4}|\$ )((?:\.venv/bin/|python3? |in-the-round ).+)$", text, re.MULTILINE)
    return [line.split(" #")[0].strip() for line in [*blocks, *re.findall(r"`((?:\.venv/bin/)?in-the-round [^`]+)`", text)]]


LINES = [pytest.param(line, id=f"{document.name}: {line}") for document in DOCUMENTS for line in _typed(document)]
#: The last line of what a parser says at its end.
EXAMPLES = [parser.epilog.splitlines()[-1].strip() for parser in _parsers(make_parser()) if parser.epilog]


def _run_by(line: str) -> list[str]:
    """The words behind in-the-round, or nothing."""
    words = shlex.split(line.removeprefix(".venv/bin/"))
    return words[1:] if words[0] == "in-the-round" else []


@pytest.mark.parametrize("line", LINES)
def test_what_a_reader_types_is_understood(line: str) -> None:
    """Catches an option that was renamed or taken away, a value that is no longer one, a missing script."""
    if words := _run_by(line):
        # argparse takes a beginning for the whole; a document must not.
        assert [word for word in words if word.startswith("--") and word.split("=")[0] not in OPTIONS] == []
        # In a sentence a command may stand without what it works on: then its name must be one.
        if len(words) > 2:
            make_parser().parse_args(words)
        else:
            assert words[0] in COMMANDS
        return
    _, script, *rest = shlex.split(line)
    source = ROOT / script
    assert source.is_file() or script == "-m", line
    for option in (word for word in rest if word.startswith("--")):
        assert f'"{option}"' in source.read_text(encoding="utf-8"), f"{script} knows no {option}"


@pytest.mark.parametrize("line", EXAMPLES)
def test_the_examples_of_help_are_understood(line: str) -> None:
    """Catches an example with an option that was renamed, and one that is no line of a command any more."""
    assert _run_by(line)
    make_parser().parse_args(_run_by(line))


@pytest.mark.parametrize("document", FOR_USERS, ids=lambda path: path.name)
def test_every_option_in_a_sentence_exists(document: Path) -> None:
    """Catches `--option` in a paragraph that no command and no script of ours takes."""
    scripts = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "scripts").glob("*.py"))
    told = set(re.findall(r"`(?:[\w.]+ )*(--[a-z-]+)[^`]*`", document.read_text(encoding="utf-8")))
    assert [option for option in sorted(told) if option not in OPTIONS and f'"{option}"' not in scripts] == []


#: Every file of code by its name alone.
OUR_FILES = {
    path.name
    for folder in ("analysis_core", "blender_addon", "command_line", "page_viewer/src", "simulated_dancer", "scripts", "tests")
    for path in (ROOT / folder).rglob("*.*")
}


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_every_file_that_is_named_is_there(document: Path) -> None:
    """Catches a link to, or the name of, a file or folder of ours that was moved."""
    text = document.read_text(encoding="utf-8")
    named = re.findall(
        r"(?<![\w/])(?:scripts|demo_data|docs|tests|analysis_core|blender_addon|command_line|page_viewer|simulated_dancer)/[\w./-]*[\w/]",
        text,
    )
    # A file by its name alone, in a paragraph about its folder.
    alone = {name for name in re.findall(r"`([\w-]+\.(?:py|js|css))`", text)}
    assert sorted(alone - OUR_FILES) == []
    linked = [link.split("#")[0] for link in re.findall(r"\]\(([^)]+)\)", text) if "://" not in link]
    assert [path for path in named if not (ROOT / path).exists()] == []
    # Pages written from the code are made by build_docs.py, whose own test follows those links.
    missing = [link for link in linked if link and "from_code/" not in link and not (document.parent / link).exists()]
    assert missing == []


def _names_on_screen() -> set[str]:
    """Every text of the add-on that can stand on a button, a panel or a tab, read from its source and from the wording."""
    found: set[str] = set()
    for path in chain((ROOT / "blender_addon").rglob("*.py"), (ROOT / "analysis_core" / "wording").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found.add(node.value.rstrip(" …"))
    return found


def test_every_button_that_the_first_guide_names_is_there() -> None:
    """Catches a button that was renamed: the teacher would look for it in vain."""
    text = (ROOT / "docs" / "guides" / "first_twenty_minutes.md").read_text(encoding="utf-8")
    named = re.findall(r"(?<!\*)\*{1,2}([A-Z][\w' ]*(?:\?| › [A-Z][\w' ]*)?)\*{1,2}(?!\*)", text)
    parts = {part.strip() for name in named for part in name.split("›")} - NOT_OURS
    screen = {name.casefold() for name in _names_on_screen()}
    assert len(parts) > 8
    assert [part for part in sorted(parts) if part.casefold() not in screen] == []
