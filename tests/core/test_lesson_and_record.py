"""What a lesson takes from the record: a rung that was noted, and what became of it since."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from in_the_round.analysis_core.lesson.choose import goals_of
from in_the_round.analysis_core.lesson.dancers import Dancer, Need
from in_the_round.analysis_core.lesson.from_record import with_record
from in_the_round.analysis_core.lesson.library import product_library
from in_the_round.analysis_core.record.classes import keep_lesson, last_jumps, mastered_of, note_mastered
from in_the_round.analysis_core.record.dancers import dancer_of
from in_the_round.analysis_core.record.deletion import delete_dancer
from in_the_round.analysis_core.record.export import rows_of
from in_the_round.analysis_core.record.places import place_of
from in_the_round.analysis_core.record.store import Store, open_store

from . import test_record_store as record
from .made_record import make_folder, measured

TODAY, NAME, LIBRARY = record.TODAY, record.NAME, product_library()
NEED = Need("heel-lifts-early", 3, 4, "root", False, "fault", "Heels last.", None, None)
DANCER = Dancer(NAME, "t", "intermediate", (NEED,), phrase_s=20.0)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Store]:
    with open_store(place_of(tmp_path / "record.db"), today=TODAY) as store:
        record.consent(store)
        yield store


def start(store: Store, *more: Dancer) -> int:
    """The rung at which the class begins on the ladder of the heels."""
    dancers, _ = with_record((DANCER, *more), store, LIBRARY, TODAY)
    (goal,) = goals_of(dancers, LIBRARY, wanted=("heels",))
    return goal.start


def sessions(store: Store, folder: Path, values: dict[int, float]) -> None:
    for day, value in values.items():
        record.add(store, make_folder(folder / f"t{day}", [measured(value)]), day=TODAY + timedelta(days=day))


def test_the_newest_word_on_a_rung_counts(opened: Store) -> None:
    assert start(opened) == 1
    for rung in (3, 1):
        with opened.begin() as connection:
            note_mastered(connection, NAME, "heels", rung, TODAY)
    assert start(opened) == 2
    assert start(opened, replace(DANCER, name="not in the record")) == 1


def test_what_came_back_since_holds_one_rung_less(opened: Store, tmp_path: Path) -> None:
    """Found, held for two weeks, found again: a rung noted before that is not quite held; one noted afterwards is."""
    sessions(opened, tmp_path, {-60: 31.0, -50: 3.0, -36: 3.0})
    with opened.begin() as connection:
        note_mastered(connection, NAME, "heels", 3, TODAY - timedelta(days=30))
    assert start(opened) == 4
    sessions(opened, tmp_path, {-10: 31.0})
    assert start(opened) == 3
    with opened.begin() as connection:
        note_mastered(connection, NAME, "heels", 3, TODAY)
    assert start(opened) == 4


def test_rungs_and_classes_are_exported_and_go_with_the_dancer(opened: Store) -> None:
    with opened.begin() as connection:
        dancer = dancer_of(connection, NAME).id
        note_mastered(connection, NAME, "heels", 2, TODAY)
        keep_lesson(connection, [dancer], TODAY - timedelta(days=7), 24)
        keep_lesson(connection, [dancer], TODAY - timedelta(days=3), 30)
        keep_lesson(connection, [dancer], TODAY - timedelta(days=3), 28)
        assert last_jumps(connection, dancer, TODAY) == 28
        assert last_jumps(connection, dancer, date(2020, 1, 1)) is None
        assert mastered_of(connection, dancer)["heels"].rung == 2
        rows = rows_of(connection, dancer)
        assert ([row["jumps"] for row in rows["lesson"]], [row["rung"] for row in rows["mastered"]]) == ([24, 28], [2])
    assert delete_dancer(opened, NAME, reason="asked for", today=TODAY).clean
    assert (record.count(opened, "mastered"), record.count(opened, "lesson")) == (0, 0)
