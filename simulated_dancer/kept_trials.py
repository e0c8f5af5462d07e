"""Trials of the programme that were run, each kept in a file of its own, so that a run that was cut off goes on.

A folder holds one state of the program only: what is kept there is not run again.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from .judged import Judged
from .programme import Job


@dataclass(frozen=True)
class Ran:
    """One trial that was run. roots: the first faults of the program's chains."""

    group: str
    name: str
    place: int
    built: tuple[str, ...]
    judged: Judged
    roots: tuple[str, ...]


def _run(place: int, job: Job) -> Ran:
    """Run one trial of a programme."""
    outcome = job.run()
    names = {finding.id: finding.fault for finding in outcome.review.findings}
    roots = tuple(names[chain[0]] for chain in outcome.review.chains)
    return Ran(job.group, job.name, place, tuple(fault.fault for fault in job.faults), outcome.judged, roots)


def ran_or_kept(numbered: tuple[int, Job], folder: Path | None) -> Ran:
    """One trial of a programme from a folder, or run and kept there."""
    place, job = numbered
    file = folder / f"{place}.pickle" if folder else None
    if file and file.exists():
        return _read(file)
    told = _run(place, job)
    if file:
        file.write_bytes(pickle.dumps(told))
    return told


def _read(file: Path) -> Ran:
    told = pickle.loads(file.read_bytes())
    if not isinstance(told, Ran):
        raise ValueError(f"{file} holds no trial that was kept")
    return told


def kept_in(folders: Iterable[Path]) -> list[Ran]:
    """The trials that were kept in some folders."""
    return [_read(file) for folder in folders for file in sorted(folder.glob("*.pickle"), key=lambda file: int(file.stem))]
