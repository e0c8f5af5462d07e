"""Limits of the measures stand in one table, each with its source; what is named is there, and what is there is used."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

FINDINGS = Path(__file__).resolve().parents[2] / "analysis_core" / "findings"
TABLE = tomllib.loads((FINDINGS / "limits.toml").read_text(encoding="utf-8"))
CODE = {path.name: path.read_text(encoding="utf-8") for path in FINDINGS.glob("*.py")}


def test_every_limit_has_a_value_and_a_source() -> None:
    for section, entries in TABLE.items():
        for name, entry in entries.items():
            assert set(entry) == {"value", "source"}, (section, name)
            assert isinstance(entry["value"], int | float)
            assert len(entry["source"]) > 8, (section, name)


def test_limits_that_are_used_are_those_of_the_table() -> None:
    """A name that the table lacks would only be found when a take comes that way; one that nothing uses changes nothing."""
    used = {
        (section.lower(), name)
        for text in CODE.values()
        for section, name in re.findall(r"\b([A-Z]+)\.([a-z]\w*)", text)
        if section.lower() in TABLE
    }
    assert used == {(section, name) for section, entries in TABLE.items() for name in entries}


def test_no_measure_has_limits_of_its_own() -> None:
    """No number stands at the top of a module of measures: it would change what is told without a source."""
    for name, text in CODE.items():
        if not name.startswith("measure_"):
            continue
        for node in ast.parse(text).body:
            if isinstance(node, ast.Assign):
                numbers = [n for n in ast.walk(node.value) if isinstance(n, ast.Constant) and type(n.value) in (int, float)]
                assert not numbers or "np.radians" in ast.unparse(node) or "_A_LINE" in ast.unparse(node), (name, node.lineno)
