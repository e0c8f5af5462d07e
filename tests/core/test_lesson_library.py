"""The exercises as data: complete, in order, in words of the trade; and a studio's own on top of them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.findings.feelings import feeling, feelings
from in_the_round.analysis_core.lesson.library import load_library, product_library
from in_the_round.analysis_core.lesson.model import LONGEST_CUE, PHRASE
from in_the_round.analysis_core.wording.lesson import KINDS

LIBRARY = product_library()
#: A cue speaks of an effect or an image. Words of anatomy that a cue may not have (design of the lesson, section 2).
MUSCLES = re.compile(r"muscle|quadricep|hamstring|glute|abdominal|rotator|contract|engage|squeeze your|core\b", re.IGNORECASE)


def test_all_faults_have_one_first_answer_and_six_rungs() -> None:
    """46 faults, 20 ladders of 5, one exercise that serves three of them, 3 ways into the phrase: 101 exercises."""
    assert set(LIBRARY.ladder_of) == set(catalogue())
    mains = [fault for ladder in LIBRARY.ladders.values() for fault in ladder.main]
    assert len(mains) == len(set(mains)) == 46
    assert len(LIBRARY.exercises) == 101
    for name in LIBRARY.ladders:
        if name != PHRASE:
            assert list(LIBRARY.rungs(name)) == [1, 2, 3, 4, 5], name
    assert len(LIBRARY.phrases) == 3


def test_what_a_rung_may_ask() -> None:
    """Rung 1 without barre and jumps, 2 on two feet, 3 on one, jumps only from 4 on (design, section 2)."""
    for exercise in LIBRARY.exercises.values():
        assert exercise.kind in KINDS
        if exercise.rung == 1:
            assert "barre" not in exercise.needs
        if exercise.rung < 4:
            assert exercise.jumps == 0
        if exercise.jumps:
            assert "no jumps" in exercise.not_when, exercise.id
        if exercise.rung == 2:
            assert not re.search(r"\bon one foot\b|\bone leg\b", exercise.texts.how), exercise.id


def test_every_text_is_there_and_cues_are_short_and_of_an_image() -> None:
    for thing in (*LIBRARY.exercises.values(), *LIBRARY.items.values()):
        texts = thing.texts
        assert texts.name, thing.id
        assert texts.how.endswith((".", "?")), thing.id
        assert texts.feel.endswith((".", ")")), thing.id
        assert texts.watch.endswith((".", "?")), thing.id
        for cue in (texts.cue, texts.cue_young):
            assert len(cue) <= LONGEST_CUE
            assert not MUSCLES.search(cue), thing.id
    assert all(ladder.goal and ladder.why and ladder.leave_out for ladder in LIBRARY.ladders.values())
    insides = [ladder.inside for name, ladder in LIBRARY.ladders.items() if name != PHRASE]
    assert set(insides) <= set(LIBRARY.items)


#: Minutes in a class of 75, and jumps: common teaching practice, written down in the design of the lesson, section 4.
_ITEMS = {
    **{"walk-and-loosen": (3, 6), "joints-and-long-spine": (2, 5), "plies": (4, 6), "tendus": (3, 6), "degages": (2, 5)},
    **{"ronds-de-jambe": (2, 5), "fondus": (2, 5), "frappes": (2, 4), "slow-leg-lifts": (3, 6), "battements": (2, 4)},
    **{"centre-tendu": (3, 8), "adage": (3, 8), "turn-preparations": (2, 6), "first-small-jumps": (1.5, 4)},
    **{"jump-combination": (2, 5), "big-jumps": (2, 6), "stretch-and-reverence": (3, 10)},
}


def test_the_parts_of_an_ordinary_class() -> None:
    """As the design has them. Crossing the room takes longer than it says there (1.5), since a step is marked before it."""
    assert {name: LIBRARY.items[name].minutes for name in _ITEMS} == _ITEMS
    assert (LIBRARY.items["mark-the-travelling"].minutes, LIBRARY.items["travelling-steps"].minutes) == ((0.5, 2), (2.5, 6))
    jumps = {name: item.jumps for name, item in LIBRARY.items.items() if item.jumps}
    assert jumps == {"first-small-jumps": 16, "jump-combination": 16, "travelling-steps": 8, "big-jumps": 12}
    always = {name: item.always_from for name, item in LIBRARY.items.items() if name in _ITEMS and item.always_from is not None}
    assert always == {
        "walk-and-loosen": 20, "stretch-and-reverence": 20, "plies": 30, "tendus": 45, "joints-and-long-spine": 60
    }  # fmt: skip


def test_counts_end_with_the_music() -> None:
    """Whole phrases: multiples of 8, of 24 in three-four time."""
    for exercise in LIBRARY.exercises.values():
        if exercise.music.counts:
            assert exercise.music.counts % (24 if exercise.music.metre == "3/4" else 8) == 0, exercise.id


def test_every_fault_has_its_sensation() -> None:
    assert set(feelings()) == set(catalogue())
    for fault in catalogue():
        plain, young = feeling(fault), feeling(fault, young=True)
        assert plain.endswith(".")
        assert young.endswith(".")
        assert plain != young
        assert not MUSCLES.search(young)


def studio(folder: Path, text: str) -> Path:
    (folder / "own.toml").write_text(text, encoding="utf-8")
    return folder


def test_a_studio_changes_one_word_of_an_exercise(tmp_path: Path) -> None:
    """Only what the studio writes is changed; everything else stays."""
    mine = load_library(studio(tmp_path, '[exercise.slow-plie-heel-rule]\ncue = "Two stamps on one letter"\n'))
    assert mine.exercises["slow-plie-heel-rule"].texts.cue == "Two stamps on one letter"
    assert mine.exercises["slow-plie-heel-rule"].texts.how == LIBRARY.exercises["slow-plie-heel-rule"].texts.how
    assert LIBRARY.exercises["slow-plie-heel-rule"].texts.cue != "Two stamps on one letter"


def test_a_studio_adds_a_ladder_of_its_own(tmp_path: Path) -> None:
    """A ladder with five exercises, which takes over a fault from the one that had it."""
    rung = (
        '[exercise.own-{n}]\nladder = "own"\nrung = {n}\nkind = "G"\nname = "N"\nhow = "H."\ncue = "C"\nfeel = "F."\n'
        'watch = "W."\nmusic = {{ seconds = 30 }}\n'
    )
    ladder = (
        '[ladder.own]\ntitle = "Own"\norder = 0.5\ngoal = "G."\nwhy = "W."\nleave_out = "L."\ninside = "plies"\n'
        'main = ["balance-sways"]\n'
    )
    mine = load_library(studio(tmp_path, ladder + "".join(rung.format(n=n) for n in range(1, 6))))
    assert mine.ladder_of["balance-sways"] == "own"
    assert set(mine.ladder_of) == set(catalogue())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[exercise.x\n", "line 1"),
        ("[dance.x]\n", "no table dance"),
        ('[exercise.slow-plie-heel-rule]\ncolour = "red"\n', "no colour"),
        ("[exercise.slow-plie-heel-rule]\nsets = true\n", "a whole number"),
        ('[exercise.slow-plie-heel-rule]\ncue = ""\n', "must not be empty"),
        (f'[exercise.slow-plie-heel-rule]\ncue = "{"long " * 20}"\n', "longer than 90"),
        ("[exercise.slow-plie-heel-rule]\njumps = 8\n", "rung 4 or 5"),
        ('[exercise.slow-plie-heel-rule]\nmusic = "3/4"\n', "music must be a table"),
        ('[exercise.slow-plie-heel-rule]\nmusic = { metre = "3/4", bpm = [66, 50], counts = 48 }\n', "the slower first"),
        ('[exercise.slow-plie-heel-rule]\nlevels = ["heroic"]\n', "no level heroic"),
        ('[exercise.new]\nladder = "heels"\nrung = 2\n', "is missing"),
        ('[ladder.heels]\nmain = ["two-left-feet"]\n', "no fault two-left-feet"),
        ('[ladder.heels]\ncue = "C"\n', "has no cue"),
        ('[item.plies]\nblock = "tea"\n', "no block tea"),
        ("[item.plies]\nminutes = [6, 4]\n", "the smaller first"),
        ("exercise = 3\n", "write [exercise.NAME]"),
        ('[exercise.slow-plie-heel-rule]\nladder = "stairs"\n', "no ladder stairs"),
    ],
)
def test_a_bad_file_gets_a_sentence_that_names_it(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(OptionError) as said:
        load_library(studio(tmp_path, text))
    assert words in str(said.value)
    assert str(tmp_path) in str(said.value)


def test_two_exercises_on_one_rung_are_refused(tmp_path: Path) -> None:
    """A studio that means to replace an exercise must use its name, and is told so."""
    text = (
        '[exercise.my-plie]\nladder = "heels"\nrung = 2\nkind = "B"\nname = "N"\nhow = "H."\ncue = "C"\nfeel = "F."\n'
        'watch = "W."\nmusic = { seconds = 30 }\n'
    )
    with pytest.raises(OptionError, match="slow-plie-heel-rule"):
        load_library(studio(tmp_path, text))


def test_a_folder_that_holds_nothing_is_refused(tmp_path: Path) -> None:
    for wrong in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(OptionError):
            load_library(wrong)
