"""The house is in order: style, types, names, and documents that say what is true."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from graphlib import TopologicalSorter
from pathlib import Path

import pytest
from in_the_round.analysis_core.read import read_take
from in_the_round.command_line.system_libraries import NEEDED_FOR_QUICK_RENDERING, NEEDED_TO_IMPORT
from in_the_round.simulated_dancer.labels import NAMES

ROOT = Path(__file__).resolve().parents[2]
FOREIGN_NAMES = ROOT.parent / "shared" / "tools" / "foreign_names.py"


def _run(*words: str) -> None:
    outcome = subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, check=False)
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_style() -> None:
    """Ruff has nothing to say."""
    _run("-m", "ruff", "check", ".")


def test_types() -> None:
    """Mypy, strict on everything that is shipped, has nothing to say."""
    # A cache that was kept is used; none is built for one check, which would cost a tenth of it.
    kept = (ROOT / ".mypy_cache").is_dir()
    _run("scripts/check_types.py", *(() if kept else ("--cache-dir", os.devnull)))


def test_no_foreign_names() -> None:
    """No name of an existing product stands anywhere."""
    if not FOREIGN_NAMES.is_file():
        pytest.skip("the list of foreign names is not beside the repository (../shared/tools)")
    outcome = subprocess.run([sys.executable, str(FOREIGN_NAMES), str(ROOT)], capture_output=True, text=True, check=False)
    assert (outcome.stdout, outcome.returncode) == ("", 0)


#: Words of the tables that are no codes, and abbreviations of the published atlas of landmarks (van Sint Jan 2007).
_PLAIN_WORDS = {"HEEL", "HIP", "THIGH", "ANKLE", "KNEE", "TOE"}
_ATLAS = {abbreviation for _, abbreviation in NAMES.values()}


def test_codes_of_label_sets_stand_only_in_the_tables_that_recognise_files() -> None:
    """Short codes of markers, with a side or without, are no words of ours: not in the demo, the tests, or what is shown."""
    table = tomllib.loads((ROOT / "analysis_core" / "body" / "landmarks.toml").read_text(encoding="utf-8"))
    words = {word.upper() for entry in table.values() for word in entry["labels"]}
    short = {word for word in words if re.fullmatch(r"[A-Z]{1,4}\d{0,2}", word)} - _PLAIN_WORDS - _ATLAS
    coded = re.compile(rf"""["'](?:\w+[:_])?[LR]?(?:{"|".join(sorted(short))})["']""")
    found = {
        path.relative_to(ROOT).as_posix(): coded.findall(path.read_text(encoding="utf-8"))
        for folder in ("analysis_core", "blender_addon", "command_line", "simulated_dancer", "scripts", "tests")
        for path in (ROOT / folder).rglob("*.py")
    }
    assert {name: codes for name, codes in found.items() if codes} == {}
    for take in (ROOT / "demo_data").glob("*.c3d"):
        assert not {label for label in read_take(take).labels if coded.search(f"'{label.upper()}'")}


def test_system_packages_are_named_once_and_alike() -> None:
    """README, .ci/run and the program's own advice name the same Debian packages; what only tests need, README and .ci/run."""
    wanted = {*NEEDED_TO_IMPORT.values(), *NEEDED_FOR_QUICK_RENDERING.values()}
    in_ci = re.search(r"packages=\(([^)]*)\)", (ROOT / ".ci" / "run").read_text(encoding="utf-8"))
    assert in_ci is not None
    assert set(in_ci.group(1).split()) == wanted
    for_tests = re.search(r"for_tests=\(([^)]*)\)", (ROOT / ".ci" / "run").read_text(encoding="utf-8"))
    assert for_tests is not None
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [name for name in for_tests.group(1).split() if f"`{name}`" not in readme] == []
    in_readme = re.search(r"apt-get install ((?:lib[\w.-]+\s*\\?\s*)+)", readme)
    assert in_readme is not None
    assert set(in_readme.group(1).replace("\\", " ").split()) == wanted


#: The folders of the package, as what they are installed as within it.
_PARTS = {"blender_addon": (), **{name: (name,) for name in ("analysis_core", "command_line", "simulated_dancer")}}


def _modules() -> dict[str, Path]:
    """The modules of the package by their name within it."""
    found: dict[str, Path] = {}
    for folder, within in _PARTS.items():
        for path in (ROOT / folder).rglob("*.py"):
            names = (*within, *path.relative_to(ROOT / folder).with_suffix("").parts)
            found[".".join(names[:-1] if names[-1] == "__init__" else names)] = path
    return found


#: An import of the package's own: at the head, in a function, or for the checking of types alone. Read as text: to parse all
#: modules takes seconds.
_IMPORT = re.compile(r"^ *from (\.+)([\w.]*) import (\([^)]*\)|.*)$", re.MULTILINE)


def _imported(name: str, path: Path, modules: dict[str, Path]) -> set[str]:
    """The modules of the package that a module imports, were it only for its types."""
    found: set[str] = set()
    for dots, below, items in _IMPORT.findall(path.read_text(encoding="utf-8")):
        own = name.split(".")
        above = own[: len(own) - len(dots) + (path.name == "__init__.py")]
        source = ".".join(part for part in (*above, below) if part)
        wanted = re.findall(r"(\w+)(?: as \w+)?(?=[,\s)]|$)", re.sub(r"#.*| as \w+", "", items))
        whole = {f"{source}.{item}".lstrip(".") for item in wanted}
        found |= {module if module in modules else source for module in whole}
    return (found & modules.keys()) - {name}


def test_imports_build_no_circle() -> None:
    """Catches two modules that need each other, also where one hides it by importing in a function or for types alone."""
    modules = _modules()
    imports = {name: _imported(name, path, modules) for name, path in modules.items()}
    assert "analysis_core.review" in imports["curves_shown"]  # at its head
    assert "analysis_core.analyse" in imports["opening"]  # in a function
    TopologicalSorter(imports).prepare()
