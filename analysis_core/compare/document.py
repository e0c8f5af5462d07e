"""A comparison on disk: comparison.json."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from ..plain_data import plain
from ..write.files import whole_file
from .comparison import Comparison

FORMAT, VERSION = "in-the-round/comparison", 1
COMPARISON_FILE = "comparison.json"


def to_json(comparison: Comparison) -> dict[str, Any]:
    """The object of comparison.json: plain floats, null for what is unknown."""
    alignment = comparison.alignment
    a_s, b_s = alignment.path
    data = {
        "format": FORMAT,
        "version": VERSION,
        "a": asdict(comparison.a),
        "b": asdict(comparison.b),
        "same_markers": comparison.same_markers,
        "alignment": {
            "method": alignment.method,
            "landmarks": [asdict(landmark) for landmark in alignment.landmarks],
            "path": {"a_s": a_s.round(5).tolist(), "b_s": b_s.round(5).tolist()},
            "unmatched": [asdict(part) for part in alignment.unmatched],
            "matched": alignment.matched,
        },
        "differences": [asdict(difference) for difference in comparison.differences],
        "timing": [asdict(timing) for timing in comparison.timing],
        "findings": [asdict(change) for change in comparison.findings],
    }
    result: dict[str, Any] = plain(data)
    return result


def write_comparison(comparison: Comparison, folder: Path, *, overwrite: bool = False) -> Path:
    """Write comparison.json into a folder, whole or not at all; return its path.

    Raises OutputError when it is there already and ``overwrite`` is false.
    """
    path = folder / COMPARISON_FILE
    with whole_file(path, overwrite=overwrite) as temporary:
        temporary.write_text(json.dumps(to_json(comparison), ensure_ascii=False, indent=1, allow_nan=False), encoding="utf-8")
    return path
