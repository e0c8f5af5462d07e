"""What JSON tells, read as the types of the fields ask: every entry of a review that is of another kind is said in a sentence."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Literal

import pytest
from in_the_round.analysis_core.errors import ReviewError
from in_the_round.analysis_core.findings.finding import View
from in_the_round.analysis_core.findings.measured import Measured
from in_the_round.analysis_core.phrase.phase import OnTheCount, Phase
from in_the_round.analysis_core.phrase.properties import PHASES, phase_from, properties_of
from in_the_round.analysis_core.plain_data import plain, read_as
from in_the_round.analysis_core.record.folders import read_folder
from in_the_round.analysis_core.review import REVIEW_FILE, Review, read_review, write_review
from in_the_round.analysis_core.review.decisions import Decisions, Judgement, LinkChoice, OwnCorrection, mark_of
from in_the_round.analysis_core.review.document import from_json, standing_from_json, to_json
from in_the_round.analysis_core.take import CleaningEvent
from in_the_round.command_line.__main__ import main

from .made_record import make_folder, measured


@dataclass(frozen=True)
class Told:
    name: str
    height_m: float
    count: int
    side: Literal["left", "right"] | None
    band: tuple[float | None, float | None]
    parts: tuple[str, ...] = ()


WHOLE = {"name": "é", "height_m": 1, "count": 2.0, "side": None, "band": [None, 3], "parts": ["foot.L"], "later": []}


def test_entries_are_read_as_their_fields_ask() -> None:
    assert read_as(Told, WHOLE) == Told("é", 1.0, 2, None, (None, 3.0), ("foot.L",))
    assert read_as(Told, {**WHOLE, "parts": []}, name="other").name == "other"
    assert math.isnan(read_as(Told, {**WHOLE, "height_m": None}).height_m)


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("name", 1, "name must be a text"), ("name", None, "name must be a text"),
        ("height_m", "1", "height_m must be a number"), ("height_m", True, "height_m must be a number"),
        ("count", 2.5, "count must be a whole number"), ("count", None, "count must be a whole number"),
        ("count", math.inf, "count must be a whole number"), ("side", "middle", "side must be one of left, right"),
        ("side", [], "side must be one of"), ("band", [1.0], "band must be a list of 2"),
        ("band", 1.0, "band must be a list of 2"), ("parts", "foot.L", "parts must be a list"),
        ("parts", [1], "parts must be a text"),
    ],
    ids=str,
)  # fmt: skip
def test_an_entry_of_another_kind_is_said(name: str, value: Any, says: str) -> None:
    with pytest.raises(TypeError, match=says):
        read_as(Told, {**WHOLE, name: value})


def test_a_missing_entry_and_no_object_are_said() -> None:
    with pytest.raises(TypeError, match="count is missing"):
        read_as(Told, {key: value for key, value in WHOLE.items() if key != "count"})
    with pytest.raises(TypeError, match="Told must be an object"):
        read_as(Told, [1])


def one_of_each_phase() -> tuple[Phase, ...]:
    """A step of each kind, of which nothing is known but where it lies, the first on the count."""
    span: dict[str, Any] = {"side": None, "start": 0, "end": 9, "start_s": 0.0, "end_s": 0.15}
    steps = [phase_from(kind, id=f"{kind}-1", properties={}, **span) for kind in PHASES]
    return (replace(steps[0], music=OnTheCount(1, 2.5, 0.01)), *steps[1:])


@pytest.fixture(scope="module")
def full(made_review: Review) -> Review:
    """The made review with something in every list of review.json."""
    marks = [mark_of(finding, made_review.phrase.phases) for finding in made_review.analysed[:2]]
    view = View((0.0, -3.0, 1.0), (0.0, 0.0, 0.8), "front")
    band = (None, 10.0)
    return replace(
        made_review,
        phrase=replace(made_review.phrase, phases=one_of_each_phase()),
        measured=(Measured("trunk-leans", "pitch", None, "plié", 1, 3.0, 3.0, None, "deg", 2.0, None, band, 0, None),),
        quality=replace(made_review.quality, events=(CleaningEvent("swap", "left heel", "right heel", 0.0, 1.0, True),)),
        decisions=Decisions(
            (Judgement(marks[0], "kept", "note", "words", band),),
            (OwnCorrection("own-1", "words", "left", 0.0, 1.0, 2.0, ("foot.L",), view),),
            (LinkChoice(marks[0], marks[1], "cut"),),
        ),
    )


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Where each entry of an object stands, of a list the first."""
    items: Iterator[tuple[Any, Any]] = iter(value.items()) if isinstance(value, dict) else iter(())
    for key, item in [*items, *(enumerate(value[:1]) if isinstance(value, list) else ())]:
        yield from places(item, (*path, key))
    if path:
        yield path, value


