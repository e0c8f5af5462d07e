"""What a teacher changed in a plan: read from the saved file, and put into the plan that is made anew."""

from __future__ import annotations

import html.parser
import json
import re
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ..errors import OutputError
from ..wording import lesson as say
from .planned import Lesson, PlannedExercise

FORMAT, VERSION = "in-the-round/lesson", 1
#: Key of the free notes, and what stands before the key of a text whose place is no longer in the plan.
NOTES, LEFT = "notes", "left:"
#: Fields of an exercise that are said by the plan; a change stays only while the plan says the same as before.
NUMBERS = ("minutes", "music", "jumps", "sides")
_SPOKEN = ("name", "how", "cue", "feel", "watch")
_OPENS, _CLOSES = f"<!-- {FORMAT} ", " -->"
_KEY = re.compile(r"<!-- @(\S+) -->\s*$")


def clean(text: str) -> str:
    """A text without the white space that browsers and editors change."""
    lines = (" ".join(line.split()) for line in text.replace("\xa0", " ").split("\n"))
    return "\n".join(line for line in lines if line)


@dataclass(frozen=True)
class Edits:
    """Texts that the teacher changed, by key, and what the plan had proposed for every key."""

    texts: Mapping[str, str] = field(default_factory=dict)
    proposed: Mapping[str, str] = field(default_factory=dict)


def mark(text: str) -> str:
    """A short key for a text that has no name of its own."""
    return _check(text)


class Words:
    """Gives a form of the plan its texts, the teacher's in place of the proposed ones, and remembers both."""

    def __init__(self, edits: Edits) -> None:
        self.edits = edits
        self.proposed: dict[str, str] = {}
        self.before: dict[str, str] = {}
        self.kept: set[str] = set()

    def say(self, key: str, text: str) -> str:
        """What stands at a place of the plan. A number of the plan's that has changed goes before the teacher's."""
        self.proposed[key] = text
        mine = self.edits.texts.get(key, self.edits.texts.get(LEFT + key))
        moved = key.rpartition(":")[2] in NUMBERS and clean(self.edits.proposed.get(key, "")) != clean(text)
        if mine is None or moved:
            return text
        self.kept.add(key)
        return mine

    def line(self, key: str, text: str, before: str = "- ") -> str:
        """A line of Markdown with a text in it; the key at its end is not seen where Markdown is shown."""
        last = key.rpartition(":")[2]
        self.before[key] = before + (f"{say.LABELS[last]}: " if last in say.LABELS else "")
        return f"{self.before[key]}{' '.join(self.say(key, text).split())} <!-- @{key} -->"

    def left(self) -> list[tuple[str, str]]:
        """The teacher's texts whose place is not in this plan; asked last, when every place was said."""
        remaining = {key.removeprefix(LEFT): text for key, text in self.edits.texts.items()}
        found = [(LEFT + key, text) for key, text in remaining.items() if key not in self.kept and text]
        self.proposed |= {key: "" for key, _ in found}
        return found


def data_of(plan: Mapping[str, Any], words: Words, lines: Sequence[str] = ()) -> str:
    """The plan and its proposed texts as they stand in the file, safe in HTML and in a comment.

    lines: of a Markdown file; their checks tell a teacher's own lines from the plan's.
    """
    data: dict[str, Any] = {"format": FORMAT, "version": VERSION, "plan": plan, "texts": words.proposed}
    if lines:
        data |= {"before": words.before, "lines": [_check(line) for line in lines]}
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _check(line: str) -> str:
    return f"{zlib.crc32(clean(line).encode()):08x}"


class _Reader(html.parser.HTMLParser):
    """Gathers the texts of all elements with a key, and the data of the plan."""

    _VOID = frozenset(("br", "img", "meta", "link", "hr", "input", "wbr", "col"))
    _BREAKS = frozenset(("br", "div", "p", "li"))

    def __init__(self) -> None:
        super().__init__()
        self.texts: dict[str, str] = {}
        self.data = ""
        self._key: str | None = None
        self._depth = 0
        self._in_data = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if self._key is not None:
            self._depth += tag not in self._VOID
            if tag in self._BREAKS:
                self.texts[self._key] += "\n"
        elif given.get("data-key"):
            self._key, self._depth = str(given["data-key"]), 1
            self.texts[self._key] = ""
        self._in_data = tag == "script" and given.get("type") == "application/json"

    def handle_endtag(self, tag: str) -> None:
        self._in_data = False
        if self._key is not None and tag not in self._VOID:
            self._depth -= 1
            if self._depth == 0:
                self._key = None

    def handle_data(self, data: str) -> None:
        if self._in_data:
            self.data += data
        elif self._key is not None:
            self.texts[self._key] += data


def _from_html(text: str) -> tuple[dict[str, Any], dict[str, str]]:
    reader = _Reader()
    reader.feed(text)
    reader.close()
    return json.loads(reader.data), reader.texts


def _from_markdown(text: str) -> tuple[dict[str, Any], dict[str, str]]:
    body, _, tail = text.partition(_OPENS)
    data = json.loads(tail.rpartition(_CLOSES)[0])
    texts, known, own = {}, set(data["lines"]), []
    for line in body.split("\n"):
        found = _KEY.search(line)
        if found:
            said, before = line[: found.start()].strip(), str(data["before"].get(found[1], "")).strip()
            texts[found[1]] = said.removeprefix(before).strip() if said.startswith(before) else said.lstrip("#-* ")
        elif clean(line) and _check(line) not in known:
            own.append(line.strip())
    if own:
        texts[NOTES] = "\n".join(filter(None, [texts.get(NOTES, ""), *own]))
    return data, texts


def comment_of(data: str) -> str:
    """The plan's data as the last line of a Markdown file."""
    return f"{_OPENS}{data}{_CLOSES}"


def read_edits(path: Path) -> Edits:
    """What the teacher changed in a plan that was saved; nothing when the file is none of ours.

    Raises OutputError when the plan in it cannot be read any more, so that no change is lost in silence.
    """
    try:
        text = path.read_text(encoding="utf-8")
        if FORMAT not in text:
            return Edits()
        data, texts = _from_markdown(text) if path.suffix.lower() == ".md" else _from_html(text)
        proposed = {str(key): str(value) for key, value in data["texts"].items()}
    except (OSError, ValueError, KeyError, AttributeError, TypeError) as error:
        raise OutputError(
            f"{path} holds a plan whose changes cannot be read any more ({error}). Give another name with --out; this file stays."
        ) from error
    changed = {key: clean(said) for key, said in texts.items() if clean(said) != clean(proposed.get(key, ""))}
    return Edits(changed, proposed)


def _edited(exercise: PlannedExercise, words: Words) -> PlannedExercise:
    said: dict[str, Any] = {name: words.say(f"ex:{exercise.id}:{name}", getattr(exercise, name)) for name in _SPOKEN}
    # An exercise keeps one cue: where the teacher rubbed it out, the proposed one counts for scripts.
    return replace(exercise, **{name: text for name, text in said.items() if text})


def with_edits(lesson: Lesson, edits: Edits) -> Lesson:
    """The plan with the teacher's words in its exercises."""
    words = Words(edits)
    blocks = tuple(replace(block, exercises=tuple(_edited(e, words) for e in block.exercises)) for block in lesson.blocks)
    return replace(lesson, blocks=blocks)
