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


#: Numbers that are no limits wherever they stand: units (mm and cm² in a metre, seconds in a minute, degrees in a circle), and
#: counting.
_OF_UNITS = {0, 1, 2, 60, 180, 360, 1000, 1e4}
#: Numbers of formulas, by where they stand, each with the formula.
_OF_FORMULAS = {
    ("evidence.py", 0.5): "the middle of two points; a mask that is kept as a curve",
    ("evidence.py", 1e-6): "no division by nothing",
    ("measure_jumps.py", 3): "three points span an area",
    ("measure_jumps.py", 0.5): "half a sample",
    ("parts_of_measures.py", 3): "a rate needs three samples",
    ("measure_plies.py", 0.25): "the middle of four points",
    ("measure_time_and_balance.py", 0.5): "half a beat",
    ("measure_time_and_balance.py", 3): "an ellipse needs three samples",
    ("measure_time_and_balance.py", 18.8): "area of the 95 % ellipse (catalogue, sway)",
    ("measure_turnout.py", 0.5): "one standard deviation is half of what lies between two of one",
    ("reading.py", 0.5): "one standard deviation is half of what lies between two of one",
    ("series.py", 8): "rise of a flight, g t² / 8",
    ("catalogue.py", 0.2): "what a profile may ask for",
    ("catalogue.py", 5): "what a profile may ask for",
    ("finding.py", 1.96): "the 95 % interval of a normal distribution",
    ("measured.py", 3): "place of a part in a key",
    ("measures_version.py", 6): "the version itself",
    ("measures_version.py", 16): "length of a hash",
}


def test_no_number_stands_in_the_code_that_changes_what_is_told() -> None:
    """Catches a limit without a source: a least time, a quantile, a weight in the middle of a formula. Where a camera stands
    (views.py) changes no number."""
    found = {
        (name, abs(node.value))
        for name, text in CODE.items()
        if name != "views.py"
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Constant) and type(node.value) in (int, float) and abs(node.value) not in _OF_UNITS
    }
    assert found == set(_OF_FORMULAS)


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
    """A name that the catalogue lacks could not be judged, one that nothing measures would never be told."""
    assert set(DECLARED) == {(fault, name) for fault, entry in catalogue().items() for name in entry.measures}


@pytest.mark.parametrize("measure", DECLARED.values(), ids=lambda measure: f"{measure.fault} {measure.name}")
def test_a_sided_measure_is_made_of_a_side(measure: Measure) -> None:
    """Its curve is only asked for where a number is near its band: a wrong declaration would wait for such a take."""
    if measure.curve is not None:
        assert ("side" in inspect.signature(measure.curve).parameters) >= measure.sided
