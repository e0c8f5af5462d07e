"""The command ``record`` from end to end, by its contract: consent, add, show, progress, due, export, delete."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.record import names
from in_the_round.command_line.__main__ import main

from ..core.made_record import make_folder, measured

NAME = "amber-heron"


@pytest.fixture
def record(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    """A function that runs ``record … --json`` in an empty folder; returns the exit code, the object and standard error."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("IN_THE_ROUND_PASSPHRASE", raising=False)

    def run(*words: str) -> tuple[int, Any, str]:
        code = main(["record", *words, "--database", str(tmp_path / "data" / "record.db"), "--json"])
        said = capsys.readouterr()
        return code, json.loads(said.out) if said.out else None, said.err

    return run


def test_a_year_of_a_dancer(record: Any, tmp_path: Path) -> None:
    """Refused without consent; then takes, progress with a chart, export, deletion without a trace."""
    folders = [make_folder(tmp_path / "out" / f"t{number}", [measured(31.123456 - 9 * number)]) for number in range(3)]
    code, _, said = record("add", str(folders[0]), "--dancer", NAME)
    assert (code, "no consent" in said) == (2, True)
    assert record("consent", NAME, "--until", "2999-07-31", "--by", "guardian")[0] == 0
    for number, folder in enumerate(folders):
        code, data, _ = record("add", str(folder), "--dancer", NAME, "--day", f"2026-0{number + 1}-10")
        assert (code, data["takes"][0]["outcome"]) == (0, "added")
        assert any("own agreement is not recorded" in remark for remark in data["remarks"])
    assert record("list")[1]["dancers"][0]["takes"] == 3
    shown = record("show", NAME)[1]
    assert [take["day"] for take in shown["takes"]] == ["2026-01-10", "2026-02-10", "2026-03-10"]
    progress = record("progress", NAME, "--fault", "heel-lifts-early", "--charts", "charts")[1]
    (series,) = progress["series"]
    assert series["claim"] == "may be better"
    assert series["change"]["value"] == pytest.approx(-18.0)
    assert series["trend"] is None
    assert Path(progress["charts"][0]).read_text(encoding="utf-8").startswith("<?xml")
    assert record("due")[1]["due"] == []
    assert record("export", NAME, "--out", "x.zip")[1]["withheld"] == []
    assert zipfile.is_zipfile("x.zip")
    code, _, said = record("delete", NAME)
    assert code == 2
    assert "--yes" in said
    assert record("list")[1]["dancers"] != []
    code, done, _ = record("delete", NAME, "--yes")
    assert (code, done["clean"], done["takes"], done["files"]) == (0, True, 3, 5)
    assert not Path("x.zip").exists()
    assert not any(folder.exists() for folder in folders)
    left = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
    assert NAME.encode() not in left
    assert record("show", NAME)[0] == 2


def test_of_age(record: Any, tmp_path: Path) -> None:
    """--no-minor enters the dancer's own consent, and does not override a guardian's withdrawal for a minor."""
    folder = make_folder(tmp_path / "t1", [measured(31.0)])
    assert record("add", str(folder), "--dancer", NAME, "--no-minor")[0] == 0
    (consent,) = record("show", NAME)[1]["consents"]
    assert (consent["by"], consent["assent"]) == ("dancer", "not needed")
    record("consent", "clay-robin", "--until", "2999-01-01", "--adult-on", "2998-01-01", "--assent", "yes")
    record("consent", "clay-robin", "--withdraw")
    code, _, said = record("add", str(folder), "--dancer", "clay-robin", "--no-minor")
    assert (code, "comes of age on 2998-01-01" in said) == (2, True)


def test_real_names_only_with_a_passphrase(record: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The name gets a pseudonym, stands in no file, and goes with the dancer."""
    # Its real cost is asked for in tests/core; here only the way.
    monkeypatch.setattr(names, "_COST", 2**8)
    folder = make_folder(tmp_path / "t1", [measured(31.0)])
    words = ("add", str(folder), "--dancer", "Wilhelmina Invented", "--real-name", "--no-minor")
    code, _, said = record(*words)
    assert (code, "passphrase" in said) == (2, True)
    monkeypatch.setenv("IN_THE_ROUND_PASSPHRASE", "three random words")
    code, data, _ = record(*words)
    assert code == 0
    assert "-" in data["dancer"]
    assert record("list", "--real-name")[1]["dancers"][0]["name"] == "Wilhelmina Invented"
    assert b"Wilhelmina" not in b"".join(path.read_bytes() for path in (tmp_path / "data").iterdir())
    assert record("show", "wilhelmina invented", "--real-name")[1]["dancer"] == data["dancer"]
    monkeypatch.delenv("IN_THE_ROUND_PASSPHRASE")
    code, _, said = record("delete", data["dancer"], "--yes")
    assert (code, "--forget-names" in said) == (2, True)
    monkeypatch.setenv("IN_THE_ROUND_PASSPHRASE", "three random words")
    assert record("delete", data["dancer"], "--yes")[1]["found_in"] == []
    assert [path.name for path in (tmp_path / "data").iterdir()] == ["record.db"]


def test_goals_films_and_copies(record: Any, tmp_path: Path) -> None:
    """At most two goals; a film goes with the dancer; a safety copy is made anew after a deletion."""
    record("consent", NAME, "--until", "2999-07-31", "--assent", "yes")
    faults = ("heel-lifts-early", "arms-drop", "low-jump")
    assert [record("goal", NAME, "--fault", fault)[0] for fault in faults] == [0, 0, 2]
    assert record("goal", NAME, "--fault", "arms-drop", "--end", "held")[1]["goals"][0]["fault"] == "heel-lifts-early"
    film = tmp_path / "film.mp4"
    film.write_bytes(b"film")
    assert record("made", NAME, str(film))[1]["new"] == 1
    assert record("backup")[0] == 0
    assert record("delete", NAME, "--yes")[1]["copies_made_anew"] == 1
    assert not film.exists()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["show", NAME], "no record at"),
        (["consent", NAME], "--until"),
        (["consent", NAME, "--until", "2001-01-01"], "ended already"),
        (["consent", NAME, "--until", "2999-01-01", "--purpose", "fame"], "no purpose"),
        (["add", "nowhere", "--dancer", NAME], "review.json"),
    ],
)
def test_refusals(record: Any, words: list[str], sentence: str) -> None:
    code, data, said = record(*words)
    assert (code, data) == (2, None)
    assert sentence in said


def test_compare_this_term_against_last(record: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two terms from the record; the last against the one before unless named; a term that is not there is a sentence."""
    record("consent", NAME, "--until", "2999-07-31", "--assent", "yes")
    for term, day, value in (("spring", "2026-02-10", 31.0), ("summer", "2026-05-10", 12.0)):
        folder = make_folder(tmp_path / term, [measured(value)])
        assert record("add", str(folder), "--dancer", NAME, "--day", day, "--term", term)[0] == 0
    words = ["compare", "--dancer", NAME, "--database", str(tmp_path / "data" / "record.db")]
    assert main([*words, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert (data["since"], data["term"], len(data["better"])) == ("spring", "summer", 1)
    assert data["series"][0]["change"]["value"] == pytest.approx(-19.0)
    assert main(words) == 0
    assert "better than in spring" in capsys.readouterr().out
    assert main([*words, "--since", "autumn"]) == 2
    assert "spring, summer" in capsys.readouterr().err
    assert main(["compare", "--out", "x"]) == 2
    assert "--dancer" in capsys.readouterr().err
