"""The add-on as a teacher uses it: operators and panels of the installed extension, one test for each check."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

CHECKS = [
    node.name
    for node in ast.parse((Path(__file__).parent / "checks_in_blender.py").read_text(encoding="utf-8")).body
    if isinstance(node, ast.FunctionDef) and node.name.startswith("check_")
]


@pytest.mark.blender
@pytest.mark.slow
@pytest.mark.parametrize("check", CHECKS)
def test_addon(check: str, outcomes: dict[str, str | None]) -> None:
    said = outcomes[check]
    if said is not None and said.startswith("skipped: "):
        pytest.skip(said)
    assert said is None, said
