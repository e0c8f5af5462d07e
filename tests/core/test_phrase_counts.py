"""Counts of the music."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from in_the_round.analysis_core.errors import OptionError
from in_the_round.analysis_core.phrase import Counts, propose_tempo
from in_the_round.simulated_dancer import Plie, Sautes, Stand, simulate


def test_worked_example() -> None:
    """t_k = offset + 60·k/BPM (catalogue 6.5), worked by hand: 120 beats a minute from 1.0 s, four to the bar."""
    counts = Counts(120.0, 1.0)
    assert counts.bar_and_count(1.0) == (1, pytest.approx(1.0))
    assert counts.bar_and_count(2.5) == (1, pytest.approx(4.0))
    assert counts.bar_and_count(3.0) == (2, pytest.approx(1.0))
    assert counts.said(5.5) == "bar 3, count 2"
    assert counts.said(5.76) == "bar 3, after count 2"
    assert counts.said(0.2) == "before the music"
    assert counts.beat_error_s(3.06) == pytest.approx(0.06)
    assert counts.beat_error_s(2.95) == pytest.approx(-0.05)


def test_waltz() -> None:
    """Three counts to the bar."""
    counts = Counts(180.0, 0.0, 3)
    assert counts.bar_and_count(1.0) == (2, pytest.approx(1.0))


def test_a_change_of_tempo() -> None:
    """Two bars of four at 120 last 4 s; from bar 3 at 60 a beat lasts 1 s."""
    counts = Counts(120.0, 0.0, 4, ((3, 60.0),))
    assert counts.time_s(8) == pytest.approx(4.0)
    assert counts.time_s(9) == pytest.approx(5.0)
    assert counts.bar_and_count(6.0) == (3, pytest.approx(3.0))


@given(st.floats(40, 220), st.floats(-5, 5), st.integers(1, 12), st.integers(0, 400))
def test_beats_and_times_agree(tempo: float, offset: float, beats_per_bar: int, beat: int) -> None:
    """A beat's time falls on that beat."""
    counts = Counts(tempo, offset, beats_per_bar)
    bar, count = counts.bar_and_count(counts.time_s(beat))
    assert (bar - 1) * beats_per_bar + round(count) - 1 == beat
    assert counts.beat_error_s(counts.time_s(beat)) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    "arguments",
    [(0.0,), (float("nan"),), (1000.0,), (120.0, 0.0, 0), (120.0, 0.0, 4, ((1, 60.0),)), (120.0, 0.0, 4, ((5, 0.0),))],
)
def test_nonsense_is_refused(arguments: tuple[float, ...]) -> None:
    """A tempo or a metre that makes no sense is said in a sentence."""
    with pytest.raises(OptionError):
        Counts(*arguments)


@pytest.mark.parametrize("tempo_bpm", [96.0, 120.0])
def test_the_movement_proposes_its_tempo(tempo_bpm: float) -> None:
    """Eight sautés, one every two beats: the proposal is that tempo, its half or its double."""
    movement = simulate((Stand(2), Plie(4), Sautes(8)), rate_hz=120.0, tempo_bpm=tempo_bpm).movement
    proposal = propose_tempo(movement)
    assert proposal is not None
    octaves = [tempo_bpm * factor for factor in (0.5, 1.0, 2.0)]
    assert min(abs(proposal.counts.tempo_bpm - octave) / octave for octave in octaves) < 0.02


def test_standing_still_has_no_tempo() -> None:
    """Nobody moves: nothing is proposed."""
    assert propose_tempo(simulate((Stand(16),), rate_hz=60.0).movement) is None
