"""What a review folder says to the record, by the contract of review.json; the arrays are not read."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import ReviewError
from ..plain_data import Entries, entry

REVIEW_FILE = "review.json"
FORMAT = "in-the-round/review"
#: The newest review.json that is understood.
NEWEST = 2
#: What stands for the version of the measures in a review that was written before they had one.
NO_VERSION = "before versions"


@dataclass(frozen=True)
class ReviewedTake:
    """What a review says of its recording."""

    file: str
    sha256: str
    kind: str
    rate_hz: float | None = None
    frames: int | None = None
    duration_s: float | None = None


@dataclass(frozen=True)
class MeasuredEntry:
    """One entry of ``measured``, as in the contract."""

    fault: str
    n: int
    measure: str = ""
    side: str | None = None
    step: str = ""
    value: float | None = None
    worst: float | None = None
    sd: float | None = None
    unit: str = ""
    plus_minus: float | None = None
    plus_minus_within_take: float | None = None
    band: tuple[float | None, float | None] = (None, None)
    outside: int = 0
    cannot_tell: str | None = None


@dataclass(frozen=True)
class FoundEntry:
    """What of a finding says how bad a measured value was."""

    fault: str
    grade: str = ""
    side: str | None = None
    measure: str = ""
    phase: str | None = None


@dataclass(frozen=True)
class Judged:
    """What the teacher decided about a finding: fault and side of its mark, and the words."""

    mark: FoundEntry
    decision: str
    words: str = ""
    note: str = ""


@dataclass(frozen=True)
class Own:
    """A correction of the teacher's own."""

    side: str | None = None
    decision: str = "kept"
    words: str = ""
    note: str = ""


@dataclass(frozen=True)
class Decided:
    """All that the teacher decided."""

    judgements: tuple[Judged, ...] = ()
    own: tuple[Own, ...] = ()


@dataclass(frozen=True)
class Reviewed:
    """A review folder as read, whole and of the right types. sha256: of review.json itself; verdict: of the capture; level: whose
    bands were used; labels: of the markers; steps: the kind of each phase by its id; measured: empty for a review that was
    written before values inside the band were kept."""

    folder: Path
    sha256: str
    take: ReviewedTake
    verdict: str
    level: str
    placement: str | None
    measures_version: str
    labels: tuple[str, ...]
    steps: Mapping[str, str]
    measured: tuple[MeasuredEntry, ...]
    findings: tuple[FoundEntry, ...]
    decisions: Decided

    @property
    def files(self) -> tuple[Path, ...]:
        """Everything that lies in the folder."""
        return tuple(sorted(path for path in self.folder.rglob("*") if path.is_file()))


def _reviewed(folder: Path, data: Mapping[str, Any], sha256: str) -> Reviewed:
    quality = entry(data, "quality", Entries)
    lists: dict[str, Any] = {"markers": (), "phases": (), **quality, **data}
    markers, phases = (entry(lists, name, tuple[Entries, ...]) for name in ("markers", "phases"))
    told: dict[str, Any] = {"placement": None, "measured": None, "decisions": {}, "measures_version": None, "profile": "", **data}
    return Reviewed(
        folder=folder,
        sha256=sha256,
        take=entry(data, "take", ReviewedTake),
        verdict=entry(quality, "verdict", str),
        level=entry(told, "profile", str),
        placement=entry(told, "placement", str | None),
        measures_version=entry(told, "measures_version", str | None) or NO_VERSION,
        labels=tuple(entry(marker, "label", str) for marker in markers),
        steps={entry(phase, "id", str): entry(phase, "kind", str) for phase in phases},
        measured=entry(told, "measured", tuple[MeasuredEntry, ...] | None) or (),
        findings=entry(data, "findings", tuple[FoundEntry, ...]),
        decisions=entry(told, "decisions", Decided),
    )


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
        reviewed = _reviewed(folder.absolute(), data, hashlib.sha256(content).hexdigest())
    except (OSError, KeyError, TypeError, ValueError, RecursionError) as error:
        raise ReviewError(f"{path} is damaged ({error}). Review the take again.") from error
    if not reviewed.take.sha256:
        raise ReviewError(f"{path} does not say which recording it is of. Review the take again.")
    return reviewed


def _graded_fault(reviewed: Reviewed, row: MeasuredEntry) -> bool:
    """Whether one of the findings behind an entry of ``measured`` was graded a fault."""
    return any(
        finding.grade == "fault"
        and finding.fault == row.fault
        and finding.side == row.side
        and (finding.measure or row.measure) == row.measure
        and (not row.step or row.step.startswith(reviewed.steps.get(finding.phase or "", row.step)))
        for finding in reviewed.findings
    )


def measured_rows(reviewed: Reviewed) -> list[dict[str, Any]]:
    """One row for each group of (fault, measure, side, step) that the review measured, inside its band or not."""
    rows = []
    for one in reviewed.measured:
        told = {name: value for name, value in vars(one).items() if name != "band"}
        low, high = one.band
        as_fault = int(_graded_fault(reviewed, one))
        rows.append({**told, "side": one.side or "", "low": low, "high": high, "as_fault": as_fault})
    return rows


def decision_rows(reviewed: Reviewed) -> list[dict[str, Any]]:
    """What the teacher decided, said and noted about the take, one row each."""
    told: list[tuple[str, str | None, Judged | Own]] = []
    told += [(item.mark.fault, item.mark.side, item) for item in reviewed.decisions.judgements]
    told += [("own correction", item.side, item) for item in reviewed.decisions.own]
    return [
        {"fault": fault, "side": side or "", "decision": item.decision, "words": item.words, "note": item.note}
        for fault, side, item in told
    ]
