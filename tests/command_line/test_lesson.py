"""The command ``lesson``: as a script calls it, from reviews that hold the contract's fields and no more."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.record import schema
from in_the_round.analysis_core.record.classes import keep_lesson
from in_the_round.analysis_core.record.places import place_of
from in_the_round.analysis_core.record.store import open_store
from in_the_round.command_line.__main__ import main
from sqlalchemy import select


def review_json(*found: tuple[str, str], jumps: int = 0, level: str = "intermediate", seconds: float = 20.0) -> dict[str, Any]:
    """review.json with nothing but the contract's fields. found: fault and side of each finding."""
    names = [f"turn-{index + 1}" for index in range(len(found))]
    moments = [{"id": name, "kind": "turn", "side": None, "start_s": 1.0, "end_s": seconds, "properties": {}} for name in names]
    moments += [
        {"id": f"jump-{index + 1}", "kind": "jump", "side": "both", "start_s": 2.0, "end_s": 2.5, "properties": {}}
        for index in range(jumps)
    ]
    findings = [
        {
            "id": f"f{index + 1}",
            "fault": fault,
            "phase": names[index],
            "side": side or None,
            "start_s": 1.0,
            "onset_s": 1.0,
            "peak_s": 1.1,
            "end_s": 1.2,
            "value": 30.0,
            "unit": "mm",
            "band": [0.0, 10.0],
            "plus_minus": 3.0,
            "severity": 0.7,
            "grade": "fault",
            "confidence": "high",
            "band_source": "proposed default, no published norm",
            "parts": [],
            "view": {"from": [0, -3, 1], "at": [0, 0, 1], "name": "side"},
            "came_after": [],
            "may_have_led_to": [],
            "cue": catalogue()[fault].cue,
            "caution": catalogue()[fault].caution,
            "decision": "open",
            "note": "",
        }
        for index, (fault, side) in enumerate(found)
    ]
    return {
        "format": "in-the-round/review",
        "version": 2,
        "profile": level,
        "take": {"file": "anna_muster.c3d", "sha256": str(hash(found)), "kind": "markers", "duration_s": seconds},
        "phases": moments,
        "findings": findings,
        "unsure": [],
    }


@pytest.fixture
def folders(tmp_path: Path) -> list[Path]:
    """Three dancers who share a goal; the names of folders and takes are names of people."""
    made = []
    for name, found in (
        ("anna_muster", (("heel-lifts-early", "left"), ("arms-drop", ""))),
        ("bea_beispiel", (("heels-lift-in-plie", "left"),)),
        ("carla_exempel", (("arms-drop", "right"), ("knee-inside-toes", "left"))),
    ):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "review.json").write_text(json.dumps(review_json(*found, jumps=2)), encoding="utf-8")
        made.append(folder)
    return made


def said(capsys: pytest.CaptureFixture[str], *words: object) -> dict[str, Any]:
    assert main(["lesson", *map(str, words), "--json"]) == 0
    plan: dict[str, Any] = json.loads(capsys.readouterr().out)
    return plan


def test_a_class_from_three_reviews(capsys: pytest.CaptureFixture[str], folders: list[Path]) -> None:
    """The contract of --json; dancers are initials, for folders carry names."""
    plan = said(capsys, *folders, "--minutes", 60, "--age", 12)
    assert sum(block["minutes"] for block in plan["blocks"]) == plan["minutes"] == 60
    assert plan["jumps"] <= plan["jump_limit"] == 60
    assert [dancer["dancer"] for dancer in plan["class"]] == ["A.M.", "B.B.", "C.E."]
    assert {goal["ladder"] for goal in plan["goals"]} == {"heels", "arms"}
    assert "anna" not in json.dumps(plan)


def test_pseudonyms_and_a_dancer_who_was_captured_twice(capsys: pytest.CaptureFixture[str], folders: list[Path]) -> None:
    """Two takes of one dancer count once, the last one given."""
    plan = said(capsys, f"heron={folders[0]}", f"birch={folders[1]}", f"heron={folders[2]}")
    assert [dancer["dancer"] for dancer in plan["class"]] == ["heron", "birch"]
    assert "knee-inside-toes" in plan["class"][0]["corrections"]


