"""Write docs/errors.md: every sentence with which the program refuses something, read from its source.

python scripts/make_errors_page.py            write the page
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from in_the_round.analysis_core.write.files import whole_file

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "errors.md"
#: Where sentences for users are raised.
FOLDERS = ("analysis_core", "command_line", "blender_addon")
#: What each kind of error is about; the names are the classes, most of them in analysis_core/errors.py.
KINDS = {
    "TakeError": "A recording that cannot be read or holds nothing to review",
    "LandmarkError": "Labels and landmarks",
    "ReviewError": "Review folders",
    "RecordError": "The dancers' record",
    "OptionError": "Options and settings",
    "OutputError": "Files and folders that are written",
    "ComparisonError": "Two takes that cannot be compared",
    "BlenderError": "Blender's module",
    "NoMarkersError": "Lines drawn in Blender",
    "InTheRoundError": "Everything else",
}
_HEAD = """# What the program says when it cannot go on

This page is written by `scripts/make_errors_page.py` from the source; a test holds the two together. Each sentence says
what is wrong, with which file, and what to do; commands end with exit code 2, nothing is left half-written, and nothing that
was there before is lost. What stands in ‹angle marks› is filled in. `--debug` shows where in the program an error comes from.
"""


class UnreadableError(Exception):
    """An error is raised whose sentence cannot be read from the source."""


def _words(node: ast.expr, filled: dict[str, str]) -> str:
    """A sentence with its blanks; raises UnreadableError for what is no text."""
    match node:
        case ast.Constant(value=str() as text):
            return text
        case ast.JoinedStr(values=values):
            return "".join(_words(part, filled) for part in values)
        case ast.FormattedValue(value=value):
            return _blank(value, filled)
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return _words(left, filled) + _words(right, filled)
        case ast.Call(func=ast.Attribute(value=value, attr="rstrip")):
            return _words(value, filled)
    return _blank(node, filled)


def _blank(node: ast.expr, filled: dict[str, str]) -> str:
    """‹what stands here›, by the last word of the expression that fills it."""
    if isinstance(node, ast.Name) and node.id in filled:
        return filled[node.id]
    parts = (part for part in ast.walk(node) if isinstance(part, ast.Name | ast.Attribute))
    names = [part.attr if isinstance(part, ast.Attribute) else part.id for part in parts]
    said = [name.strip("_") for name in names if name not in ("str", "join", "len", "sorted", "repr", "numbers", "self")]
    return f"‹{(said[0] if said else '…').replace('_', ' ').lower()}›"


def _called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def _makers(tree: ast.Module) -> dict[str, tuple[ast.FunctionDef, ast.Call]]:
    """The functions of a module that make an error of what they are given."""
    found = {}
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef) and isinstance(function.returns, ast.Name) and function.returns.id in KINDS:
            made = [node for node in ast.walk(function) if isinstance(node, ast.Call) and _called(node) in KINDS]
            found[function.name] = (function, made[0])
    return found


def _of_module(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """(kind, sentence) of every error that a module makes."""
    makers = _makers(tree)
    inside = {id(call) for function, _ in makers.values() for call in ast.walk(function)}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        if _called(node) in KINDS and id(node) not in inside:
            yield _called(node), _words(node.args[0], {})
        elif _called(node) in makers:
            function, made = makers[_called(node)]
            names = [argument.arg for argument in function.args.args]
            filled = {name: _words(value, {}) for name, value in zip(names, node.args, strict=False)}
            yield _called(made), _words(made.args[0], filled)


def sentences() -> dict[str, list[str]]:
    """Every sentence by the kind of its error, each once, in the order of the alphabet."""
    told: dict[str, set[str]] = {kind: set() for kind in KINDS}
    for path in (path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py"))):
        for kind, words in _of_module(ast.parse(path.read_text(encoding="utf-8"))):
            if any(letter.isalpha() for letter in words.split("‹")[0] + words.rpartition("›")[2]):
                told[kind].add(" ".join(words.split()))
    return {kind: sorted(words) for kind, words in told.items()}


def page() -> str:
    """The whole page."""
    parts = [_HEAD]
    plain = str.maketrans({"*": r"\*", "_": r"\_", "<": r"\<"})
    for kind, words in sentences().items():
        if words:
            lines = "\n".join(f"- {line.translate(plain)}" for line in words)
            parts.append(f"## {KINDS[kind]}\n\n{lines}\n")
    return "\n".join(parts)


def main() -> None:
    """Write it."""
    with whole_file(PAGE, overwrite=True) as unfinished:
        unfinished.write_text(page(), encoding="utf-8", newline="\n")
    print(f"{PAGE} written.")


if __name__ == "__main__":
    main()
