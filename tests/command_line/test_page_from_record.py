"""The student's page from the record, end to end: simulated takes of two terms, reviewed, added, and the page of the last one."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from in_the_round.analysis_core.review import Review, write_review
from in_the_round.command_line.__main__ import main
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.phrases import short

NAME = "amber-heron"
#: The heel's lift that was danced, mm: two takes in spring, two in summer. The arms drop as far in all of them.
SIZES = {"spring-1": 31.0, "spring-2": 30.5, "summer-1": 15.0, "summer-2": 13.5}


@pytest.fixture(scope="module")
def takes(reviewed: Callable[..., Review], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Review folders of the four takes: a turn each."""
    made = {}
    for seed, (name, size) in enumerate(SIZES.items()):
        faults = (Fault("heel-lifts-early", "turn-1", size), Fault("arms-drop", "turn-1", 120.0))
        made[name] = tmp_path_factory.mktemp(name)
        write_review(reviewed(*faults, phrase=short("turn"), seed=seed), made[name])
    return made


def page(folder: Path, to: Path, *more: str) -> str:
    assert main(["page", str(folder), "--out", str(to), "--no-pictures", "--force", *more]) == 0
    return to.read_text(encoding="utf-8")


def kept(terms: dict[str, list[Path]], database: Path) -> list[str]:
    """The options that name a record of these takes."""
    words = ["--database", str(database)]
    assert main(["record", "consent", NAME, "--until", "2999-07-31", "--assent", "yes", *words]) == 0
    for month, (term, folders) in enumerate(terms.items(), 2):
        for folder in folders:
            given = ["--dancer", NAME, "--term", term, "--day", f"2026-0{month}-10", "--phrase", "adagio"]
            assert main(["record", "add", str(folder), *given, *words]) == 0
    return words


def articles(text: str) -> dict[str, str]:
    """The corrections of a page by their fault's plain words: id and text of each article."""
    return {found[1]: found[0] for found in re.finditer(r'<article[^>]*id="([^"]+)".*?</article>', text, re.DOTALL)}


def test_better_than_in_spring_only_where_the_record_shows_it(
    takes: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The heel lifts half as far as in spring: said on its card, and only there; the arms drop as before: not a word. Without
    the record, and on the page of spring itself, nobody speaks of spring."""
    terms = {
        "spring": [takes["spring-1"], takes["spring-2"]],
        "summer": [takes["summer-1"], takes["summer-2"]],
    }
    record_words = kept(terms, tmp_path / "record.db")
    said = page(takes["summer-2"], tmp_path / "now.html", *record_words)
    cards = [text for text in articles(said).values() if "Better than in spring" in text]
    assert said.count("Better than in spring") == len(cards) == 1
    assert "heel" in cards[0].lower()
    assert "in spring" not in page(takes["summer-2"], tmp_path / "alone.html")
    assert "Better than" not in page(takes["spring-2"], tmp_path / "then.html", *record_words)
    capsys.readouterr()
    assert main(["compare", "--dancer", NAME, *record_words]) == 0
    told = [line for line in capsys.readouterr().out.splitlines() if "better than in spring" in line]
    assert len(told) == 1
    assert "eel" in told[0]


def test_one_take_a_term_promises_nothing(takes: dict[str, Path], tmp_path: Path) -> None:
    """31 mm then, 14 mm now, one try each: that may be the day; the page keeps silent (record.md, section 6)."""
    terms = {"spring": [takes["spring-1"]], "summer": [takes["summer-2"]]}
    record_words = kept(terms, tmp_path / "record.db")
    assert "Better than" not in page(takes["summer-2"], tmp_path / "now.html", *record_words)
