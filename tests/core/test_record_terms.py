"""One term against another, from the record: what is said, and above all what is not."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.errors import RecordError
from in_the_round.analysis_core.record.dancers import Given, dancer_of, give_consent
from in_the_round.analysis_core.record.folders import read_folder
from in_the_round.analysis_core.record.goals import set_goal
from in_the_round.analysis_core.record.places import place_of
from in_the_round.analysis_core.record.store import Store, open_store
from in_the_round.analysis_core.record.takes import When, add_take
from in_the_round.analysis_core.record.terms import Better, better_than_last_term, compare_terms, terms_of, two_terms

from .made_record import make_folder, measured

TODAY, NAME = date(2027, 6, 1), "amber-heron"
SPRING, SUMMER = date(2027, 2, 1), date(2027, 5, 1)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Store]:
    with open_store(place_of(tmp_path / "record.db"), today=TODAY) as record:
        with record.begin() as connection:
            give_consent(connection, NAME, Given(until=TODAY + timedelta(days=99), assent="yes"), TODAY)
        yield record


def add(record: Store, folder: Path, day: date, term: str) -> str:
    """The sha256 of the take that was added."""
    secret = record.secret()
    reviewed = read_folder(folder)
    with record.begin() as connection:
        add_take(connection, dancer_of(connection, NAME), reviewed, When(day, term=term), secret=secret, today=TODAY)
    return reviewed.take.sha256


def test_better_than_in_spring(opened: Store, tmp_path: Path) -> None:
    """31 to 12 mm is shown; 31 to 27 is within what measuring makes (record.md 7: smallest detectable change 6 mm)."""
    entries = (("heel-lifts-early", 31.0, 12.0), ("heels-lift-in-plie", 31.0, 27.0))
    add(opened, make_folder(tmp_path / "a", [measured(one, fault=fault) for fault, one, _ in entries]), SPRING, "spring")
    take = add(opened, make_folder(tmp_path / "b", [measured(two, fault=fault) for fault, _, two in entries]), SUMMER, "summer")
    with opened.read() as connection:
        dancer = dancer_of(connection, NAME).id
        assert terms_of(connection, dancer) == ("spring", "summer")
        assert two_terms(connection, dancer) == ("spring", "summer")
        report = compare_terms(connection, dancer, "spring", "summer")
        assert {item.key.fault: item.claim for item in report.series} == {
            "heel-lifts-early": "may be better",
            "heels-lift-in-plie": None,
        }
        assert better_than_last_term(connection, take) == (Better("heel-lifts-early", "left", "turn en dehors", "spring"),)
        assert better_than_last_term(connection, "0" * 64) == ()
        with pytest.raises(RecordError, match="spring, summer"):
            two_terms(connection, dancer, "winter")


@pytest.mark.parametrize("more", [{"n": 1}, {"plus_minus": 40.0, "plus_minus_within_take": 40.0}, {"band": [0.0, 99.0]}])
def test_nothing_is_promised_that_is_not_shown(opened: Store, tmp_path: Path, more: dict[str, object]) -> None:
    """One try each, a wide ±, inside the band both times: not a word, though the numbers fell from 31 to 12."""
    add(opened, make_folder(tmp_path / "a", [measured(31.0, **more)]), SPRING, "spring")
    take = add(opened, make_folder(tmp_path / "b", [measured(12.0, **more)]), SUMMER, "summer")
    with opened.read() as connection:
        assert better_than_last_term(connection, take) == ()


def test_a_goal_is_not_compared_with_the_take_that_chose_it(opened: Store, tmp_path: Path) -> None:
    """One session in spring, in which the goal was set: nothing to compare. With a second one before it: better."""
    add(opened, make_folder(tmp_path / "a", [measured(31.0)]), SPRING, "spring")
    with opened.begin() as connection:
        set_goal(connection, NAME, "heel-lifts-early", "left", SPRING)
    take = add(opened, make_folder(tmp_path / "b", [measured(12.0)]), SUMMER, "summer")
    with opened.read() as connection:
        assert better_than_last_term(connection, take) == ()
    add(opened, make_folder(tmp_path / "c", [measured(30.0)]), SPRING - timedelta(days=9), "spring")
    with opened.read() as connection:
        assert [item.since for item in better_than_last_term(connection, take)] == ["spring"]


def test_dancers_who_did_not_change(opened: Store, tmp_path: Path) -> None:
    """Twenty corrections, each with a spread of its own around an unchanged 20 mm: at most one is called better by chance."""
    chance = np.random.default_rng(5)

    def entries() -> list[dict[str, object]]:
        values = chance.normal(20, 4, (20, 4)) + chance.normal(0, 1.3, (20, 1))
        return [
            measured(float(row.mean()), fault=f"fault-{number}", n=4, sd=float(row.std(ddof=1)))
            for number, row in enumerate(values)
        ]

    add(opened, make_folder(tmp_path / "a", entries()), SPRING, "spring")
    take = add(opened, make_folder(tmp_path / "b", entries()), SUMMER, "summer")
    with opened.read() as connection:
        assert len(better_than_last_term(connection, take)) <= 1
