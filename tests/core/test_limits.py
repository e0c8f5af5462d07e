"""Limits of the measures stand in one table, each with its source; what is named is there, and what is there is used."""

from __future__ import annotations

import ast
import inspect
import re
import tomllib
from importlib import import_module
from pathlib import Path

import pytest
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.findings.reading import Measure

FINDINGS = Path(__file__).resolve().parents[2] / "analysis_core" / "findings"
TABLE = tomllib.loads((FINDINGS / "limits.toml").read_text(encoding="utf-8"))
CODE = {path.name: path.read_text(encoding="utf-8") for path in FINDINGS.glob("*.py")}
#: The modules of measures, and what several of them are made of.
OF_MEASURES = sorted(name for name in CODE if name.startswith("measure_") or name == "parts_of_measures.py")


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
    for name in OF_MEASURES:
        for node in ast.parse(CODE[name]).body:
            if isinstance(node, ast.Assign):
                numbers = [n for n in ast.walk(node.value) if isinstance(n, ast.Constant) and type(n.value) in (int, float)]
                assert not numbers or "np.radians" in ast.unparse(node) or "_A_LINE" in ast.unparse(node), (name, node.lineno)


def test_a_measure_fits_on_a_screen() -> None:
    """What is said of one step is at most 15 lines, its docstring apart: longer ones hide what they ask for."""
    for name in OF_MEASURES:
        for node in ast.walk(ast.parse(CODE[name])):
            if isinstance(node, ast.FunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                lines = (node.end_lineno or 0) - body[0].lineno + 1
                assert lines <= 15, (name, node.name, lines)


DECLARED = {
    (measure.fault, measure.name): measure
    for name in OF_MEASURES
    for value in vars(import_module(f"in_the_round.analysis_core.findings.{name.removesuffix('.py')}")).values()
    for measure in (value.values() if isinstance(value, dict) else [value])
    if isinstance(measure, Measure)
}


def test_declared_measures_are_those_of_the_catalogue() -> None:
    """All but the one of the arch, which nothing measures; a name that the catalogue lacks could not be judged."""
    known = {(fault, name) for fault, entry in catalogue().items() for name in entry.measures}
    assert known - set(DECLARED) == {(fault, name) for fault, name in known if fault == "foot-wings"}
    assert set(DECLARED) <= known


@pytest.mark.parametrize("measure", DECLARED.values(), ids=lambda measure: f"{measure.fault} {measure.name}")
def test_a_sided_measure_is_made_of_a_side(measure: Measure) -> None:
    """Its curve is only asked for where a number is near its band: a wrong declaration would wait for such a take."""
    if measure.curve is not None:
        assert ("side" in inspect.signature(measure.curve).parameters) >= measure.sided
