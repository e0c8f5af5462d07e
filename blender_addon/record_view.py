"""What was looked up in the record for the takes that are shown; kept in memory only, never in a Blender file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bpy

from . import saving
from .preferences import preferences
from .properties import DanceReviewState

if TYPE_CHECKING:
    from .analysis_core.record.followed import Series
    from .analysis_core.record.takes import TakeRow


@dataclass(frozen=True)
class Looked:
    """A dancer's takes and series, as found for one take; others: her takes but for that one, the latest first."""

    dancer: str
    takes: tuple[TakeRow, ...]
    others: tuple[TakeRow, ...]
    series: tuple[Series, ...]


#: Content hash of a take -> what was found for it.
_looked: dict[str, Looked] = {}


def open_record(context: bpy.types.Context) -> Any:
    """The record that the preferences name, opened. Raises InTheRoundError. Imported here: 0.3 s that only the record needs."""
    import bpy

    from .analysis_core.record.deletion import finish_deletions
    from .analysis_core.record.places import place_of
    from .analysis_core.record.store import open_store

    chosen = preferences(context)
    named = chosen.record_database if chosen is not None else ""
    place = place_of(named if "://" in named else Path(bpy.path.abspath(named)) if named else None)
    store = open_store(place)
    finish_deletions(store, date.today())
    return store


def found(state: DanceReviewState) -> Looked | None:
    """What was looked up for the take of a scene; None before."""
    return _looked.get(state.sha256)


def dancer_of(state: DanceReviewState) -> str | None:
    """The pseudonym of a scene's dancer; None when she was not looked up."""
    looked = found(state)
    return None if looked is None else looked.dancer


def look_up(context: bpy.types.Context, state: DanceReviewState) -> Looked:
    """Find the dancer of a scene's take, her takes and what changed. Raises InTheRoundError with what to do."""
    from .analysis_core.errors import RecordError
    from .analysis_core.record.dancers import dancer_of
    from .analysis_core.record.series import progress_of
    from .analysis_core.record.takes import dancers_of_take, takes_of

    _looked.pop(state.sha256, None)
    with open_record(context) as store, store.read() as connection:
        names = dancers_of_take(connection, state.sha256)
        if not names:
            raise RecordError("This take is not in the record yet. Add it first.")
        dancer = dancer_of(connection, names[0])
        report = progress_of(connection, dancer.id)
        takes = tuple(takes_of(connection, dancer.id))
    # Asked of the disk here, so that the panel need not ask on every redraw.
    here = str(saving.folder_of(state))
    others = tuple(take for take in reversed(takes) if take.folder != here)
    _looked[state.sha256] = Looked(names[0], takes, others, report.series)
    return _looked[state.sha256]


def series_of(looked: Looked, fault: str, side: str) -> list[Series]:
    """The series of one correction, those of its own side first."""
    of_fault = [item for item in looked.series if item.key.fault == fault]
    return sorted(of_fault, key=lambda item: item.key.side not in (side, ""))
