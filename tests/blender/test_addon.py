"""The add-on as a teacher uses it: operators, panels and drawings of the installed extension, and work under way in it. One test
for each check of the three scripts."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

CHECKS = [
    (script, node.name)
    for script in ("checks_in_blender", "views_in_blender", "waiting_in_blender")
    for node in ast.parse((Path(__file__).parent / f"{script}.py").read_text(encoding="utf-8")).body
    if isinstance(node, ast.FunctionDef) and node.name.startswith("check_")
]


@pytest.mark.blender
@pytest.mark.slow
@pytest.mark.parametrize(("script", "check"), CHECKS, ids=[check for _, check in CHECKS])
def test_addon(script: str, check: str, outcomes: dict[str, dict[str, str | None]]) -> None:
    said = outcomes[script][check]
    if said is not None and said.startswith("skipped: "):
        pytest.skip(said)
    assert said is None, said
