"""Operators that wait for work under way, driven in a headless Blender: every job ends, with a sentence, whatever happens."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

HERE = Path(__file__).parent
CHECKS = [
    node.name
    for node in ast.parse((HERE / "waiting_in_blender.py").read_text(encoding="utf-8")).body
    if isinstance(node, ast.FunctionDef) and node.name.startswith("check_")
]


@pytest.mark.blender
@pytest.mark.slow
@pytest.mark.parametrize("check", CHECKS)
def test_waiting(check: str, waited: dict[str, str | None]) -> None:
    assert waited[check] is None, waited[check]
