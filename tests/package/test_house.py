"""The house is in order: style, types, names, and documents that say what is true."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
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
    _run("scripts/check_types.py")


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


#: A unit that stands behind a number, a number with decimals, and the sign of a ±: only `analysis_core/wording` writes them.
_UNIT = re.compile(r"[\s\u00a0]?(°|mm|cm|m|s|Hz|%|ms|MB|GB|body weights?|m/s)(?!\w)")
_DECIMALS = re.compile(r"[fgeEG%]$")
#: What no person reads (files and requests of other programs, a number of Blender's), and texts that speak of every ± in general.
NO_WORDS_FOR_PEOPLE = {
    "analysis_core/archive/engine.py": 1,
    "analysis_core/archive/norms.py": 5,
    "analysis_core/body/propose.py": 1,
    "analysis_core/write/bvh.py": 3,
    "blender_addon/state.py": 1,
}


def _docstrings(tree: ast.Module) -> set[int]:
    holders = [n for n in ast.walk(tree) if isinstance(n, (ast.Module, ast.ClassDef, ast.FunctionDef)) and n.body]
    return {id(n.body[0].value) for n in holders if isinstance(n.body[0], ast.Expr)}


def _formats_itself(text: ast.AST, docstrings: set[int]) -> bool:
    """Whether a string of a module writes a unit, decimals or a ± itself."""
    if isinstance(text, ast.Constant):
        return isinstance(text.value, str) and "±" in text.value and id(text) not in docstrings
    if isinstance(text, ast.JoinedStr):
        for piece, following in zip(text.values, [*text.values[1:], None], strict=True):
            if isinstance(piece, ast.FormattedValue):
                parts = [] if piece.format_spec is None else ast.walk(piece.format_spec)
                spec = "".join(str(part.value) for part in parts if isinstance(part, ast.Constant))
                behind = following.value if isinstance(following, ast.Constant) else ""
                if _DECIMALS.search(spec) or _UNIT.match(str(behind)):
                    return True
    return False


def test_numbers_are_worded_in_one_place() -> None:
    """No module writes a unit, decimals or a ± for people but the wording of the core. Would catch a fourth number format."""
    found: dict[str, int] = {}
    for folder in ("analysis_core", "blender_addon", "command_line"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            name = path.relative_to(ROOT).as_posix()
            tree = ast.parse(path.read_text(encoding="utf-8"))
            docstrings = _docstrings(tree)
            count = sum(_formats_itself(node, docstrings) for node in ast.walk(tree))
            if count and not name.startswith("analysis_core/wording/"):
                found[name] = count
        for path in (ROOT / folder).rglob("templates/*"):
            if re.search(r"""["']%[.\w]*["']\s*\|\s*format|\|\s*round""", path.read_text(encoding="utf-8")):
                found[path.relative_to(ROOT).as_posix()] = 1
    assert found == NO_WORDS_FOR_PEOPLE


#: Parts of the core of which what they say is worded in `analysis_core/wording`. Errors are not asked: their texts
#: stand beside what raises them, and docs/errors.md holds them all.
WORDLESS = (
    "archive", "body", "clean", "compare", "figure", "film", "findings", "hand_over", "lesson", "page", "phrase", "read",
    "record", "review", "views", "write",
)  # fmt: skip
#: Parts of errors that are put together before they are raised, the head of a table that is written, how a page looks, menu
#: texts of the looks, the name of a position, a
#: key of the record and what it claims.
PUT_TOGETHER = {
    "analysis_core/archive/pages.py": 1,
    "analysis_core/body/calibration.py": 2,
    "analysis_core/body/propose.py": 2,
    "analysis_core/clean/body_seen.py": 3,
    "analysis_core/figure/looks.py": 2,
    "analysis_core/lesson/library.py": 10,
    "analysis_core/phrase/balances.py": 1,
    "analysis_core/record/deletion.py": 1,
    "analysis_core/record/progress.py": 2,
    "analysis_core/review/folder.py": 1,
    "analysis_core/write/usd.py": 1,
}
#: A word of a sentence: of letters, with what may stand behind one; neither a tag nor a key of anything.
_WORD = re.compile(r"(?<![\w<>=\"'/#.*:@-])(?![A-Z]+\b)[a-zA-Z]{2,}(?=[ ,.:;?!)]|$)")


def _texts(tree: ast.Module) -> Iterator[str]:
    """The texts of a module but its docstrings and what it raises; {} stands for what is filled in."""
    left_out = _docstrings(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) or (isinstance(node, ast.Call) and ast.unparse(node.func).endswith("Error")):
            left_out |= {id(part) for part in ast.walk(node)}
        elif isinstance(node, ast.JoinedStr):
            left_out |= {id(part) for part in node.values if isinstance(part, ast.Constant)}
    for node in ast.walk(tree):
        if id(node) in left_out:
            continue
        if isinstance(node, ast.JoinedStr):
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def _is_sentence(text: str) -> bool:
    """Whether a text speaks to people: five words, or two and a full stop. What a database is asked does not."""
    words = len(_WORD.findall(text))
    return not text.lstrip().startswith(("SELECT ", "INSERT ", "UPDATE ", "DELETE ", "CREATE ")) and (
        words >= 5 or (words >= 2 and text.rstrip().endswith("."))
    )


def test_sentences_are_made_in_one_place() -> None:
    """Catches a sentence for people that a module makes itself: it could not be translated with the others."""
    found: dict[str, int] = {}
    for path in (path for part in WORDLESS for path in sorted((ROOT / "analysis_core" / part).rglob("*.py"))):
        count = sum(map(_is_sentence, _texts(ast.parse(path.read_text(encoding="utf-8")))))
        if count:
            found[path.relative_to(ROOT).as_posix()] = count
    assert found == PUT_TOGETHER
