"""The note beside the files: what is known, for people and for scripts."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..wording import hand_over as words
from ..wording import numbers
from ..write.files import whole_file


def pages_of(note: dict[str, Any]) -> dict[str, str]:
    """The note as a page to read and as JSON: name of the file -> its text."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    templates = FileSystemLoader(Path(__file__).with_name("templates"))
    environment = Environment(loader=templates, autoescape=True, undefined=StrictUndefined)
    environment.globals |= {"words": words, "numbers": numbers}
    known = [*note["measured_s"], *note["filled_s"], *note["unusable_s"]]
    duration = max((end for _, end in known), default=1.0)
    html = environment.get_template("note.html").render(note=note, duration=duration)
    return {"note.json": json.dumps(note, ensure_ascii=False, allow_nan=False, indent=1), "note.html": html}


def write_note(pages: Mapping[str, str], folder: Path, *, overwrite: bool = False) -> None:
    """Write the pages of a note. Raises OutputError when they are there or cannot be written."""
    for name, text in pages.items():
        with whole_file(folder / name, overwrite=overwrite) as temporary:
            temporary.write_text(text, encoding="utf-8")
