"""Counts of the music: from tempo and offset to bar and count, and a tempo proposed from the movement (catalogue 6.5)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import OptionError
from ..take import Floats
from ..wording import music
from ..wording.numbers import plain
from .course import Course
from .signals import derivative, vertex

#: Tempi that are looked for, beats per minute (catalogue 6.5).
SLOWEST_BPM = 40.0
FASTEST_BPM = 220.0
#: Tempo at which people move and tap most readily, and the width of that preference in octaves, by which an octave is chosen
#: (about 120 beats per minute: van Noorden & Moelants 1999, from memory).
PREFERRED_BPM = 120.0
PREFERENCE_OCTAVES = 1.4
#: A repetition of the movement below this correlation is no pulse. Proposed default.
LEAST_STRENGTH = 0.2
#: An event is late or early against its nearest beat only within half a beat; an event this near to a half beat is an "and".
AND_SHARE = 0.25


@dataclass(frozen=True)
class Counts:
    """Tempo of the music. offset_s: time of count 1 of bar 1. beats_per_bar: from the metre (a waltz has 3).

    changes: (bar, tempo) pairs in order of the bars, for music that changes its tempo at the start of a bar.
    Raises OptionError for a tempo or a metre that makes no sense.
    """

    tempo_bpm: float
    offset_s: float = 0.0
    beats_per_bar: int = 4
    changes: tuple[tuple[int, float], ...] = ()

    def __post_init__(self) -> None:
        tempi = (self.tempo_bpm, *(tempo for _, tempo in self.changes))
        if not all(np.isfinite(tempo) and 10.0 <= tempo <= 400.0 for tempo in tempi):
            raise OptionError(f"A tempo of {plain(self.tempo_bpm)} beats per minute makes no sense. Give one between 10 and 400.")
        if self.beats_per_bar < 1:
            raise OptionError(f"A bar of {self.beats_per_bar} beats makes no sense. Give 3 for a waltz, 4 for most other music.")
        bars = [bar for bar, _ in self.changes]
        if bars != sorted(set(bars)) or any(bar < 2 for bar in bars):
            raise OptionError("Changes of tempo must come in the order of their bars, from bar 2 on.")

    def _pieces(self) -> tuple[Floats, Floats, Floats]:
        """First beat, its time and the length of a beat, of every piece of constant tempo."""
        beats, times, lengths = [0.0], [self.offset_s], [60.0 / self.tempo_bpm]
        for bar, tempo in self.changes:
            beat = (bar - 1.0) * self.beats_per_bar
            times.append(times[-1] + (beat - beats[-1]) * lengths[-1])
            beats.append(beat)
            lengths.append(60.0 / tempo)
        return np.array(beats), np.array(times), np.array(lengths)

    def beat(self, time_s: float) -> float:
        """Beats since count 1 of bar 1, with fraction; negative before it."""
        beats, times, lengths = self._pieces()
        piece = max(0, int(np.searchsorted(times, time_s, side="right")) - 1)
        return float(beats[piece] + (time_s - times[piece]) / lengths[piece])

    def time_s(self, beat: float) -> float:
        """Time of a beat that is counted from count 1 of bar 1."""
        beats, times, lengths = self._pieces()
        piece = max(0, int(np.searchsorted(beats, beat, side="right")) - 1)
        return float(times[piece] + (beat - beats[piece]) * lengths[piece])

    def bar_and_count(self, time_s: float) -> tuple[int, float]:
        """Bar (1 is the first, 0 the one before it) and count (1 ≤ count < beats per bar + 1) of a time."""
        # A time that was computed from a beat must not fall into the beat before by its last digit.
        beat = self.beat(time_s) + 1e-9
        bar = int(np.floor(beat / self.beats_per_bar))
        return bar + 1, 1.0 + beat - bar * self.beats_per_bar

    def said(self, time_s: float) -> str:
        """The place in the music in words: "bar 3, count 2", "bar 3, after count 2", or "before the music"."""
        halves = np.round(2.0 * self.beat(time_s)) / 2.0
        if halves < 0:
            return music.BEFORE
        bar, count = self.bar_and_count(self.time_s(float(halves)))
        return music.place(bar, int(count), after=bool(halves % 1))

    def beat_error_s(self, time_s: float) -> float:
        """Time from the nearest beat, + = late; at most half a beat (catalogue M28)."""
        return time_s - self.time_s(float(np.round(self.beat(time_s))))


@dataclass(frozen=True)
class TempoProposal:
    """A tempo that the movement itself suggests; nobody has heard the music.

    strength: 0..1, how well the movement repeats with this beat. others: tempi an octave or a third away that fit as well,
    best first. plus_minus_bpm: from the width of the repetition's peak.
    """

    counts: Counts
    strength: float
    plus_minus_bpm: float
    others: tuple[float, ...]


def _pulse(course: Course) -> Floats:
    """How strongly the body accents each moment (F,): upward acceleration of the body and arrivals of the feet."""
    rate = course.rate_hz
    vertical = np.nan_to_num(derivative(course.movement.centre_of_mass_m[:, 2], rate, 2, 0.15))
    spread = float(np.std(vertical))
    pulse = np.maximum(vertical, 0.0) / spread if spread > 0 else np.zeros_like(vertical)
    arrivals = np.zeros_like(pulse)
    for stances in course.feet.stances:
        for on, _ in stances:
            if on > 0:
                arrivals[min(round(on), arrivals.size - 1)] += 1.0
    width = max(1.0, 0.03 * rate)
    kernel = np.exp(-0.5 * (np.arange(-int(4 * width), int(4 * width) + 1) / width) ** 2)
    if arrivals.size <= kernel.size:
        return pulse
    felt = pulse + np.convolve(arrivals, kernel, mode="same")
    return np.asarray(felt - felt.mean())


def propose_counts(course: Course, beats_per_bar: int = 4) -> TempoProposal | None:
    """Tempo from the autocorrelation of the body's accents, 40–220 beats per minute, with octave check; None without a pulse.

    The offset is the phase of the beat grid that gathers most accents, so it may be any beat of the bar. Accents are the
    upward acceleration of the centre of mass and the arrivals of the feet; unknown samples count as no accent.
    """
    rate = course.rate_hz
    pulse = _pulse(course)
    shortest, longest = int(np.floor(60.0 / FASTEST_BPM * rate)), int(np.ceil(60.0 / SLOWEST_BPM * rate))
    if pulse.size < 3 * longest and pulse.size < 6 * rate:
        return None
    if not pulse.any():
        return None
    size = 1 << int(np.ceil(np.log2(2 * pulse.size)))
    spectrum = np.fft.rfft(pulse, size)
    correlation = np.fft.irfft(spectrum * np.conj(spectrum), size)[: pulse.size]
    lags = np.arange(pulse.size)
    correlation = correlation / correlation[0] * pulse.size / np.maximum(pulse.size - lags, pulse.size / 4)
    lag = np.arange(shortest, min(longest, pulse.size // 2) + 1)
    # Octave check: a beat's multiples repeat as well, and a beat that people like to move to is preferred to its half.
    multiples = [correlation[np.minimum(k * lag, pulse.size - 1)] for k in (1, 2, 3)]
    steadiness = (multiples[0] + multiples[1] + multiples[2]) / 3.0
    octaves = np.log2(60.0 * rate / lag / PREFERRED_BPM)
    score = steadiness * np.exp(-0.5 * (octaves / PREFERENCE_OCTAVES) ** 2)
    inner = np.flatnonzero((steadiness[1:-1] >= steadiness[:-2]) & (steadiness[1:-1] >= steadiness[2:])) + 1
    if inner.size == 0:
        return None
    order = inner[np.argsort(score[inner])[::-1]]
    best = int(order[0])
    strength = float(correlation[lag[best]])
    if strength < LEAST_STRENGTH:
        return None
    # A far multiple of the beat tells its length more finely than the beat itself.
    period = vertex(correlation, int(lag[best]))
    times = 1
    for k in range(2, 17):
        around = round(k * period)
        reach = max(1, round(0.1 * period))
        if around + reach + 1 >= 0.6 * pulse.size:
            break
        peak = around - reach + int(np.argmax(correlation[around - reach : around + reach + 1]))
        if correlation[peak] < 0.5 * strength:
            break
        period, times = vertex(correlation, peak) / k, k
    phases = np.arange(round(period))
    beats = int(pulse.size / period)
    grid = np.minimum((phases[:, None] + period * np.arange(beats)[None, :]).round().astype(np.int64), pulse.size - 1)
    offset = float(phases[np.argmax(pulse[grid].mean(axis=1))]) / rate
    tempo = 60.0 * rate / period
    others = tuple(float(60.0 * rate / lag[i]) for i in order[1:4] if score[i] > 0.6 * score[best])
    return TempoProposal(Counts(tempo, offset, beats_per_bar), min(strength, 1.0), tempo * 0.5 / (times * period), others)
