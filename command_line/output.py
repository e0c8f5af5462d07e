"""What commands say: text for people, one JSON object for scripts, progress on a terminal only."""

from __future__ import annotations

import codecs
import io
import json
import sys
import textwrap
from typing import TYPE_CHECKING, Any

from ..analysis_core.wording import told
from ..analysis_core.wording.numbers import percent

if TYPE_CHECKING:
    from ..analysis_core.take import Inference


#: Letters in a line of a terminal that nobody has made wider.
COLUMNS = 80


def folded(text: str) -> list[str]:
    """The lines of a text, each on as many as the screen needs; a command to type stays on one, so that it can be copied."""
    lines = []
    for line in text.split("\n"):
        words = line.lstrip()
        if len(line) <= COLUMNS or words.startswith("in-the-round "):
            lines.append(line)
            continue
        hanging = " " * (len(line) - len(words) + 4)
        lines += textwrap.wrap(line, COLUMNS, subsequent_indent=hanging, break_on_hyphens=False, break_long_words=False)
    return lines


def speak_any_text() -> None:
    """Let standard output and error take every text, whatever the locale: a plain C one knows neither accents nor arrows."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            try:
                is_ascii = codecs.lookup(stream.encoding).name == "ascii"
            except LookupError:
                is_ascii = True
            if is_ascii:
                # As Python itself does for a C locale when nobody forbids it; file names come back byte by byte.
                stream.reconfigure(encoding="utf-8", errors="surrogateescape")
            else:
                stream.reconfigure(errors="backslashreplace")


class Output:
    """Where a command speaks. With ``as_json`` nothing but the final object goes to standard output."""

    def __init__(self, *, as_json: bool) -> None:
        self.as_json = as_json
        self._watched = sys.stderr.isatty() and not as_json
        self._open_line = False
        if as_json and hasattr(sys.stdout, "reconfigure"):
            sys.stdout.reconfigure(encoding="utf-8", errors="surrogateescape")

    def progress(self, doing: str, share: float | None = None) -> None:
        """Show what is being done and how far it is (0 to 1); nothing when nobody watches."""
        if not self._watched:
            return
        amount = "" if share is None else f" {percent(share):>5}"
        sys.stderr.write(f"\r\x1b[K{doing}{amount}")
        sys.stderr.flush()
        self._open_line = True

    def clear(self) -> None:
        """Take the progress line away."""
        if self._open_line:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
            self._open_line = False

    def note(self, text: str) -> None:
        """Something worth knowing that is not the result."""
        self.clear()
        print(text, file=sys.stderr)

    def result(self, data: dict[str, Any], text: str) -> None:
        """The outcome of a command: the object for scripts, or the text for people."""
        self.clear()
        print(json.dumps(data, ensure_ascii=False, allow_nan=False) if self.as_json else "\n".join(folded(text)))


def inferred_text(inferred: tuple[Inference, ...]) -> list[str]:
    """Lines that say as what a recording was read, and why."""
    return [told.READ_AS, *(f"  {item.what}: {item.value} ({item.why})" for item in inferred)] if inferred else []
