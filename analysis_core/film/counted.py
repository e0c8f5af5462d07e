"""The counts of the music beside a film, from where its steps lie in the music; without a tempo the seconds of the take."""

from __future__ import annotations

import numpy as np

from ..phrase.counts import Counts
from ..phrase.phase import Phrase
from ..take import Floats
from ..wording import music, numbers

#: The steps lie on one tempo when all are nearer than this to it, seconds.
_ONE_TEMPO_S = 0.02


def counts_of(phrase: Phrase) -> Counts | None:
    """The counts that the steps of a phrase carry; None without a tempo, with too few steps, or where the tempo changes."""
    steps = [(phase.on_the_count_s, phase.music.bar, phase.music.count) for phase in phrase.phases if phase.music is not None]
    if len(steps) < 3:
        return None
    time_s, bar, count = np.array(steps, dtype=np.float64).T
    known = np.stack([np.ones_like(bar), bar - 1.0, count - 1.0], axis=1)
    (offset_s, bar_s, beat_s), _, rank, _ = np.linalg.lstsq(known, time_s, rcond=None)
    if rank < 3 or beat_s <= 0 or np.abs(known @ [offset_s, bar_s, beat_s] - time_s).max() > _ONE_TEMPO_S:
        return None
    beats = round(float(bar_s / beat_s))
    return Counts(60.0 / float(beat_s), float(offset_s), beats) if beats >= 1 else None


def said_at(time_s: Floats, counts: Counts | None) -> list[str]:
    """What stands beside each picture (K,): bar and count, or the second of the take."""
    if counts is None:
        return [numbers.seconds(int(moment), 0) for moment in time_s]
    words = []
    for moment in time_s:
        bar, count = counts.bar_and_count(float(moment))
        words.append(music.beside_film(bar, int(count)) if bar >= 1 else "")
    return words
