"""What a review folder says to the record, by the contract of review.json; the arrays are not read."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import ReviewError

REVIEW_FILE = "review.json"
FORMAT = "in-the-round/review"
#: The newest review.json that is understood.
NEWEST = 2
#: What stands for the version of the measures in a review that was written before they had one.
NO_VERSION = "before versions"


@dataclass(frozen=True)
class Reviewed:
    """A review folder as read. sha256: of review.json itself; data: its object."""

    folder: Path
    sha256: str
    data: Mapping[str, Any]

    @property
    def take(self) -> Mapping[str, Any]:
        """The object about the take."""
        found: Mapping[str, Any] = self.data["take"]
        return found

    @property
    def measures_version(self) -> str:
        """By what measures and bands it was made."""
        return str(self.data.get("measures_version") or NO_VERSION)

    @property
    def files(self) -> tuple[Path, ...]:
        """Everything that lies in the folder."""
        return tuple(sorted(path for path in self.folder.rglob("*") if path.is_file()))


def read_folder(folder: Path) -> Reviewed:
    """Read review.json of a folder. Raises ReviewError when it is missing, damaged or newer."""
    path = folder / REVIEW_FILE
    if not path.is_file():
        raise ReviewError(f"{folder} holds no {REVIEW_FILE}. Make it with: in-the-round review TAKE --out {folder}")
    try:
        content = path.read_bytes()
        data = json.loads(content)
        if data["format"] != FORMAT or data["version"] > NEWEST:
            raise ReviewError(f"{path} is not a review that this version can read. Review the take again.")
        sha = data["take"]["sha256"]
        if not isinstance(sha, str) or not sha:
            raise ReviewError(f"{path} does not say which recording it is of. Review the take again.")
        _ = data["findings"], data["quality"]["verdict"], data["take"]["file"], data["take"]["kind"]
    except (OSError, KeyError, TypeError, ValueError) as error:
        raise ReviewError(f"{path} is damaged ({error}). Review the take again.") from error
    return Reviewed(folder.absolute(), hashlib.sha256(content).hexdigest(), data)


def _graded_fault(data: Mapping[str, Any], entry: Mapping[str, Any]) -> bool:
    """Whether one of the findings behind an entry of ``measured`` was graded a fault."""
    kinds = {phase["id"]: phase["kind"] for phase in data.get("phases", ())}
    step = str(entry.get("step") or "")
    return any(
        finding.get("grade") == "fault"
        and finding["fault"] == entry["fault"]
        and finding.get("side") == entry.get("side")
        and (finding.get("measure") or entry["measure"]) == entry["measure"]
        and (not step or step.startswith(kinds.get(finding.get("phase"), step)))
        for finding in data["findings"]
    )


def measured_rows(reviewed: Reviewed) -> list[dict[str, Any]]:
    """One row for each group of (fault, measure, side, step) that the review measured, inside its band or not.

    Empty for a review that was written before values inside the band were kept. Raises ReviewError when an entry is damaged.
    """
    rows = []
    try:
        for entry in reviewed.data.get("measured") or ():
            low, high = entry.get("band") or (None, None)
            rows.append(
                {
                    "fault": entry["fault"],
                    "measure": entry.get("measure") or "",
                    "side": entry.get("side") or "",
                    "step": entry.get("step") or "",
                    "n": int(entry["n"]),
                    "value": entry.get("value"),
                    "worst": entry.get("worst"),
                    "sd": entry.get("sd"),
                    "unit": entry.get("unit") or "",
                    "plus_minus": entry.get("plus_minus"),
                    "plus_minus_within_take": entry.get("plus_minus_within_take"),
                    "low": low,
                    "high": high,
                    "outside": int(entry.get("outside") or 0),
                    "as_fault": int(_graded_fault(reviewed.data, entry)),
                    "cannot_tell": entry.get("cannot_tell"),
                }
            )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ReviewError(f"{reviewed.folder / REVIEW_FILE} is damaged (measured: {error}). Review the take again.") from error
    return rows


def decision_rows(reviewed: Reviewed) -> list[dict[str, Any]]:
    """What the teacher decided, said and noted about the take, one row each."""
    decisions = reviewed.data.get("decisions") or {}
    rows = [
        {
            "fault": item["mark"]["fault"],
            "side": item["mark"].get("side") or "",
            "decision": item["decision"],
            "words": item.get("words") or "",
            "note": item.get("note") or "",
        }
        for item in decisions.get("judgements", ())
    ]
    rows += [
        {
            "fault": "own correction",
            "side": item.get("side") or "",
            "decision": item.get("decision") or "kept",
            "words": item.get("words") or "",
            "note": item.get("note") or "",
        }
        for item in decisions.get("own", ())
    ]
    return rows
