"""Jumps: how many and how high, their load, the music, and the faults that are built into them."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from in_the_round.analysis_core.analyse import analyse_take
from in_the_round.analysis_core.findings.catalogue import load_profile
from in_the_round.analysis_core.findings.find import find
from in_the_round.analysis_core.findings.load import jump_load, load_in_words, mean_landing_load
from in_the_round.analysis_core.phrase.counts import Counts
from in_the_round.analysis_core.phrase.phase import Jump, Landing
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.settings import Settings
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.phrases import leg_phrase
from in_the_round.simulated_dancer.sautes import Sautes
from in_the_round.simulated_dancer.steps import Plie, Stand
from in_the_round.simulated_dancer.trials import Recorded, record, review_of

from .test_findings_catalogue import FORBIDDEN

#: Five jumps of 0.2 m, one a second.
HIGH = (Stand(2), Sautes(5, 0.2), Stand(4))
#: A plié, and three jumps of 0.14 m.
LOW = (Stand(2), Plie(4), Sautes(3), Stand(2))


def test_mean_landing_load() -> None:
    """Catalogue section 11, row 25: work and energy."""
    assert mean_landing_load(0.20, 0.20) == pytest.approx(2.0)
    assert mean_landing_load(0.20, 0.15) == pytest.approx(2.3333, abs=1e-4)


def test_jumps_are_counted_and_their_load_is_told_as_a_mean(reviewed: Callable[..., Review]) -> None:
    """Five jumps, once a second: 60 a minute; heights from flight theory (h = g t² / 8); loads 1 + fall / stopping."""
    load = jump_load(reviewed(phrase=HIGH).phrase)
    assert load.jumps == 5
    assert load.a_minute == pytest.approx(60.0, abs=1.0)
    assert load.height_m == pytest.approx(0.2, abs=0.015)
    assert 1.3 < (load.load_body_weights or 0.0) < 2.7
    assert load.fade == pytest.approx(0.0, abs=load.fade_plus_minus or 0.0)
    text = " ".join(load_in_words(load))
    assert text.startswith("5 jumps, at a rate of 60 a minute")
    assert "not peak forces" in text
    # A number without its ± and unit ("the hardest 2.5"): one landing is never told better than the mean of five.
    assert re.search(r"the hardest with \d\.\d+ ± \d\.\d+ body weights", text), text
    assert (load.highest_load_plus_minus or 0.0) > (load.load_plus_minus or 1.0)
    assert "end the set" not in text
    assert not FORBIDDEN.search(text)
    assert load_in_words(jump_load(reviewed(phrase=leg_phrase(), misplaced_m=0.002).phrase)) == ()


def test_a_landing_that_the_end_of_the_take_cuts_is_not_judged(reviewed: Callable[..., Review]) -> None:
    """Five jumps, the last landing cut 50 ms after contact. Catches a deep, soft landing that was told stiff and heavy because
    the take had ended before it bent."""
    whole = reviewed(phrase=HIGH)
    last = whole.phrase.of(Jump)[-1]
    cut = reviewed(phrase=HIGH, part=(0.0, (last.end_s + 0.05) / whole.take.duration_s))
    assert len(cut.phrase.of(Jump)) == 5
    assert [item.jump for item in cut.phrase.of(Landing)] == [item.id for item in whole.phrase.of(Jump)[:4]]
    assert len(whole.phrase.of(Landing)) == 5


def test_jumps_that_fade_end_the_set(reviewed: Callable[..., Review]) -> None:
    """Catalogue 10.4: a set is stopped when height fades by more than 15 %."""
    faults = [Fault("low-jump", f"jump-{number}", 0.55) for number in (4, 5)]
    load = jump_load(reviewed(*faults, phrase=HIGH).phrase)
    assert load.fade is not None
    assert load.fade > 0.25
    assert "end the set" in load_in_words(load)[-1]


def test_a_landing_from_a_height_that_is_stopped_a_little_short_is_worth_a_watch(reviewed: Callable[..., Review]) -> None:
    assert {f.grade for f in reviewed(phrase=HIGH).findings if f.fault == "heavy-landing"} == {"watch"}


@pytest.mark.parametrize(
    ("offset_s", "grade", "late_s"), [(0.0, None, 0.0), (0.25, "watch", -0.083), (0.169, None, 0.0), (-0.34, "fault", 0.18)]
)
def test_jumps_beside_the_music_are_off_the_count(
    offset_s: float, grade: str | None, late_s: float, reviewed: Callable[..., Review]
) -> None:
    """Six jumps whose highest points come every second, against music whose first count comes later or earlier.

    They rise 0.14 m: 0.169 s from take-off to highest point and from there to contact. The one instant that fits the counts best
    is told for the whole series (catalogue): the highest points, the contacts, the take-offs.
    """
    review = reviewed(phrase=(Stand(2), Sautes(6), Stand(2)))
    told = find(review.movement, review.phrase, load_profile("intermediate"), counts=Counts(60.0, offset_s)).findings
    found = [f for f in told if f.fault == "off-the-count" and f.phase.startswith("jump")]
    assert [f.grade for f in found] == ([] if grade is None else [grade])
    assert all(f.value == pytest.approx(late_s, abs=0.02) for f in found)


def test_the_music_of_the_settings_is_what_jumps_are_held_against() -> None:
    danced = record(Recorded(rate_hz=60.0), (), (Stand(2), Sautes(6), Stand(2)))
    review = analyse_take(danced.take, Settings(tempo_bpm=60.0, offset_s=-0.34), danced.static_take)
    assert [f.grade for f in review.findings if f.fault == "off-the-count" and f.phase.startswith("jump")] == ["fault"]


@pytest.mark.parametrize(("size", "grade"), [(None, None), (0.8, None), (0.55, "fault")])
def test_a_low_jump_among_higher_ones_is_told_where_height_is_asked_for(
    tmp_path: Path, size: float | None, grade: str | None, reviewed: Callable[..., Review]
) -> None:
    asked = tmp_path / "height.toml"
    asked.write_text('name = "height"\n', encoding="utf-8")
    review = reviewed(*([] if size is None else [Fault("low-jump", "jump-3", size)]), phrase=HIGH)
    assert "low-jump" not in {f.fault for f in review.findings}, "height is no aim unless the teacher makes it one"
    findings = find(review.movement, review.phrase, load_profile(str(asked))).findings
    assert [(f.phase, f.grade) for f in findings if f.fault == "low-jump"] == ([] if grade is None else [("jump-3", grade)])


def test_a_jump_out_of_half_a_plie_is_rushed(tmp_path: Path) -> None:
    """A jump as high as before cannot leave from much less than two thirds of the plié: a watch here, and a fault for a dancer
    who is known to bend much further."""
    danced = record(Recorded(rate_hz=60.0), (Fault("rushed-take-off", "jump-1", 0.35),), LOW)
    assert [(f.fault, f.phase, f.grade) for f in review_of(danced).findings] == [("rushed-take-off", "jump-1", "watch")]
    own = tmp_path / "own.toml"
    own.write_text("[own]\ndemi_plie_deg = [95.0, 95.0]\n", encoding="utf-8")
    rushed = [f for f in review_of(danced, str(own)).findings if f.fault == "rushed-take-off"]
    assert ("jump-1", "fault") in [(f.phase, f.grade) for f in rushed]


def test_a_stiff_landing_is_a_heavy_one_and_a_soft_one_is_not(reviewed: Callable[..., Review]) -> None:
    # F/BW = 1 + h/s (work and energy, catalogue section 11, row 25): a third of the way to stop in is thrice the load above rest.
    soft, stiff = (reviewed(*faults, phrase=LOW) for faults in ((), (Fault("stiff-landing", "landing-3", 0.4),)))
    assert "heavy-landing" not in {f.fault for f in soft.findings}
    heavy = next(f for f in stiff.findings if f.fault == "heavy-landing")
    assert heavy.phase == stiff.phrase.of_kind("landing")[-1].id
    assert heavy.value > 2.0
