"""One wording: numbers, units, ± and sentences for people are made in `analysis_core/wording` and nowhere else."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

#: A unit that stands behind a number, a number with decimals, and the sign of a ±: only `analysis_core/wording` writes them.
_UNIT = re.compile(r"[\s\u00a0]?(°|mm|cm|m|s|Hz|%|ms|MB|GB|body weights?|m/s)(?!\w)")
_DECIMALS = re.compile(r"[fgeEG%]$")
#: The same in the two older ways of filling something in: "%.1f" and "{:.1f}".
_OLDER_WAYS = re.compile(r"%[-+ #0]*\d*\.?\d*[fgeEG](?!\w)|\{\w*:[^{}]*[fgeEG%]\}")
#: What no person reads (files and requests of other programs, a number of Blender's), and texts that speak of every ± in general.
NO_WORDS_FOR_PEOPLE = {
    "analysis_core/archive/engine.py": 1,
    "analysis_core/archive/norms.py": 5,
    "analysis_core/record/export.py": 1,
    "analysis_core/write/bvh.py": 4,
    "blender_addon/state.py": 1,
}


@pytest.fixture(autouse=True, scope="module")
def _syntax_is_forgotten() -> Iterator[None]:
    """Millions of nodes would stay in the way of every other test of the process."""
    yield
    _nodes.cache_clear()


@cache
def _nodes(path: Path) -> list[ast.AST]:
    """All of a module's syntax, read once for all tests."""
    return list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def _docstrings(nodes: list[ast.AST]) -> set[int]:
    holders = [n for n in nodes if isinstance(n, (ast.Module, ast.ClassDef, ast.FunctionDef)) and n.body]
    return {id(n.body[0].value) for n in holders if isinstance(n.body[0], ast.Expr)}


def _formats_itself(text: ast.AST, docstrings: set[int]) -> bool:
    """Whether a string of a module writes a unit, decimals or a ± itself."""
    if isinstance(text, ast.Constant):
        said = text.value if isinstance(text.value, str) and id(text) not in docstrings else ""
        return "±" in said or bool(_OLDER_WAYS.search(said))
    if isinstance(text, ast.BinOp) and isinstance(text.op, ast.Add) and isinstance(text.right, ast.Constant):
        return isinstance(text.left, ast.Call) and bool(_UNIT.match(str(text.right.value)))
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
            docstrings = _docstrings(_nodes(path))
            count = sum(_formats_itself(node, docstrings) for node in _nodes(path))
            if count and not name.startswith("analysis_core/wording/"):
                found[name] = count
            if name.startswith("analysis_core/wording/") and name != "analysis_core/wording/numbers.py":
                assert not any(
                    _formats_itself(node, docstrings) for node in _nodes(path) if not isinstance(node, ast.Constant)
                ), name
        for path in (ROOT / folder).rglob("templates/*"):
            if re.search(r"""["']%[.\w]*["']\s*\|\s*format|\|\s*round""", path.read_text(encoding="utf-8")):
                found[path.relative_to(ROOT).as_posix()] = 1
    assert found == NO_WORDS_FOR_PEOPLE


#: No sentences: parts of errors that are put together before they are raised; what files of a format hold, how a page looks, a
#: pattern of labels; menu texts of the looks; names of a position and of a step; keys of the record and what it claims.
PUT_TOGETHER = {
    "analysis_core/archive/pages.py": 2,
    "analysis_core/body/calibration.py": 2,
    "analysis_core/clean/body_seen.py": 4,
    "analysis_core/figure/looks.py": 2,
    "analysis_core/findings/measured.py": 1,
    "analysis_core/lesson/fields.py": 1,
    "analysis_core/lesson/library.py": 10,
    "analysis_core/phrase/balances.py": 1,
    "analysis_core/record/deletion.py": 1,
    "analysis_core/record/progress.py": 1,
    "analysis_core/read/labels.py": 1,
    "analysis_core/record/store.py": 1,
    "analysis_core/review/folder.py": 1,
    "analysis_core/write/bvh.py": 3,
    "analysis_core/write/usd.py": 1,
}
#: A word of a sentence: of letters, with what may stand behind one; neither a tag nor a key of anything.
_WORD = re.compile(r"(?<![\w<>=\"'/#.*:@-])(?![A-Z]+\b)[a-zA-Z]{2,}(?=[ ,.:;?!)]|$)")