def test_what_is_wrong_is_said_in_a_sentence(capsys: pytest.CaptureFixture[str], folders: list[Path], tmp_path: Path) -> None:
    """No traceback, exit code 2, the file named."""
    damaged = tmp_path / "damaged"
    damaged.mkdir()
    (damaged / "review.json").write_text('{"format": "in-the-round/review", "version": 2}', encoding="utf-8")
    for words in ([tmp_path / "nowhere"], [damaged], [folders[0], "--minutes", 5], [folders[0], "--level", "heroic"]):
        assert main(["lesson", *map(str, words)]) == 2
        error = capsys.readouterr().err
        assert 10 < len(error) < 400
        assert "Traceback" not in error
        assert "defect" not in error


def test_the_plan_is_written_and_not_overwritten_unasked(
    capsys: pytest.CaptureFixture[str], folders: list[Path], tmp_path: Path
) -> None:
    """Whole, named in --json, refused without --force, no person's name in it; another form from the same reviews."""
    plan = tmp_path / "plan.html"
    first = said(capsys, *folders, "--out", plan)
    assert (first["file"], first["kept_texts"]) == (str(plan), 0)
    text = plan.read_text(encoding="utf-8")
    assert "A.M." in text
    assert "anna" not in text.lower()
    assert "exempel" not in text.lower()
    assert main(["lesson", *map(str, folders), "--out", str(plan)]) == 2
    assert "--force" in capsys.readouterr().err
    plan.write_text(text.replace(">Class plan</h1>", ">Thursday</h1>"), encoding="utf-8")
    assert said(capsys, *folders, "--out", plan, "--force", "--minutes", 60)["kept_texts"] == 1
    assert ">Thursday</h1>" in plan.read_text(encoding="utf-8")
    assert main(["lesson", *map(str, folders), "--out", str(tmp_path / "wall.md"), "--print", "wall"]) == 0
    assert "A.M." not in (tmp_path / "wall.md").read_text(encoding="utf-8")


def test_what_the_teacher_knows_counts(capsys: pytest.CaptureFixture[str], folders: list[Path], tmp_path: Path) -> None:
    """Goals, rungs that hold, states, missing things, ceilings, and the studio's own exercises."""
    own = tmp_path / "own"
    own.mkdir()
    (own / "ours.toml").write_text('[exercise.coupe-hand-off]\ncue = "Our own picture"\n', encoding="utf-8")
    words = ["--goals", "balance", "--mastered", "balance=2", "--state", "no jumps", "--exercises", own, "--title", "Ours"]
    plan = said(capsys, *folders, *words)
    assert plan["title"] == "Ours"
    assert plan["jumps"] == 0
    exercises = [exercise for block in plan["blocks"] for exercise in block["exercises"]]
    assert "Our own picture" in [exercise["cue"] for exercise in exercises]
    assert min(exercise["stage"] for exercise in exercises if exercise["stage"]) == 3
    assert said(capsys, *folders, "--cap", 10)["jumps"] <= 10


