"""The note beside the files: what is known, for people and for scripts."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from ..wording import hand_over as words
from ..wording import numbers
from ..write.files import whole_file


def write_note(note: dict[str, Any], folder: Path, *, overwrite: bool = False) -> None:
    """Write note.json and note.html. Raises OutputError when they are there or cannot be written."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    templates = FileSystemLoader(Path(__file__).with_name("templates"))
    environment = Environment(loader=templates, autoescape=True, undefined=StrictUndefined)
    environment.globals |= {"words": words, "numbers": numbers}
    known = [*note["measured_s"], *note["filled_s"], *note["unusable_s"]]
    duration = max((end for _, end in known), default=1.0)
    html = environment.get_template("note.html").render(note=note, duration=duration)
    with whole_file(folder / "note.json", overwrite=overwrite) as temporary:
        temporary.write_text(json.dumps(note, ensure_ascii=False, allow_nan=False, indent=1), encoding="utf-8")
    with whole_file(folder / "note.html", overwrite=overwrite) as temporary:
        temporary.write_text(html, encoding="utf-8")
