"""Gaps filled by the method that proves best on samples of the same marker that are knocked out on purpose."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..take import Floats, Source
from .gaps import Gap, close_short, closing_weights, frames_beside, is_short, present
from .low_rank import learn
from .rigidity import Carrier, Survey, carry, is_wide, same_segment, shape_of

#: Longer gaps are never filled: nothing that is made up for so long may carry a finding. Source: catalogue 3.3, proposed default.
LONGEST_FILL_S = 2.0
#: Patterns are believed only for markers that are there for this share of the take. Source: catalogue 3.3 (Federolf 2013).
_LEAST_PRESENT = 0.5
#: A fill that errs by more than this on knocked-out samples is not made, metres. Proposed defaults, no published norm: a
#: group that errs by more is not rigid, a pattern that errs by more is a guess.
_MOST_ERROR_M = {Source.OWN_PATH: 0.015, Source.BODY_PART: 0.015, Source.WHOLE_BODY: 0.030}
#: A less direct method has to err by less than this share of the more direct one before it is taken.
_WORTH_IT = 0.6
#: Companions from other body parts count as rigid when their distance keeps within this (80 % of the frames), metres.
_RIGID_SPREAD_M = 0.004
#: And the marker leaves its place among them by no more than this in 98 % of the frames: a shoulder rests until the arm rises.
_MOST_AWAY_M = 0.010
_MOST_COMPANIONS, _PREDICTORS, _LEAST_PREDICTORS = 5, 10, 3
#: A predictor has to be there for this share of the take.
_PREDICTOR_PRESENT = 0.8
#: The ends of a fill are means over this long, so that the noise of one sample does not tilt it.
_END_S = 0.02
#: Knocked-out samples are tried at this rate, Hz, at so many places; how much more the nearest two count.
_TRIAL_RATE_HZ, _TRIALS, _WEIGHT_OF_NEAREST = 60.0, 24, 6.0


@dataclass(frozen=True)
class Fill:
    """What closes one gap. samples (n, 3); error_m (n,): expected error of each sample; source: the method."""

    gap: Gap
    samples: Floats
    error_m: Floats
    source: Source


class GapFiller:
    """Fills the gaps of one take; what several gaps need is worked out once."""

    def __init__(self, positions: Floats, surveyed: Survey, rate_hz: float, segment_of: Mapping[int, str]) -> None:
        """positions (F, N, 3): what is known, NaN elsewhere."""
        self._positions, self._surveyed, self._rate_hz, self._segment_of = positions, surveyed, rate_hz, segment_of
        self._there = present(positions)
        self._step = max(1, round(rate_hz / _TRIAL_RATE_HZ))
        self._end = max(1, round(_END_S * rate_hz))
        self._shapes: dict[tuple[int, ...], Floats | None] = {}
        self._carriers: dict[tuple[int, ...], Carrier] = {}
        self._errors_among_gaps: dict[tuple[int, int], float] = {}

    def fill(self, gap: Gap, noise_m: float) -> Fill | None:
        """The best fill of a gap, or None when nothing holds. noise_m: of the marker's measured samples."""
        if gap.length > round(LONGEST_FILL_S * self._rate_hz) or not self._there[:, gap.marker].any():
            return None
        best: Fill | None = None
        best_error = np.inf
        for source, attempt in (
            (Source.OWN_PATH, self._by_own_path),
            (Source.BODY_PART, self._by_body_part),
            (Source.WHOLE_BODY, self._by_whole_body),
        ):
            found = attempt(gap)
            if found is None:
                continue
            samples, error = found
            if error <= _MOST_ERROR_M[source] and error < _WORTH_IT * best_error:
                best, best_error = Fill(gap, samples, self._along(gap, error, noise_m), source), error
        return best

    def _along(self, gap: Gap, error: float, noise_m: float) -> Floats:
        """Error (n,) along a gap: noise at its known ends, most in the middle or at the open end, ``error`` in the mean."""
        along = (np.arange(gap.length) + 0.5) / gap.length
        if gap.start == 0:
            share = 2 * (1 - along)
        else:
            share = 2 * along if gap.end == self._positions.shape[0] else 6 * along * (1 - along)
        return np.asarray(np.sqrt(noise_m**2 + error**2 * share))

    def _by_own_path(self, gap: Gap) -> tuple[Floats, float] | None:
        path, there = self._positions[:, gap.marker], self._there[:, gap.marker]
        samples = close_short(path, gap, self._rate_hz)
        if samples is None:
            return None
        beside = frames_beside(gap.length, self._rate_hz)
        starts, weights = _trials(there, gap.length, -int(beside[0]), gap.start)
        if not starts.size:
            return samples, self._error_among_gaps(gap)
        guessed = np.einsum("nk,ski->sni", closing_weights(beside, gap.length), path[starts[:, None] + beside])
        apart = guessed - path[starts[:, None] + np.arange(gap.length)]
        return samples, _mean_error(apart, weights)

    def _error_among_gaps(self, gap: Gap) -> float:
        """Error of closing gaps so long of a marker where no stretch without others is long enough for a trial: of trials with
        others close by; half of what is allowed where there is none."""
        key = gap.marker, gap.length
        if key not in self._errors_among_gaps:
            path, there = self._positions[:, gap.marker], self._there[:, gap.marker]
            missed, weights = [], []
            for start, weight in zip(*_trials(there, gap.length, 0, gap.start), strict=True):
                knocked_out = slice(start, start + gap.length)
                hidden = path.copy()
                hidden[knocked_out] = np.nan
                guessed = close_short(hidden, Gap(gap.marker, start, start + gap.length), self._rate_hz)
                if guessed is not None:
                    missed.append(guessed - path[knocked_out])
                    weights.append(weight)
            error = _mean_error(np.stack(missed), np.array(weights)) if missed else 0.5 * _MOST_ERROR_M[Source.OWN_PATH]
            self._errors_among_gaps[key] = error
        return self._errors_among_gaps[key]

    def _by_body_part(self, gap: Gap) -> tuple[Floats, float] | None:
        companions = self._rigid_companions(gap)
        if companions is None:
            return None
        places = self._carrier(companions).local_point(self._positions[:: self._step, gap.marker])
        error = self._tried(gap, places, lambda window: places[window])
        samples = self._led_to_its_ends(gap, companions, None)
        return None if error is None or samples is None else (samples, error)

    def _by_whole_body(self, gap: Gap) -> tuple[Floats, float] | None:
        if is_short(gap.length, self._rate_hz) or self._there[:, gap.marker].mean() < _LEAST_PRESENT:
            return None
        companions = self._rigid_companions(gap) or self._nearest_companions(gap)
        predictors = [
            other for other in self._whole(gap, range(self._there.shape[1])) if self._there[:, other].mean() >= _PREDICTOR_PRESENT
        ][:_PREDICTORS]
        if companions is None or len(predictors) < _LEAST_PREDICTORS:
            return None
        carrier, thinned = self._carrier(companions), self._positions[:: self._step]
        places = carrier.local_point(thinned[:, gap.marker])
        pattern = learn(places, carrier.local(thinned[:, predictors]).reshape(places.shape[0], -1))
        if pattern is None:
            return None
        usable = np.where(np.isfinite(pattern.rows).all(axis=1)[:, None], places, np.nan)
        error = self._tried(gap, usable, lambda window: places[window] - pattern.predict_unseen(window))

        def predicted(own: Carrier, around: slice) -> Floats:
            seen = own.local(self._positions[around][:, predictors])
            return pattern.predict(seen.reshape(seen.shape[0], -1))

        samples = self._led_to_its_ends(gap, companions, predicted)
        if error is None or samples is None:
            return None
        inside = self._carrier(companions, slice(gap.start, gap.end))
        seen = inside.local(self._positions[gap.start : gap.end][:, predictors]).reshape(gap.length, -1)
        return samples, error * pattern.novelty(seen)

    def _whole(self, gap: Gap, among: range | list[int]) -> list[int]:
        """Markers that are there through a gap and at its ends, the steadiest towards the gap's marker first."""
        around = self._around(gap)
        whole = self._there[around].all(axis=0)
        return [other for other in self._surveyed.steadiest(gap.marker, among) if whole[other]]

    def _rigid_companions(self, gap: Gap) -> tuple[int, ...] | None:
        """Companions of the same body part, or others that proved as steady; None when fewer than three hold."""
        near = self._surveyed.spread_m[gap.marker]
        own = self._whole(gap, same_segment(gap.marker, self._segment_of))[:_MOST_COMPANIONS]
        steady = [other for other in self._whole(gap, range(self._there.shape[1])) if near[other] <= _RIGID_SPREAD_M]
        if gap.marker in self._segment_of and not own:
            # Nothing else of its body part is seen: what looks rigid may only not have moved yet.
            return None
        for group in (own, list(dict.fromkeys([*own, *steady]))[:_MOST_COMPANIONS]):
            members = tuple(sorted(group))
            if len(group) >= 3 and self._shape(members) is not None and (group == own or self._stays(gap.marker, members)):
                return members
        return None

    def _stays(self, marker: int, group: tuple[int, ...]) -> bool:
        """Whether a marker keeps its place among markers of other body parts all but always, not only most of the time."""
        places = self._carrier(group).local_point(self._positions[:: self._step, marker])
        known = places[np.isfinite(places[:, 0])]
        away = np.linalg.norm(known - np.median(known, axis=0), axis=1) if known.size else np.array([np.inf])
        return bool(np.quantile(away, 0.98) <= _MOST_AWAY_M)

    def _nearest_companions(self, gap: Gap) -> tuple[int, ...] | None:
        """The steadiest markers that span a plane, whatever they are stuck to."""
        nearest = self._whole(gap, range(self._there.shape[1]))
        for count in range(4, _MOST_COMPANIONS + 3):
            group = tuple(sorted(nearest[:count]))
            if len(group) == count and self._shape(group) is not None:
                return group
        return None

    def _shape(self, group: tuple[int, ...]) -> Floats | None:
        """Shape of a group that fixes a rotation, or None."""
        if group not in self._shapes:
            shape = shape_of(self._positions[:: self._step, group])
            self._shapes[group] = shape if shape is not None and is_wide(shape) else None
        return self._shapes[group]

    def _carrier(self, group: tuple[int, ...], around: slice | None = None) -> Carrier:
        """The frame that moves with a group, in the thinned frames of the whole take or in all frames ``around`` a gap."""
        shape = self._shape(group)
        if shape is None:
            raise ValueError("the group fixes no rotation")
        if around is not None:
            return carry(self._positions[around][:, group], shape)
        if group not in self._carriers:
            self._carriers[group] = carry(self._positions[:: self._step, group], shape)
        return self._carriers[group]

    def _around(self, gap: Gap) -> slice:
        return slice(max(0, gap.start - self._end), min(self._positions.shape[0], gap.end + self._end))

    def _tried(self, gap: Gap, places: Floats, missed: Callable[[slice], Floats]) -> float | None:
        """Error of a method on knocked-out samples of the thinned take, its ends led as they will be; None without a trial.

        places (K, 3): finite where a trial can be made. missed: what the method leaves unexplained in a window.
        """
        length = max(1, round(gap.length / self._step))
        starts, weights = _trials(np.isfinite(places[:, 0]), length, 1, gap.start // self._step)
        if not starts.size:
            return None
        left = np.stack([missed(slice(start - 1, start + length + 1)) for start in starts])
        before, after = gap.start > 0, gap.end < self._positions.shape[0]
        first = left[:, :1] if before else left[:, -1:]
        last = left[:, -1:] if after else left[:, :1]
        share = (np.arange(1, length + 1) / (length + 1))[None, :, None]
        return _mean_error(left[:, 1:-1] - first - share * (last - first), weights)

    def _led_to_its_ends(
        self, gap: Gap, companions: tuple[int, ...], predicted: Callable[[Carrier, slice], Floats] | None
    ) -> Floats | None:
        """Samples (n, 3): predicted in the companions' frame (or resting there), led linearly to what is known at the ends."""
        around = self._around(gap)
        own = self._carrier(companions, around)
        guess = np.zeros_like(own.origin) if predicted is None else predicted(own, around)
        missed = own.local_point(self._positions[around, gap.marker]) - guess
        inside = slice(gap.start - around.start, gap.end - around.start)
        ends = [side[np.isfinite(side).all(axis=1)] for side in (missed[: inside.start], missed[inside.stop :])]
        known = [side.mean(axis=0) for side in ends if side.size]
        if not known:
            return None
        share = (np.arange(1, gap.length + 1) / (gap.length + 1))[:, None]
        led = guess[inside] + known[0] + share * (known[-1] - known[0])
        samples = own.world_part(led, inside)
        return samples if np.isfinite(samples).all() else None


def _trials(there: NDArray[np.bool_], length: int, beside: int, near: int) -> tuple[NDArray[np.int64], Floats]:
    """Where windows of so many samples can be knocked out, with so many known beside them, and the weight of each.

    Spread evenly over the take, and the two that are nearest to frame ``near``.
    """
    whole = length + 2 * beside
    if whole > there.size:
        return np.empty(0, np.int64), np.empty(0)
    counted = np.concatenate([[0], np.cumsum(there)])
    possible = np.flatnonzero(counted[whole:] - counted[:-whole] == whole) + beside
    if not possible.size:
        return possible, np.empty(0)
    spread = possible[np.unique(np.linspace(0, possible.size - 1, _TRIALS).astype(np.int64))]
    before, after = possible[possible < near][-1:], possible[possible >= near][:1]
    starts = np.concatenate([spread, before, after])
    return starts, np.concatenate([np.ones(spread.size), np.full(before.size + after.size, _WEIGHT_OF_NEAREST)])


def _mean_error(apart: Floats, weights: Floats) -> float:
    """Root mean square distance over trials (S, n, 3) with weights (S,)."""
    return float(np.sqrt(np.average((apart**2).sum(axis=2).mean(axis=1), weights=weights)))