def test_decisions_count(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Set aside is no goal; kept goes first; the teacher's own correction stands in the plan."""
    review = review_json(("heel-lifts-early", "left"), ("arms-drop", ""), ("balance-sways", "left"))
    review["findings"][0]["decision"] = "set aside"
    review["findings"][2]["decision"] = "kept"
    review["decisions"] = {"own": [{"words": "Look at the gallery.", "decision": "kept"}]}
    (tmp_path / "review.json").write_text(json.dumps(review), encoding="utf-8")
    plan = said(capsys, tmp_path)
    assert plan["goals"][0]["fault"] == "balance-sways"
    assert "heel-lifts-early" not in json.dumps(plan["class"])
    assert [own["cue"] for own in plan["own_work"]] == ["Look at the gallery."]


def test_the_record_knows_goals_and_whose_names_stand_in_a_plan(
    capsys: pytest.CaptureFixture[str], folders: list[Path], tmp_path: Path
) -> None:
    """A goal set there goes first though others weigh more; an unknown name is said; with the dancer the plan is deleted."""
    database, plan = tmp_path / "record.db", tmp_path / "plan.html"
    record = ["--database", str(database)]
    consent = ["record", "consent", "amber-heron", "--until", "2090-01-01", "--assent", "yes", *record]
    assert main(consent) == 0
    assert main(["record", "goal", "amber-heron", "--fault", "arms-drop", *record]) == 0
    capsys.readouterr()
    dancer = f"amber-heron={folders[0]}"
    assert said(capsys, dancer)["goals"][0]["fault"] == "heel-lifts-early"
    assert said(capsys, dancer, *record, "--out", plan)["goals"][0]["fault"] == "arms-drop"
    assert main(["lesson", f"grey-owl={folders[1]}", *record, "--json"]) == 0
    assert "does not know grey-owl" in capsys.readouterr().err
    assert plan.exists()
    assert main(["record", "delete", "amber-heron", "--yes", *record]) == 0
    assert not plan.exists()
    assert main(["lesson", dancer, "--database", str(tmp_path / "none.db"), "--json"]) == 2


def test_a_ladder_starts_above_what_the_record_shows_is_mastered(
    capsys: pytest.CaptureFixture[str], folders: list[Path], tmp_path: Path
) -> None:
    """Rung 2 noted: the class begins at 3 (without the record: at 1); for two dancers where the later one stands; the teacher's
    word on the command line goes before; what is no ladder or rung is refused; the copy in the export holds it."""
    record = ["--database", str(tmp_path / "record.db")]
    for name in ("amber-heron", "birch-wren"):
        assert main(["record", "consent", name, "--until", "2090-01-01", "--assent", "yes", *record]) == 0
    assert main(["record", "holds", "amber-heron", "heel-lifts-early", "2", *record]) == 0
    assert "heels holds up to rung 2" in capsys.readouterr().out
    for wrong in (["heal", "2"], ["heels", "9"]):
        assert main(["record", "holds", "amber-heron", *wrong, *record]) == 2
    capsys.readouterr()
    words = ["--goals", "heels"]
    one, two = f"amber-heron={folders[0]}", f"birch-wren={folders[1]}"

    def start(*more: object) -> int:
        plan = said(capsys, *more, *words)
        stages = [e["stage"] for block in plan["blocks"] for e in block["exercises"] if 1 <= e["stage"] <= 5]
        assert min(stages) == plan["goals"][0]["start"]
        return int(plan["goals"][0]["start"])

    assert start(one) == 1
    assert start(one, *record) == 3
    assert start(one, *record, "--mastered", "heels=1") == 2
    assert start(one, two, *record) == 1
    assert main(["record", "holds", "birch-wren", "heels", "1", *record]) == 0
    capsys.readouterr()
    assert start(one, two, *record) == 2


def test_jumps_grow_by_a_fifth_of_the_last_class_in_the_record_at_most(
    capsys: pytest.CaptureFixture[str], folders: list[Path], tmp_path: Path
) -> None:
    """A class of yesterday with 10 jumps allows 12 today; today's own plan, made anew, does not count against itself."""
    database = tmp_path / "record.db"
    record = ["--database", str(database)]
    assert main(["record", "consent", "amber-heron", "--until", "2090-01-01", "--assent", "yes", *record]) == 0
    dancer = f"amber-heron={folders[0]}"
    capsys.readouterr()
    before = said(capsys, dancer, *record, "--cap", 16, "--out", tmp_path / "plan.html")
    assert said(capsys, dancer, *record)["jump_limit"] > 40
    with open_store(place_of(database)) as store, store.begin() as connection:
        (row,) = connection.execute(select(schema.lesson)).all()
        assert row.jumps == before["jumps"] > 0
        keep_lesson(connection, [row.dancer], date.today() - timedelta(days=1), 10)
    plan = said(capsys, dancer, *record)
    assert plan["jump_limit"] == 12
    assert any("had 10 jumps" in note for note in plan["notes"])
    assert said(capsys, dancer, *record, "--last-jumps", 30)["jump_limit"] == 36
