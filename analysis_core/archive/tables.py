"""The tables that people open: takes.csv and findings.csv."""

from __future__ import annotations

import csv
import sqlite3
from collections.abc import Iterable, Sequence
from pathlib import Path

from ..write.files import whole_file
from .ledger import Ledger

TAKES, FINDINGS = "takes.csv", "findings.csv"
_TAKE_COLUMNS = {
    "file": "path", "sha256": "sha256", "state": "state", "verdict": "verdict", "rate_hz": "rate_hz", "duration_s": "duration_s",
    "findings": "findings", "seconds": "seconds", "error": "error", "static": "static", "level": "level", "dancer": "dancer",
    "term": "term", "phrase": "phrase", "same_as": "same_as", "review": "review", "tries": "tries", "finished_at": "finished_at",
}  # fmt: skip
_FINDING_COLUMNS = (
    "take", "id", "fault", "measure", "phase", "side", "value", "unit", "plus_minus", "plus_minus_within_take", "low", "high",
    "severity", "grade", "confidence", "onset_s", "decision",
)  # fmt: skip


def _write(path: Path, columns: Sequence[str], rows: Iterable[sqlite3.Row]) -> None:
    with whole_file(path, overwrite=True) as temporary, temporary.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def write_tables(ledger: Ledger, out: Path) -> tuple[Path, Path]:
    """Write both tables anew, each whole; unknown values are empty. Takes that are no longer there are left out."""
    chosen = ", ".join(f"{column} AS {name}" for name, column in _TAKE_COLUMNS.items())
    takes = ledger.connection.execute(f"SELECT {chosen} FROM take WHERE state <> 'gone' ORDER BY path")
    _write(out / TAKES, list(_TAKE_COLUMNS), takes)
    columns = ", ".join(_FINDING_COLUMNS)
    findings = ledger.connection.execute(
        f"SELECT {columns} FROM finding WHERE take IN (SELECT path FROM take WHERE state = 'done') ORDER BY take, onset_s, id"
    )
    _write(out / FINDINGS, _FINDING_COLUMNS, findings)
    return out / TAKES, out / FINDINGS
