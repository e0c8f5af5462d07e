"""What is drawn on the dancer and beside her in Blender: one test for each check of views_in_blender.py."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

HERE = Path(__file__).parent
CHECKS = [
    node.name
    for node in ast.parse((HERE / "views_in_blender.py").read_text(encoding="utf-8")).body
    if isinstance(node, ast.FunctionDef) and node.name.startswith("check_")
]


@pytest.mark.blender
@pytest.mark.slow
@pytest.mark.parametrize("check", CHECKS)
def test_views(check: str, viewed: dict[str, str | None]) -> None:
    assert viewed[check] is None, viewed[check]
