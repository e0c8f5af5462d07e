"""The music of a film: pieces of a sound file, to the sample, where the dancer's own speed is seen; silence elsewhere."""

from __future__ import annotations

import wave
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..take import Floats
from .plan import Sound

#: Music comes and goes within so many seconds, or it would click. Proposed default.
FADE_S = 0.08


@dataclass(frozen=True)
class Piece:
    """at_s: second of the film; from_s: second of the sound file; length_s: how long it is heard."""

    at_s: float
    from_s: float
    length_s: float


def pieces_of(sounds: Sequence[Sound], fps: float, offset_s: float) -> list[Piece]:
    """What is heard when at offset_s of the sound file the take begins; what lies before its beginning is left out."""
    pieces = []
    for sound in sounds:
        from_s, length_s = sound.time_s + offset_s, (sound.last + 1 - sound.first) / fps
        missing_s = max(-from_s, 0.0)
        if missing_s < length_s:
            pieces.append(Piece(sound.first / fps + missing_s, from_s + missing_s, length_s - missing_s))
    return pieces


def soundtrack(pieces: Sequence[Piece], cut: Callable[[float, float], Floats], rate_hz: float, seconds: float) -> Floats | None:
    """Samples (N, channels) of the whole film; None when nothing is heard. cut: samples of the file between two seconds."""
    whole: Floats | None = None
    for piece in pieces:
        samples = np.atleast_2d(np.asarray(cut(piece.from_s, piece.from_s + piece.length_s), dtype=np.float64))
        first = round(piece.at_s * rate_hz)
        samples = samples[: max(round(seconds * rate_hz) - first, 0)]
        if not samples.size:
            continue
        ramp = np.minimum((np.arange(len(samples)) + 1) / (FADE_S * rate_hz), 1.0)
        if whole is None:
            whole = np.zeros((round(seconds * rate_hz), samples.shape[1]))
        whole[first : first + len(samples)] += samples * (ramp * ramp[::-1])[:, None]
    return whole


def write_sound(samples: Floats, rate_hz: int, path: Path) -> None:
    """Samples (N, channels) from -1 to 1 as a WAV file of 16 bits."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(samples.shape[1])
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes((np.clip(samples, -1.0, 1.0) * 32767).astype("<i2").tobytes())
