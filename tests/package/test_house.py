"""The house is in order: style, types, names, and documents that say what is true."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from in_the_round.command_line.__main__ import COMMANDS
from in_the_round.command_line.system_libraries import NEEDED_FOR_QUICK_RENDERING, NEEDED_TO_IMPORT

ROOT = Path(__file__).resolve().parents[2]
FOREIGN_NAMES = ROOT.parent / "shared" / "tools" / "foreign_names.py"
DOCUMENTS = ("README.md", "DEVELOPERS.md")


def _run(*words: str) -> None:
    outcome = subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, check=False)
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_style() -> None:
    """Ruff has nothing to say."""
    _run("-m", "ruff", "check", ".")


def test_types() -> None:
    """Mypy, strict on the core, has nothing to say."""
    _run("-m", "mypy")


def test_no_foreign_names() -> None:
    """No name of an existing product stands anywhere."""
    if not FOREIGN_NAMES.is_file():
        pytest.skip("the list of foreign names is not beside the repository (../shared/tools)")
    outcome = subprocess.run([sys.executable, str(FOREIGN_NAMES), str(ROOT)], capture_output=True, text=True, check=False)
    assert (outcome.stdout, outcome.returncode) == ("", 0)


@pytest.mark.parametrize("document", DOCUMENTS)
def test_commands_in_the_documents_exist(document: str) -> None:
    """Every command, script and file that a document names is there."""
    text = (ROOT / document).read_text(encoding="utf-8")
    for command in re.findall(r"in-the-round ([a-z-]+)", text):
        assert command in COMMANDS
    for path in re.findall(r"(?:scripts|demo_data|docs|tests|analysis_core|blender_addon|command_line)/[\w./-]*[\w/]", text):
        assert (ROOT / path).exists(), path


def test_system_packages_are_named_once_and_alike() -> None:
    """README, .ci/run and the program's own advice name the same Debian packages."""
    wanted = {*NEEDED_TO_IMPORT.values(), *NEEDED_FOR_QUICK_RENDERING.values()}
    in_ci = re.search(r"packages=\(([^)]*)\)", (ROOT / ".ci" / "run").read_text(encoding="utf-8"))
    assert in_ci is not None
    assert set(in_ci.group(1).split()) == wanted
    in_readme = re.search(r"apt-get install ((?:lib[\w.-]+\s*\\?\s*)+)", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert in_readme is not None
    assert set(in_readme.group(1).replace("\\", " ").split()) == wanted
