"""Low-pass filtering of marker paths without delay, and the choice of the cut-off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

import numpy as np

from ..runs import runs
from ..take import Floats
from .gaps import present

#: Bounds of the cut-off by body part, Hz: posture low, feet high so that contacts stay sharp. Common practice and proposed
#: default (catalogue 3.2): no published norm.
CUT_OFF_BOUNDS_HZ = {
    "pelvis": (6.0, 12.0), "thorax": (6.0, 10.0), "head": (6.0, 12.0), "thigh": (6.0, 12.0), "shank": (8.0, 15.0),
    "foot": (12.0, 20.0), "toes": (12.0, 20.0), "clavicle": (6.0, 10.0), "upper_arm": (6.0, 12.0), "forearm": (8.0, 14.0),
    "hand": (8.0, 14.0),
}  # fmt: skip
USUAL_BOUNDS_HZ = (8.0, 15.0)
#: Candidates of the residual analysis, Hz, whole so that markers can be filtered together; from so much of the highest on
#: they are taken for noise alone.
_CANDIDATES = np.arange(1.0, 26.0)
_NOISE_FROM = 0.6
#: A foot that comes down faster than this and is slowed by more than that within 20 ms has landed, m/s. Proposed defaults.
_FALLING_M_S, _STOPPED_BY_M_S, _STOPPED_WITHIN_S = 0.4, 0.5, 0.02


def pass_factor(passes: int) -> float:
    """Factor C = (2^(1/n) − 1)^(1/4) by which n passes of a second-order filter lower its cut-off.

    Source: Winter 2009, as reproduced in open course notebooks (catalogue 3.1).
    """
    return float((2.0 ** (1.0 / passes) - 1.0) ** 0.25)


def design_frequency(cut_off_hz: Floats | float, rate_hz: float) -> Floats:
    """Design frequency of one pass so that two passes are 3 dB down at exactly ``cut_off_hz``.

    The bilinear transform warps frequencies, so the warped one is corrected: f' = fs/π · atan(tan(π fc/fs) / C).
    """
    return np.asarray(rate_hz / np.pi * np.arctan(np.tan(np.pi * np.asarray(cut_off_hz) / rate_hz) / pass_factor(2)))


def gain(frequency_hz: Floats, cut_off_hz: Floats | float, rate_hz: float) -> Floats:
    """Gain at each frequency, broadcast, of a second-order Butterworth forward and back, 3 dB down at ``cut_off_hz``.

    Forward and back there is no delay, and the gain is the square of one pass: 1 / (1 + (tan(π f/fs) / tan(π f'/fs))⁴) with
    f' the design frequency. Source: Winter 2009 for two passes; the bilinear transform for the tangents (textbook).
    """
    warped = np.tan(np.pi * np.minimum(frequency_hz, 0.499 * rate_hz) / rate_hz)
    # Each fourth power by itself, before they are spread over all frequencies and cut-offs.
    kept = np.asarray(warped**4 * np.tan(np.pi * design_frequency(cut_off_hz, rate_hz) / rate_hz) ** -4)
    kept += 1
    return np.asarray(np.reciprocal(kept, out=kept))


#: So many places are filtered in one call: a spectrum needs six times the memory of what it is of, and should stay near the
#: processor.
_SAMPLES_AT_ONCE = 100_000
#: What is left of a sample where a filter is said not to reach any more: what rounding leaves of a path of some hundred metres.
_FADED = 1e-13


def _at_once(markers: list[int], frames: int) -> Iterator[list[int]]:
    """Markers in parts that are few enough to be transformed in one call."""
    step = max(1, _SAMPLES_AT_ONCE // frames)
    return (markers[first : first + step] for first in range(0, len(markers), step))


def _reach(cut_off_hz: float, rate_hz: float) -> int:
    """Samples within which what a filter has taken in fades out: by the poles of one pass, (1 + s) / (1 - s) for the s of the
    warped design frequency at 135° (textbook)."""
    warped = np.tan(np.pi * design_frequency(cut_off_hz, rate_hz) / rate_hz)
    shrinks = (1 - np.sqrt(2) * warped + warped**2) / (1 + np.sqrt(2) * warped + warped**2)
    return int(np.ceil(2 * np.log(_FADED) / np.log(shrinks)))


def _quick_length(least: int) -> int:
    """The next length, at most an eighth longer, of which a spectrum is quick: up to 16 times a power of two."""
    power = 1 << max(least.bit_length() - 4, 0)
    return -(-least // power) * power


def _line(paths: Floats) -> Floats:
    """Straight lines (..., F) from the first to the last sample of paths (..., F)."""
    first, last = paths[..., :1], paths[..., -1:]
    return np.asarray(first + np.linspace(0.0, 1.0, paths.shape[-1]) * (last - first))


def low_pass(values: Floats, cut_off_hz: float, rate_hz: float) -> Floats:
    """Second-order Butterworth forward and back over axis 0, exactly 3 dB down at ``cut_off_hz``; no missing samples.

    The stretch goes on, turned about its first and its last sample, as far as the filter reaches; so its ends stay where
    they are. It is filtered by its spectrum, at the cost of one transform however many paths (F, ...) there are. A cut-off
    beyond 40 % of the rate, or a stretch of fewer than four samples, is returned as it is: there is nothing to take away.
    """
    paths = np.moveaxis(values, 0, -1)
    return np.moveaxis(_low_passed(paths, np.full((1,) * (paths.ndim - 1), cut_off_hz), rate_hz), -1, 0)


def _low_passed(paths: Floats, cut_off_hz: Floats, rate_hz: float) -> Floats:
    """``low_pass`` of paths (..., F), each with a cut-off that broadcasts against (...): whatever is whole in one call, each path
    in one piece."""
    frames = paths.shape[-1]
    filtered = cut_off_hz < 0.4 * rate_hz
    if frames < 4 or not filtered.any():
        return paths.copy()
    # Without the line both ends are zero, so that the path and its turned copy close to one smooth period.
    paths = np.ascontiguousarray(paths)
    line = _line(paths)
    reach = _reach(float(cut_off_hz.min()), rate_hz)
    length = _quick_length(frames + 2 * reach)
    # What goes on before the first sample stands at the end, where a spectrum has it.
    place = (np.arange(length) + reach) % length - reach
    place %= 2 * (frames - 1)
    turned = place >= frames
    longer = np.take(paths - line, np.where(turned, 2 * (frames - 1) - place, place), axis=-1)
    longer *= np.where(turned, -1.0, 1.0)
    spectrum = np.fft.rfft(longer)
    kept = gain(np.fft.rfftfreq(length, 1 / rate_hz), cut_off_hz[..., None], rate_hz)
    kept[~filtered] = 1.0
    spectrum *= kept
    smooth_level: Floats = np.fft.irfft(spectrum, n=length)[..., :frames]
    return smooth_level + line


def residual_cut_off(paths: Floats, rate_hz: float, bounds_hz: tuple[Floats | float, Floats | float]) -> Floats:
    """Cut-off (...) in Hz of paths (F, ..., 3) by residual analysis, within bounds (...); of a path with missing samples, or of
    too short ones, the middle between them.

    The residual of every candidate comes from the path's spectrum and the filter's gain, which equals filtering with each.
    Noise is the straight line through the residuals of the high candidates; the chosen cut-off is the one whose residual
    equals that line's value at 0 Hz. Source: Winter 2009 (residual analysis).
    """
    low, high = bounds_hz
    frames = paths.shape[0]
    candidates = _CANDIDATES[0.4 * rate_hz > _CANDIDATES]
    noisy = candidates >= _NOISE_FROM * candidates[-1]
    if frames < rate_hz / 2 or noisy.sum() < 3:
        return np.broadcast_to(0.5 * (np.asarray(low) + high), paths.shape[1:-1])
    # Without the line from first to last sample the spectrum of a travelling marker would be all leakage.
    rows = np.ascontiguousarray(np.moveaxis(paths, 0, -1))
    spectrum = np.fft.rfft(rows - _line(rows))
    # Up to a factor: the noise is told from the same residuals.
    power = (spectrum.real**2 + spectrum.imag**2).sum(axis=-2)
    kept = gain(np.fft.rfftfreq(frames, 1 / rate_hz)[:, None], candidates, rate_hz)
    residual = np.sqrt(np.tensordot((1 - kept) ** 2, power, axes=(0, -1)))
    line = np.stack([np.ones(int(noisy.sum())), candidates[noisy]], axis=1)
    intercept = np.tensordot(np.linalg.pinv(line)[0], residual[noisy], axes=1)
    # Residuals only fall, so the line begins above the last of them.
    chosen = np.clip(candidates[np.argmax(residual <= intercept, axis=0)], low, high)
    return np.asarray(np.where(np.isfinite(paths).all(axis=(0, -1)), chosen, 0.5 * (np.asarray(low) + high)))


def choose_cut_offs(positions: Floats, rate_hz: float, segment_of: Mapping[int, str]) -> Floats:
    """Cut-off (N,) in Hz of every marker of positions (F, N, 3), from its longest whole stretch, within its part's bounds."""
    parts = [segment_of.get(marker, "").partition(".")[0] for marker in range(positions.shape[1])]
    low, high = np.array([CUT_OFF_BOUNDS_HZ.get(part, USUAL_BOUNDS_HZ) for part in parts]).reshape(-1, 2).T
    result: Floats = low.copy()
    there = present(positions)
    longest = [max(runs(seen), key=lambda stretch: stretch[1] - stretch[0], default=(0, 0)) for seen in there.T]
    for start, end in set(longest) - {(0, 0)}:
        # Markers with the same stretch are transformed together.
        alike = [marker for marker, stretch in enumerate(longest) if stretch == (start, end)]
        for columns in _at_once(alike, end - start):
            bounds = low[columns], high[columns]
            result[columns] = residual_cut_off(positions[start:end, columns], rate_hz, bounds)
    return result


def landings(path: Floats, rate_hz: float) -> list[int]:
    """Frames at which a path (F, 3) of a foot marker, moving down, is stopped by the floor; none in missing samples.

    The speed before and after, each over 20 ms, differs by more than any movement in the air changes it.
    """
    reach = max(1, round(_STOPPED_WITHIN_S * rate_hz))
    height = path[:, 2]
    before = (height[reach:-reach] - height[: -2 * reach]) * rate_hz / reach
    after = (height[2 * reach :] - height[reach:-reach]) * rate_hz / reach
    change = np.where((before < -_FALLING_M_S) & (after > -0.5 * _FALLING_M_S), after - before, 0.0)
    stopped = np.nan_to_num(change) > _STOPPED_BY_M_S
    return [start + reach + int(np.argmax(change[start:end])) for start, end in runs(stopped)]


def smooth(positions: Floats, cut_off_hz: Floats, rate_hz: float, segment_of: Mapping[int, str] | None = None) -> Floats:
    """Low-pass every marker of positions (F, N, 3) at its own cut-off (N,); NaN stays NaN and nothing is filtered across it.

    Nor across a landing, for markers of the feet by segment_of: the floor stops them within a few samples.
    """
    result = positions.copy(order="K")
    there = present(positions)
    feet = [marker for marker, part in (segment_of or {}).items() if part.partition(".")[0] in ("foot", "toes")]
    stops = {marker: found for marker in feet if (found := landings(positions[:, marker], rate_hz))}
    whole = there.all(axis=0)
    whole[list(stops)] = False
    paths, smoothed = positions.transpose(1, 2, 0), result.transpose(1, 2, 0)
    for columns in _at_once(np.flatnonzero(whole).tolist(), positions.shape[0]):
        smoothed[columns] = _low_passed(paths[columns], cut_off_hz[columns, None], rate_hz)
    for marker in np.flatnonzero(~whole).tolist():
        for start, end in runs(there[:, marker]):
            # The sample of the landing ends one stretch and begins the next; the filter leaves both ends where they are.
            cuts = [start, *(stop for stop in stops.get(marker, ()) if start < stop < end - 1), end - 1]
            for first, last in pairwise(cuts):
                stretch = slice(first, last + 1)
                smoothed[marker, :, stretch] = _low_passed(paths[marker, :, stretch], cut_off_hz[[marker]], rate_hz)
    return result