#: A declaration describes itself: what ``--help`` shows stands with its option; what a pointer over a button shows with its
#: class, its property or the items of a list; the label of a button where it is put into a panel.
_DESCRIPTIONS = ("help", "description", "metavar", "epilog")
_DECLARING = ("add_argument_group", "_Action", "Setting", "Choice")
_OF_COMMAND = ("HELP", "EXAMPLE")
_BUTTONS = ("operator", "operator_menu_enum", "prop")


def _called(node: ast.Call) -> str:
    """The last name of what is called."""
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def _declares(node: ast.AST) -> bool:
    """Whether a piece of syntax is a declaration, or raises: errors stand beside what raises them, in docs/errors.md."""
    match node:
        case ast.Raise():
            return True
        case ast.Call():
            return _called(node).endswith("Error") or _called(node) in _DECLARING
        case ast.FunctionDef(name=name):
            return name == "description"
        case ast.Tuple(elts=parts):
            return len(parts) >= 3 and all(isinstance(part, ast.Constant) for part in parts)
        case ast.Assign(targets=[ast.Name(id=name)]):
            return name in _OF_COMMAND or name.startswith("bl_")
    return False


def _describing(call: ast.Call) -> Iterator[ast.AST]:
    """What describes something in the call that declares it."""
    named = _called(call).endswith("Property")
    for given in call.keywords:
        label = given.arg == "text" and _called(call) in _BUTTONS and isinstance(given.value, ast.Constant)
        if given.arg in _DESCRIPTIONS or label or (named and given.arg == "name"):
            yield given.value


def _texts(nodes: list[ast.AST]) -> Iterator[str]:
    """The texts of a module but docstrings, declarations and what is raised; {} stands for what is filled in."""
    left_out = _docstrings(nodes)
    for node in nodes:
        declared = [node] if _declares(node) else [*_describing(node)] if isinstance(node, ast.Call) else []
        left_out |= {id(part) for piece in declared for part in ast.walk(piece)}
        if isinstance(node, ast.JoinedStr):
            left_out |= {id(part) for part in node.values if isinstance(part, ast.Constant)}
    for node in nodes:
        if id(node) in left_out:
            continue
        if isinstance(node, ast.JoinedStr):
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


#: How what a database is asked begins.
_ASKED = ("SELECT ", "INSERT ", "UPDATE ", "DELETE ", "CREATE ", "PRAGMA ", "VACUUM ")
#: How the axes of a product of arrays are named.
_SUBSCRIPTS = re.compile(r"[a-z.,]+->[a-z.]*")


def _is_sentence(text: str, beside: int) -> bool:
    """Whether a text speaks to people: five words, or two and a full stop, or ``beside`` words with something filled in."""
    words = len(_WORD.findall(text))
    whole = words >= 5 or (words >= 2 and text.rstrip().endswith("."))
    asked = text.lstrip().startswith(_ASKED) or _SUBSCRIPTS.fullmatch(text)
    return not asked and (whole or ("{}" in text and words >= beside))


def test_sentences_are_made_in_one_place() -> None:
    """Catches a sentence for people that a module makes itself: it could not be translated with the others."""
    found: dict[str, int] = {}
    for path in sorted((ROOT / "analysis_core").rglob("*.py")):
        count = sum(_is_sentence(text, beside=2) for text in _texts(_nodes(path)))
        if count and path.parent.name != "wording":
            found[path.relative_to(ROOT).as_posix()] = count
    assert found == PUT_TOGETHER


#: Who speaks to people in the command line and the add-on: what is handed to these is never written there and then.
_SPEAKING = ("print", "write", "note", "progress", "result", "report", "getpass", "input")
_SPEAKING += ("poll_message_set", "status_text_set", "sentence")  # the add-on's, beside report
#: The shells around the core, and what in them is no sentence: names of objects, curves and collections in a Blender file, by
#: which they are found again; paths of their properties; names of files and folders.
SHELLS: dict[str, dict[str, int]] = {
    "command_line": {},
    "blender_addon": {
        "operators/landmarks.py": 1,
        "operators/open.py": 1,
        "scene/aids.py": 7,
        "scene/armature.py": 1,
        "scene/build.py": 1,
        "scene/captions.py": 2,
        "scene/drawing.py": 2,
        "scene/figure.py": 3,
        "scene/film_stage.py": 4,
        "scene/film_words.py": 9,
        "scene/hand_over.py": 2,
        "scene/measure_drawn.py": 5,
        "scene/page_pictures.py": 1,
        "scene/second_dancer.py": 1,
        "scene/severity.py": 2,
        "scene/turntable.py": 5,
        "state.py": 1,
    },
}


