"""Decisions in a review folder: saved, carried over to a new analysis, never overwritten in silence."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from in_the_round.analysis_core.errors import ReviewError
from in_the_round.analysis_core.review import (
    Review,
    carry_over,
    decide,
    read_decisions,
    read_review,
    save_decisions,
    write_again,
    write_review,
)
from in_the_round.analysis_core.review.decisions import Decisions, Judgement, mark_of


@pytest.fixture(scope="module")
def review(made_review: Review) -> Review:
    """The made review of tests/blender."""
    return made_review


def judged(review: Review, **more: object) -> Decisions:
    finding = review.findings[0]
    mark = mark_of(finding, review.phrase.phases)
    return Decisions((Judgement(mark, "set aside", **more),))


def test_decisions_are_read_back_as_saved_and_can_be_taken_back(review: Review, tmp_path: Path) -> None:
    write_review(review, tmp_path)
    decisions = judged(review, note="Later", words="Heels heavy", band=(0.0, 20.0))
    save_decisions(tmp_path, Decisions(), decisions)
    read = read_review(tmp_path)
    assert read.decisions == decisions
    assert (read.findings[0].decision, read.findings[0].cue, read.findings[0].band) == ("set aside", "Heels heavy", (0.0, 20.0))
    save_decisions(tmp_path, decisions, Decisions())
    assert read_review(tmp_path).findings == review.findings


def test_a_new_analysis_takes_the_decisions_over(review: Review, tmp_path: Path) -> None:
    write_review(decide(review, judged(review, note="Later")), tmp_path)
    later = tuple(replace(item, id=f"n{item.id}", peak_s=item.peak_s + 0.01) for item in review.findings)
    written = write_again(replace(review, analysed=later), tmp_path)
    assert (written.findings[0].decision, written.findings[0].note) == ("set aside", "Later")
    assert read_review(tmp_path).findings == written.findings
    gone = carry_over(written.decisions, replace(review, analysed=review.analysed[1:]))
    assert [item.note for item in gone.decisions.unmatched] == ["Later"]


def test_decisions_of_a_damaged_review_are_not_overwritten(review: Review, tmp_path: Path) -> None:
    write_review(review, tmp_path)
    path = tmp_path / "review.json"
    path.write_text("{", encoding="utf-8")
    with pytest.raises(ReviewError, match="damaged"):
        write_again(review, tmp_path)
    assert path.read_text(encoding="utf-8") == "{"


def test_where_there_is_no_review_there_are_no_decisions(tmp_path: Path) -> None:
    assert read_decisions(tmp_path) == Decisions()
