"""Write docs/errors.md: every sentence with which the program refuses something, read from its source.

python scripts/make_errors_page.py            write the page
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from in_the_round.analysis_core.write.files import whole_file

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "errors.md"
#: Where sentences for users are raised.
FOLDERS = ("analysis_core", "command_line", "blender_addon")
#: Where the words are made that an error may be given.
WORDING = ROOT / "analysis_core" / "wording"
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


@dataclass(frozen=True)
class Scope:
    """What a piece of code can mean by its names. texts: names that stand for one text; makers: functions, and what each gives
    back or yields; bound: where a name of the function comes from."""

    texts: Mapping[str, str]
    makers: Mapping[str, Sequence[ast.expr]]
    bound: Mapping[str, ast.expr]

    def inside(self, function: ast.FunctionDef, filled: Mapping[str, str]) -> Scope:
        """The same, in one of its functions, whose arguments may be known."""
        bound: dict[str, ast.expr] = {}
        for node in ast.walk(function):
            match node:
                case ast.Assign(targets=[ast.Name(id=name)], value=value) | ast.For(target=ast.Name(id=name), iter=value):
                    bound[name] = value
        own = {name: value.value for name, value in bound.items() if isinstance(value, ast.Constant) and value.value}
        return Scope({**self.texts, **{name: str(text) for name, text in own.items()}, **filled}, self.makers, bound)

    def given_by(self, maker: str) -> Scope:
        """The same in a function that makes words, of whose names nothing is known."""
        return Scope(self.texts, {name: made for name, made in self.makers.items() if name != maker}, {})


def _wordings(node: ast.expr, scope: Scope) -> list[str]:
    """All that a sentence may be, with its blanks."""
    match node:
        case ast.Constant(value=str() as text):
            return [text]
        case ast.JoinedStr(values=values):
            return _joined(values, scope)
        case ast.FormattedValue(value=value):
            return _wordings(value, scope) if isinstance(value, ast.Name) else [_blank(value)]
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return _joined((left, right), scope)
        case ast.Call(func=ast.Attribute(value=value, attr="rstrip")):
            return _wordings(value, scope)
        case ast.Call() if _called(node) in scope.makers:
            within = scope.given_by(_called(node))
            told = [words for made in scope.makers[_called(node)] for words in _wordings(made, within)]
            # What is no text, such as a path that may be given back instead.
            return [words for words in told if says_something(words)] or told
        case ast.BoolOp(values=values):
            return [words for value in values if isinstance(value, ast.Call) for words in _wordings(value, scope)]
        case ast.IfExp(body=body, orelse=other):
            return [*_wordings(body, scope), *_wordings(other, scope)]
        case ast.Name(id=name) if name in scope.texts:
            return [scope.texts[name]]
        case ast.Name(id=name) if (made := _call_in(scope.bound.get(name))) is not None and _called(made) in scope.makers:
            return _wordings(made, scope)
    return [_blank(node)]


def _call_in(value: ast.expr | None) -> ast.Call | None:
    """What is called for a value, if need be only sometimes."""
    called = value.body if isinstance(value, ast.IfExp) else value
    return called if isinstance(called, ast.Call) else None


def _joined(parts: Sequence[ast.expr], scope: Scope) -> list[str]:
    return ["".join(words) for words in product(*(_wordings(part, scope) for part in parts))]


def _blank(node: ast.expr) -> str:
    """‹what stands here›, by the last word of the expression that fills it."""
    parts = (part for part in ast.walk(node) if isinstance(part, ast.Name | ast.Attribute))
    names = [part.attr if isinstance(part, ast.Attribute) else part.id for part in parts]
    said = [name.strip("_") for name in names if name not in ("str", "join", "len", "sorted", "repr", "numbers", "self")]
    return f"‹{(said[0] if said else '…').replace('_', ' ').lower()}›"


def _called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def _given(function: ast.FunctionDef) -> list[ast.expr]:
    """What a function returns or yields, those in it left out."""
    values = [node.value for node in ast.walk(function) if isinstance(node, ast.Return | ast.Yield)]
    values += [node.value for node in ast.walk(function) if isinstance(node, ast.YieldFrom)]
    return [value for value in values if value is not None]


def _makes_texts(function: ast.FunctionDef) -> bool:
    return function.returns is not None and ast.unparse(function.returns) in ("str", "Iterable[str]", "Path | str")


def _texts_of(tree: ast.Module) -> dict[str, str]:
    """The names of a module that stand for a text."""
    plain = Scope({}, {}, {})
    return {
        node.targets[0].id: _wordings(node.value, plain)[0]
        for node in tree.body
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and (isinstance(node.value, ast.JoinedStr) or isinstance(getattr(node.value, "value", None), str))
    }


def _made_in(tree: ast.Module) -> dict[str, list[ast.expr]]:
    """The functions of a module that make sentences, no single words, and what each gives back."""
    functions = [node for node in tree.body if isinstance(node, ast.FunctionDef) and _makes_texts(node)]
    made = {function.name: _given(function) for function in functions}
    return {name: values for name, values in made.items() if any(_has_words(value) for value in values)}


def _has_words(value: ast.expr) -> bool:
    texts = (part.value for part in ast.walk(value) if isinstance(part, ast.Constant) and isinstance(part.value, str))
    return isinstance(value, ast.Call) or any(" " in text for text in texts)


def _error_makers(tree: ast.Module) -> dict[str, tuple[ast.FunctionDef, ast.Call]]:
    """The functions of a module that make an error of what they are given."""
    found = {}
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef) and isinstance(function.returns, ast.Name) and function.returns.id in KINDS:
            made = [node for node in ast.walk(function) if isinstance(node, ast.Call) and _called(node) in KINDS]
            found[function.name] = (function, made[0])
    return found


def _of_module(tree: ast.Module, scope: Scope) -> Iterator[tuple[str, str]]:
    """(kind, sentence) of every error that a module makes."""
    makers = _error_makers(tree)
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    for function in (function for function in functions if function.name not in makers):
        here = scope.inside(function, {})
        for node in (node for node in ast.walk(function) if isinstance(node, ast.Call) and node.args):
            if _called(node) in KINDS:
                yield from ((_called(node), words) for words in _wordings(node.args[0], here))
            elif _called(node) in makers:
                maker, made = makers[_called(node)]
                names = [argument.arg for argument in maker.args.args]
                filled = {name: _wordings(value, here)[0] for name, value in zip(names, node.args, strict=False)}
                inside = scope.inside(maker, filled)
                yield from ((_called(made), words) for words in _wordings(made.args[0], inside))


def _all_modules() -> list[tuple[ast.Module, bool]]:
    """Every module, and whether it names a kind of error at all: to go through its functions takes long."""
    paths = (path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py")))
    named = re.compile(rf"\b(?:{'|'.join(KINDS)})\b")
    return [(ast.parse(text), bool(named.search(text))) for text in (path.read_text(encoding="utf-8") for path in paths)]


def sentences() -> dict[str, list[str]]:
    """Every sentence by the kind of its error, each once, in the order of the alphabet; what is nothing but a blank, too: words
    that come from elsewhere."""
    told: dict[str, set[str]] = {kind: set() for kind in KINDS}
    modules = _all_modules()
    texts = {name: text for tree, _ in modules for name, text in _texts_of(tree).items() if not name.startswith("_")}
    wordings = [
        _made_in(ast.parse(path.read_text(encoding="utf-8")))
        for path in sorted(WORDING.glob("*.py"))
        if path.name != "numbers.py"
    ]
    public = {name: made for module in wordings for name, made in module.items()}
    for tree in (tree for tree, names_errors in modules if names_errors):
        scope = Scope({**texts, **_texts_of(tree)}, {**public, **_made_in(tree)}, {})
        for kind, words in _of_module(tree, scope):
            told[kind].add(" ".join(words.split()))
    return {kind: sorted(words) for kind, words in told.items()}


def says_something(words: str) -> bool:
    """Whether a sentence has a word of its own."""
    return any(letter.isalpha() for letter in re.sub("‹[^›]*›", "", words))


def page(told_by_kind: Mapping[str, Sequence[str]]) -> str:
    """The whole page of what sentences() gives."""
    parts = [_HEAD]
    plain = str.maketrans({"*": r"\*", "_": r"\_", "<": r"\<"})
    for kind, told in told_by_kind.items():
        words = [line for line in told if says_something(line)]
        if words:
            lines = "\n".join(f"- {line.translate(plain)}" for line in words)
            parts.append(f"## {KINDS[kind]}\n\n{lines}\n")
    return "\n".join(parts)


def main() -> None:
    """Write it."""
    with whole_file(PAGE, overwrite=True) as unfinished:
        unfinished.write_text(page(sentences()), encoding="utf-8", newline="\n")
    print(f"{PAGE} written.")


if __name__ == "__main__":
    main()
