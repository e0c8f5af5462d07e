"""From the archive into the dancers' record: what has consent, and a list of what has none."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ..errors import InTheRoundError
from ..record.dancers import dancer_of
from ..record.folders import read_folder
from ..record.store import Store
from ..record.takes import When, add_take
from .ledger import Ledger
from .run import REVIEWS


@dataclass(frozen=True)
class Entered:
    """added, there: takes. refused: path and reason. nobody: takes of which no archive.toml says whose they are."""

    added: int
    there: int
    refused: tuple[tuple[str, str], ...]
    nobody: int


def add_to_record(ledger: Ledger, store: Store, folder: Path, out: Path, *, today: date) -> Entered:
    """Add all reviewed takes that name a dancer with a consent that holds; each in a transaction of its own.

    The day of a take is that of its file: recordings do not say it.
    """
    added = there = nobody = 0
    refused = []
    secret = store.secret()
    for path, row in ledger.rows().items():
        if row["state"] != "done" or not row["review"]:
            continue
        if not row["dancer"]:
            nobody += 1
            continue
        take = (folder / path).absolute()
        when = When(date.fromtimestamp(row["mtime_ns"] / 1e9), term=row["term"], phrase=row["phrase"], recording=take)
        try:
            reviewed = read_folder(out / REVIEWS / row["review"])
            with store.begin() as connection:
                outcome = add_take(connection, dancer_of(connection, row["dancer"]), reviewed, when, secret=secret, today=today)
        except InTheRoundError as error:
            refused.append((path, str(error)))
            continue
        there += outcome == "there already"
        added += outcome != "there already"
    return Entered(added, there, tuple(refused), nobody)