def _spoken(nodes: list[ast.AST]) -> Iterator[str]:
    """Texts, of one word even, that are handed to who speaks."""
    for call in nodes:
        if isinstance(call, ast.Call) and _called(call) in _SPEAKING:
            for given in (*call.args, *(keyword.value for keyword in call.keywords)):
                if isinstance(given, ast.Constant) and isinstance(given.value, str):
                    yield given.value


def _speaks(nodes: list[ast.AST]) -> int:
    """How many sentences a module of a shell makes itself."""
    made = sum(_is_sentence(text, beside=1) for text in _texts(nodes))
    return made + sum(bool(_WORD.search(text)) for text in _spoken(nodes))


@pytest.mark.parametrize("shell", SHELLS)
def test_the_shells_say_only_what_the_core_words(shell: str) -> None:
    """Catches a line that a command prints, or a report of the add-on, that does not come from the wording of the core."""
    found = {path.relative_to(ROOT / shell).as_posix(): _speaks(_nodes(path)) for path in sorted((ROOT / shell).rglob("*.py"))}
    assert {name: count for name, count in found.items() if count} == SHELLS[shell]


class _Page(HTMLParser):
    """What a template says by itself: the texts between its elements, and those of attributes that are read out."""

    _READ_OUT = frozenset(("alt", "title", "placeholder", "label", "aria-label", "aria-description", "aria-valuetext"))

    def __init__(self, text: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self._inside: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._inside.append(tag)
        self.said += [told for name, told in attrs if told and name in self._READ_OUT]

    def handle_endtag(self, tag: str) -> None:
        while self._inside and self._inside.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not {"script", "style"} & set(self._inside):
            self.said.append(data)


def _said_by_template(text: str) -> list[str]:
    """Words of a template that come from no value: texts, and sentences that its own expressions hold."""
    pieces = re.findall(r"\{\{.*?\}\}|\{%.*?%\}", text, flags=re.DOTALL)
    held = [word for piece in pieces for word in re.findall(r'"([^"]*)"', piece) if re.search(r"[a-z]{2,} [a-z]", word)]
    # What is filled in goes; where it is the name of an element, another stands for it.
    without = re.sub(r"\{\{.*?\}\}|\{%.*?%\}", "", re.sub(r"(</?)\{\{.*?\}\}", r"\1b", text), flags=re.DOTALL)
    return held + [told for told in _Page(without).said if re.search(r"[^\W\d_]{2,}", told)]


def test_templates_have_no_words_of_their_own() -> None:
    """Pages that are written say nothing but what they are given. Catches a heading or a button that stands in a template."""
    pages = sorted((ROOT / "analysis_core").rglob("templates/*.[hm]*"))
    assert len(pages) >= 4
    assert {path.name: said for path in pages if (said := _said_by_template(path.read_text(encoding="utf-8")))} == {}


#: Texts of the viewer's scripts: quoted, or between accents, of which the shaders' are no words.
_QUOTED = re.compile(r""""((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`""")
_SHADER = re.compile(r"#include|\bvec[234]\b|\bfloat\b|;\s*$")
#: Names of keys on a keyboard begin with a capital, as what is shown does.
_KEYS = ("Arrow",)


def test_the_viewer_of_the_page_has_no_words_of_its_own() -> None:
    """What the 3-D dancer's script shows stands in the page that it is part of. Catches a label that the script sets itself."""
    scripts = sorted((ROOT / "page_viewer" / "src").glob("*.js"))
    assert len(scripts) >= 5
    found = []
    for path in scripts:
        code = re.sub(r"^\s*//.*$", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
        texts = [quoted or between for quoted, between in _QUOTED.findall(code)]
        said = [text for text in texts if re.match(r"[A-Z][a-z]", text) or re.search(r"[a-z]{2,} (of|in|to|on|is|at) ?", text)]
        found += [f"{path.name}: {text}" for text in said if not _SHADER.search(text) and not text.startswith(_KEYS)]
    assert found == []
