"""Made review folders and records for tests: values chosen by hand, nothing measured."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

#: Words that stand in every made review and must be gone after a deletion.
NOTE, WORDS = "Her left ankle was tired that week", "Heavy heels, little one"


def measured(
    value: float, *, fault: str = "heel-lifts-early", measure: str = "height", n: int = 3, **more: Any
) -> dict[str, Any]:
    """One entry of ``measured``."""
    return {
        "fault": fault, "measure": measure, "side": "left", "step": "turn en dehors", "n": n, "value": value,
        "worst": value + 2.123457, "sd": 2.5, "unit": "mm", "plus_minus": 4.2, "plus_minus_within_take": 3.3, "band": [0.0, 10.0],
        "outside": n if value > 10.0 else 0, "cannot_tell": None, **more,
    }  # fmt: skip


def make_folder(folder: Path, entries: list[dict[str, Any]], *, sha: str | None = None, **more: Any) -> Path:
    """A review folder by the contract, version 2, with one decision and one own correction."""
    folder.mkdir(parents=True, exist_ok=True)
    sha256 = hashlib.sha256((sha or str(folder)).encode()).hexdigest()
    mark = {
        "fault": "heel-lifts-early",
        "phase_kind": "turn",
        "side": "left",
        "start_s": 1.0,
        "peak_s": 1.1,
        "end_s": 1.2,
        "finding": "f1",
    }
    own = {
        "id": "o1",
        "words": "Breathe before the turn",
        "side": None,
        "start_s": 1.0,
        "peak_s": 1.0,
        "end_s": 1.5,
        "parts": ["head"],
    }
    judgement = {"mark": mark, "decision": "kept", "note": NOTE, "words": WORDS}
    data = {
        "format": "in-the-round/review", "version": 2, "profile": "intermediate",
        "take": {"file": f"{folder.name}.c3d", "sha256": sha256, "kind": "markers", "rate_hz": 240.0, "frames": 4800,
                 "duration_s": 20.0, "inferred": [], "warnings": []},
        "quality": {"verdict": "good", "reasons": [], "missing_fraction": 0.0, "markers": [], "events": []},
        "phases": [], "contacts": [], "findings": [], "unsure": [], "chains": [],
        "decisions": {"judgements": [judgement], "own": [own], "links": []},
        "measured": entries, "placement": None, "measures_version": "v1", **more,
    }  # fmt: skip
    (folder / "review.json").write_text(json.dumps(data), encoding="utf-8")
    return folder