def with_value(data: dict[str, Any], path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    changed = copy.deepcopy(data)
    inside: Any = changed
    for key in path[:-1]:
        inside = inside[key]
    inside[path[-1]] = value
    return changed


#: No entry of a review looks so.
STRANGE = {1, 2}
#: Made anew from the rest when a decision is saved, and read by nobody but people and other programs.
TOLD_ONLY = {"chains", "corrections", "came_first", "jump_load", "format", "version", "movement_sha256"}
#: Of the findings, what comes from what was analysed and decided.
AS_DECIDED = {"band", "cue", "came_after", "may_have_led_to", "decision", "note"}


def test_no_entry_of_a_review_is_taken_for_what_it_is_not(full: Review) -> None:
    """Every entry of the document in turn made something that is nowhere: catches one that is handed on unread, as
    ``repetition`` and ``bar`` once were, in fields that are yet to come too."""
    data: dict[str, Any] = json.loads(json.dumps(to_json(full, "0" * 64)))
    let_through = []
    for path, _ in places({key: value for key, value in data.items() if key not in TOLD_ONLY}):
        changed = with_value(data, path, STRANGE)
        try:
            standing_from_json(changed["standing"])
            from_json(changed, full.movement, full.markers)
        except TypeError as error:
            assert " must be " in str(error), path  # noqa: PT017 - which ones are let through is told at the end
        else:
            let_through.append(path)
    assert {path[2] for path in let_through} <= AS_DECIDED
    assert {path[0] for path in let_through} <= {"findings"}


@pytest.mark.parametrize(("start", "end"), [(-1, 5), (5, 4), (0, 10**6)])
def test_a_step_beyond_the_movement_is_said(full: Review, start: int, end: int) -> None:
    """Catches a step that whoever reads its frames looks for where none are: comparing ended with a defect of the program."""
    data: dict[str, Any] = json.loads(json.dumps(to_json(full, "0" * 64)))
    data["phases"][0] |= {"start": start, "end": end}
    with pytest.raises(ValueError, match="turn-1 must lie within the "):
        from_json(data, full.movement, full.markers)


def test_a_step_of_each_kind_comes_back_as_it_was(full: Review) -> None:
    for phase in full.phrase.phases:
        span = {name: getattr(phase, name) for name in ("id", "side", "start", "end", "start_s", "end_s")}
        again = phase_from(phase.kind, properties=plain(properties_of(phase)), **span)
        assert type(again) is type(phase)
        assert plain(vars(again)) == plain(vars(phase))


@pytest.mark.parametrize("name", ["repetition", "repetitions", "same_as", *(item.name for item in fields(OnTheCount))])
def test_a_damaged_step_is_one_sentence_and_code_2(
    name: str, full: Review, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_review(full, tmp_path)
    path = tmp_path / REVIEW_FILE
    data = json.loads(path.read_text(encoding="utf-8"))
    data["phases"][0]["properties"][name] = [1]
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(ReviewError, match=f"{name} must be a"):
        read_review(tmp_path)
    assert main(["compare", str(tmp_path), str(tmp_path), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err.strip()
    assert len(said.splitlines()) == 1
    assert f"{name} must be a" in said


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("take", "rate_hz"), "x"),
        (("take", "frames"), 1.5),
        (("measured", 0, "value"), "x"),
        (("measured", 0, "band", 0), []),
        (("measured", 0, "n"), math.inf),
        (("decisions",), None),
        (("decisions", "judgements", 0, "mark"), []),
        (("decisions", "own"), {"a": 1}),
        (("quality", "markers"), 1),
    ],
    ids=lambda item: "-".join(map(str, item)) if isinstance(item, tuple) else str(item),
)
def test_the_record_takes_no_damaged_review_in(path: tuple[Any, ...], value: Any, tmp_path: Path) -> None:
    """Each of these once reached the database, whose own words are no sentence for a teacher."""
    file = make_folder(tmp_path / "review", [measured(8.0)]) / REVIEW_FILE
    file.write_text(json.dumps(with_value(json.loads(file.read_text(encoding="utf-8")), path, value)), encoding="utf-8")
    with pytest.raises(ReviewError, match=r"damaged \(.* must be .*Review the take again"):
        read_folder(file.parent)
