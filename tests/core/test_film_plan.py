"""The plan of a film: length, kinds, speeds, holds, two takes in step, music in step, and what is kept of a stopped one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from in_the_round.analysis_core.compare import compare
from in_the_round.analysis_core.errors import InTheRoundError
from in_the_round.analysis_core.film.counted import counts_of, said_at
from in_the_round.analysis_core.film.pictures import clear, folder_for, key_of, picture, take_up
from in_the_round.analysis_core.film.plan import FilmPlan, plan_film, seconds_for
from in_the_round.analysis_core.film.shown import Shown, of_one, of_other, to_stop_at
from in_the_round.analysis_core.film.soundtrack import pieces_of, soundtrack
from in_the_round.analysis_core.film.wish import Wish, wish_from_json
from in_the_round.analysis_core.findings.finding import Finding
from in_the_round.analysis_core.phrase.counts import Counts
from in_the_round.analysis_core.phrase.phase import OnTheCount
from in_the_round.analysis_core.review import Review
from in_the_round.analysis_core.take import Floats
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.trials import Recorded, record, review_of

WHOLE = b"pixels" + b"\x00\x00\x00\x00IEND\xaeB`\x82"


@cache
def reviews() -> tuple[Review, Review]:
    careless = record(Recorded(rate_hz=60.0), (Fault("axis-tilts", "turn-1", 8.0),))
    return review_of(careless), review_of(record(Recorded(rate_hz=60.0, tempo_bpm=116.0)))


@cache
def shown() -> tuple[list[Finding], dict[str, Shown]]:
    """What the film of the careless take may stop for, and what that take shows of it."""
    wanted = to_stop_at(reviews()[0])
    return wanted, of_one(reviews()[0], wanted)


def at(time_s: float, finding: Finding, name: str) -> tuple[Finding, Shown]:
    """The same finding at another moment, kept by the teacher."""
    moved = replace(finding, id=name, peak_s=time_s, start_s=time_s - 0.2, end_s=time_s + 0.2, decision="kept")
    return moved, Shown(time_s, moved, None, True)


def plan(fps: float = 24, seconds: float = 10.0, **wish: object) -> FilmPlan:
    wanted, moments = shown()
    return plan_film([reviews()[0]], fps, seconds, wanted=wanted, moments=moments, **wish)


@pytest.mark.parametrize("mode", ["hold", "play", "still-view"])
@pytest.mark.parametrize(("fps", "seconds"), [(24, 10.0), (12, 3.0), (30, 40.0), (25, 0.2)])
def test_the_film_is_as_long_as_asked(mode: str, fps: int, seconds: float) -> None:
    made = plan(fps, seconds, mode=mode)
    assert made.frames.shape == made.shown.shape == (max(1, round(fps * seconds)), 1)
    assert made.turned_rad.shape == made.time_s.shape == made.frames.shape[:1]
    assert made.frames.min() >= 0
    assert made.frames.max() < reviews()[0].take.frames
    # Never backwards in one stretch, never faster than a fifth above the dancer's own speed, but for cuts.
    steps = np.diff(made.time_s) * fps
    assert (steps >= -1e-9).all()
    assert (steps[steps < 3] <= 1.2 + 1e-6).all()


def test_it_slows_into_the_worst_correction_turns_once_round_and_goes_on() -> None:
    made = plan()
    (stop,) = made.stops
    assert stop.finding is not None
    assert (stop.finding.fault, stop.held) == ("axis-tilts", True)
    moment = shown()[1][stop.finding.id].time_s
    assert set(made.frames[stop.first : stop.last + 1, 0].tolist()) == {round(moment * 60.0)}
    assert made.turned_rad[stop.last] == pytest.approx(2 * np.pi)
    assert (made.turned_rad[: stop.first] == 0).all()
    speed = np.diff(made.time_s) * 24
    # In the dancer's own time at first, slow just before and after the hold, slower the nearer, and its own time again.
    assert speed[0] == pytest.approx(1.0)
    assert speed[stop.first - 2] < 0.5
    assert speed[stop.last + 1] < 0.5
    assert (np.diff(speed[stop.first - 20 : stop.first - 1]) <= 1e-9).all()
    assert speed[-1] == pytest.approx(1.0)


def test_every_kept_correction_is_held_at_and_those_without_room_are_named() -> None:
    """Would catch a film that leaves a kept correction out in silence, or rewinds between two that lie close together."""
    finding = shown()[0][0]
    kept = [at(time_s, finding, f"k{index}") for index, time_s in enumerate((2.0, 2.6, 9.0))]
    wanted, moments = [f for f, _ in kept], {f.id: item for f, item in kept}
    long = seconds_for(3)
    made = plan_film([reviews()[0]], 24, long, wanted=wanted, moments=moments)
    assert [stop.finding.id for stop in made.stops if stop.finding] == ["k0", "k1", "k2"]
    assert not made.left_out
    assert (np.diff(made.time_s) >= -1e-9).all()
    for stop in made.stops:
        assert made.turned_rad[stop.last] == pytest.approx(2 * np.pi)
    short = plan_film([reviews()[0]], 24, long - 0.5, wanted=wanted, moments=moments)
    assert (len(short.stops), [f.id for f in short.left_out]) == (2, ["k2"])


def test_while_it_plays_the_stage_turns_or_stands_and_slow_is_slow() -> None:
    playing, still, half = plan(mode="play"), plan(mode="still-view"), plan(mode="play", slow=0.5)
    assert (np.diff(playing.turned_rad) > 0).all()
    # A film in a loop goes on turning: one picture after the last one the stage stands where it began.
    assert playing.turned_rad[-1] + playing.turned_rad[1] == pytest.approx(2 * np.pi * round(playing.turned_rad[-1] / 2 / np.pi))
    assert (still.turned_rad == 0).all()
    assert np.diff(playing.time_s)[:100] == pytest.approx(1 / 24)
    assert np.diff(half.time_s)[:100] == pytest.approx(0.5 / 24)
    told = [stop for stop in playing.stops if stop.finding]
    assert told
    assert not any(stop.held for stop in told)
    for stop in told:
        assert playing.time_s[stop.first] <= shown()[1][stop.finding.id].time_s <= playing.time_s[stop.last]
    for slow in (0.0, 1.5, float("nan")):
        with pytest.raises(InTheRoundError, match="half the dancer's own speed"):
            plan(slow=slow)


def test_music_is_heard_only_in_the_dancers_own_time() -> None:
    """Would catch sound under a hold, a slow approach or a cut, and sound that is out of step by more than a picture."""
    made = plan()
    assert made.sounds
    heard = np.zeros(len(made.time_s), dtype=bool)
    for sound in made.sounds:
        expected = sound.time_s + np.arange(sound.last - sound.first + 1) / 24
        assert made.time_s[sound.first : sound.last + 1] == pytest.approx(expected, abs=0.02)
        heard[sound.first : sound.last] = True
    speed = np.diff(made.time_s) * 24
    assert not heard[:-1][np.abs(speed - 1.0) > 0.05].any()
    assert not plan(slow=0.5, mode="play").sounds
    (whole,) = plan(mode="play").sounds
    assert (whole.first, whole.last) == (0, 239)


def test_music_is_in_step_to_the_sample() -> None:
    """Against a sound whose every sample says its own second; would catch music rounded to pictures, or in a hold."""
    rate, offset_s = 1000.0, -9.7
    made = plan()

    def cut(start_s: float, end_s: float) -> Floats:
        return np.arange(round(start_s * rate), round(end_s * rate))[:, None] / rate

    whole = soundtrack(pieces_of(made.sounds, 24, offset_s), cut, rate, 10.0)
    assert whole is not None
    assert whole.shape == (10_000, 1)
    for sound in made.sounds:
        for picture_number in range(sound.first + 3, sound.last - 3):
            expected = made.time_s[picture_number] + offset_s
            assert whole[round(picture_number / 24 * rate), 0] == pytest.approx(max(expected, 0.0), abs=0.012)
    silent = np.ones(10_000, dtype=bool)
    for sound in made.sounds:
        silent[round(sound.first / 24 * rate) : round((sound.last + 1) / 24 * rate) + 1] = False
    assert (whole[silent] == 0).all()
    assert soundtrack(pieces_of(made.sounds, 24, -1000.0), lambda _a, _b: np.ones((1, 2)), rate, 10.0) is None


def test_the_other_take_is_in_step_by_the_comparison() -> None:
    """Its moment is what the comparison says, and at a hold the one whose measure is drawn; what nothing answers is not shown."""
    careless, careful = reviews()
    comparison = compare(careless, careful)
    wanted, moments = shown()
    answers = of_other(careful, wanted, comparison)
    made = plan_film([careless, careful], 24, 10.0, wanted=wanted, moments=moments, comparison=comparison, answers=answers)
    stop = made.stops[0]
    assert stop.finding is not None
    assert made.frames[stop.first, 1] == round(answers[stop.finding.id].time_s * 60.0)
    far = np.abs(made.time_s - moments[stop.finding.id].time_s) > 0.8
    expected = comparison.alignment.to_b(made.time_s)
    both = far & np.isfinite(expected)
    assert np.abs(made.frames[both, 1] - 60.0 * expected[both]).max() <= 0.5 + 1e-6
    assert (made.shown[:, 1] == np.isfinite(expected)).all()
    nothing = replace(comparison, alignment=replace(comparison.alignment, pieces=()))
    alone = plan_film([careless, careful], 24, 2.0, wanted=wanted, moments=moments, comparison=nothing, answers=answers)
    assert alone.shown[:, 0].all()
    assert not alone.shown[:, 1].any()


def test_a_clean_take_is_held_in_the_middle_of_a_step() -> None:
    made = plan_film([reviews()[1]], 24, 6.0, wanted=[], moments={})
    assert [stop.finding for stop in made.stops] == [None]
    at_s = made.time_s[made.stops[0].first]
    assert any(p.start_s <= at_s <= p.end_s for p in reviews()[1].phrase.phases)


def test_counts_are_those_of_the_music() -> None:
    """Would catch counts beside a film that run away from those of its steps; without a tempo seconds are said."""
    phrase = reviews()[1].phrase
    truth = Counts(97.0, 0.31, 3)
    steps = tuple(
        replace(phase, music=OnTheCount(*truth.bar_and_count(phase.on_the_count_s), truth.beat_error_s(phase.on_the_count_s)))
        for phase in phrase.phases
    )
    counts = counts_of(replace(phrase, phases=steps))
    assert counts is not None
    assert (counts.tempo_bpm, counts.offset_s, counts.beats_per_bar) == (pytest.approx(97.0), pytest.approx(0.31), 3)
    moments = np.array([0.0, 0.31, 0.31 + 4.5 * 60 / 97])
    assert said_at(moments, counts) == ["", "bar 1   count 1", "bar 2   count 2"]
    silent = replace(phrase, phases=tuple(replace(phase, music=None) for phase in phrase.phases))
    assert counts_of(silent) is None
    assert said_at(np.array([0.0, 1.99, 2.0]), None) == ["0 s", "1 s", "2 s"]


def test_a_stopped_film_goes_on_with_its_own_pictures_only(tmp_path: Path) -> None:
    """Would catch a picture cut short, or of another film, in this one; and a folder of somebody else that is emptied."""
    wish = Wish(size=(64, 64))
    folder = folder_for(tmp_path / "film.mp4", wish)
    key = key_of([reviews()[0]], plan(), wish)
    assert key == key_of([reviews()[0]], plan(), wish_from_json(wish.to_json()))
    assert key != key_of([reviews()[0]], plan(), replace(wish, size=(64, 66)))
    assert key != key_of([reviews()[0]], plan(slow=0.5), wish)
    assert take_up(folder, key, 240) == 0
    for number in (1, 2, 3):
        picture(folder, number).write_bytes(WHOLE)
    picture(folder, 4).write_bytes(WHOLE[:-5])
    assert take_up(folder, key, 240) == 3
    assert not picture(folder, 4).exists()
    assert take_up(folder, "another film", 240) == 0
    picture(folder, 1).write_bytes(WHOLE)
    mine = folder / "mine.txt"
    mine.write_text("mine")
    clear(folder)
    assert [path.name for path in folder.iterdir()] == ["mine.txt"]
    with pytest.raises(InTheRoundError, match="something other"):
        take_up(folder, key, 240)
    mine.unlink()
    clear(folder)
    assert not folder.exists()


def test_wishes_that_make_no_sense_are_refused(tmp_path: Path) -> None:
    for wish, match in (({"mode": "spin"}, "hold, play"), ({"music": str(tmp_path / "no.wav")}, "is not there")):
        with pytest.raises(InTheRoundError, match=match):
            Wish(**wish)
    page = tmp_path / "notes.txt"
    page.write_text("la la")
    with pytest.raises(InTheRoundError, match="no sound file"):
        Wish(music=str(page))
