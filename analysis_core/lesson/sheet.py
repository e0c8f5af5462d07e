"""The class sheet: which dancer works on what; no ranking, no colours, no values."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ..findings.catalogue import catalogue
from ..wording.names import fault_title
from .dancers import Dancer
from .planned import Lesson

#: So many corrections fit a sheet that is read at a glance; so many are one dancer's work of one day.
MOST_COLUMNS, MOST_TODAY = 8, 2
#: In smaller groups nobody counts who shares what: it would name the dancer.
LEAST_FOR_SUMS = 3
Cell = Literal["today", "later", "held", ""]
SIGNS: dict[Cell, str] = {"today": "●", "later": "○", "held": "✓", "": ""}


@dataclass(frozen=True)
class Column:
    """A correction that is shared. shared: by how many, None in a group too small for it to be said."""

    fault: str
    title: str
    cue: str
    shared: int | None


@dataclass(frozen=True)
class Sheet:
    """Dancers in the order of the class list against corrections. good: what goes well for everyone."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, tuple[Cell, ...]], ...]
    good: tuple[str, ...]


def _cells(dancer: Dancer, columns: Sequence[str], today: Sequence[str]) -> tuple[Cell, ...]:
    work = [need.fault for need in dancer.needs if need.fault in today and need.weight > 0][:MOST_TODAY]
    later = {need.fault for need in dancer.needs}

    def cell(fault: str) -> Cell:
        return "today" if fault in work else "later" if fault in later else "held" if fault in dancer.held else ""

    return tuple(cell(fault) for fault in columns)


def class_sheet(lesson: Lesson) -> Sheet | None:
    """The sheet of a group; None for one dancer alone.

    What a take cannot tell stays blank, as what there is nothing to say about.
    """
    dancers = lesson.dancers
    if len(dancers) < 2:
        return None
    count = Counter(fault for dancer in dancers for fault in {need.fault for need in dancer.needs} | dancer.held)
    needing = Counter(need.fault for dancer in dancers for need in dancer.needs)
    order = list(catalogue())
    sums = len(dancers) >= LEAST_FOR_SUMS
    # What one of several has alone is a line of her own, not a column in which she stands alone.
    shared = [fault for fault in count if count[fault] > 1 or not sums]
    today = [fault for goal in lesson.goals for fault in goal.ladder.main]
    # Today's work stands first: a goal of the class without a column would be nobody's.
    shown = sorted(shared, key=lambda fault: (fault not in today, -count[fault], order.index(fault)))[:MOST_COLUMNS]
    columns = []
    for fault in shown:
        entry = catalogue()[fault]
        columns.append(
            Column(fault, fault_title(fault), entry.cue_young if lesson.young else entry.cue, needing[fault] if sums else None)
        )
    good = frozenset.intersection(*(dancer.good for dancer in dancers))
    return Sheet(
        columns=tuple(columns),
        rows=tuple((d.name, _cells(d, shown, today)) for d in dancers),
        good=tuple(catalogue()[fault].cue for fault in order if fault in good)[:3],
    )


@dataclass(frozen=True)
class OwnLine:
    """What dancers do inside a common exercise, said once for all who do the same. fault None: the teacher's own correction."""

    dancers: tuple[str, ...]
    fault: str | None
    cue: str
    inside: str


def own_lines(lesson: Lesson) -> tuple[OwnLine, ...]:
    """The individual work of a class, a line for each thing that is said, in the order of the class list."""
    names: dict[tuple[str | None, str, str], list[str]] = {}
    for own in lesson.own_work:
        names.setdefault((own.fault, own.cue, own.inside), []).append(own.dancer)
    return tuple(OwnLine(tuple(dancers), *said) for said, dancers in names.items())
