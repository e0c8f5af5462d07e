"""When B does what A does: by landmarks of the phrase, piece by piece; elastically where they fail; never by force."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..body.movement import Movement
from ..phrase.phase import Phrase
from ..take import Floats
from ..wording import comparison as say
from .comparison import Alignment, Landmark, Method, Unmatched
from .elastic import align_elastic
from .landmarks import moments_of
from .matching import match_phases
from .poses import POSES_HZ, Poses, at_times, poses_of
from .refining import STILL, facing_between, refine

#: Between landmarks time goes evenly where the poses fit, on average, to this many leg lengths; or where another course of time
#: would not bring them nearer than to this share: then they are danced differently. Proposed defaults.
_FITS, _NEARER = 0.06, 0.6
#: Even time is not asked for where one take needs this many times as long as the other.
_STEEP = 3.0
#: Poses a second of the elastic alignment.
_ELASTIC_HZ = 25.0
#: Its band: this share of the length (Sakoe & Chiba 1978; catalogue, section 9), within these limits, seconds, so that long takes
#: cost no more for each second. Proposed defaults.
_BAND, _NARROWEST_S, _WIDEST_S = 0.10, 2.0, 8.0
#: A pose is left out when it is further than this, leg lengths, from every pose that it could answer to; nearer ones as well
#: where one take has a step that the other has not. Further where the two dancers are always this many times further apart.
#: Proposed defaults.
_ANOTHER, _ANOTHER_STEP, _ALWAYS = 0.16, 0.05, 2.0
#: A step of uneven time costs so much, leg lengths: time bends only where the poses ask for it. Proposed default.
_UNEVEN = 0.02
#: Parts of both takes that were left out are as long as each other from this share on.
_AS_LONG = 0.7
#: What begins to be left out costs as much as leaving out this long. Shorter stretches are differences of time.
_LEAST_LEFT_OUT_S = 0.4
#: Turning on the spot is seen as a part that moves with the speed of the turn, leg lengths per radian a second. Proposed default.
_TURNING = 0.06
#: Two landmarks closer than this are one.
_SAME_S = 0.04


Danced = tuple[Movement, Phrase]


@dataclass(frozen=True)
class _Found:
    """A landmark by the steps that were matched: its time in A and in B, each by its own movement."""

    name: str
    a_s: float
    b_s: float


@dataclass(frozen=True)
class _Piece:
    """Corresponding times of A and B, both rising."""

    a_s: Floats
    b_s: Floats


def _elastic_rows(poses: Poses) -> Floats:
    """What the elastic alignment compares, at _ELASTIC_HZ: the pose, and how fast it turns."""
    turning = np.clip(_TURNING * np.gradient(poses.heading, 1.0 / POSES_HZ), -0.5, 0.5)
    rows = np.concatenate([poses.flat, turning[:, None]], axis=1)
    return np.asarray(rows[:: round(POSES_HZ / _ELASTIC_HZ)])


def _rising_only(found: list[_Found]) -> list[int]:
    """Most of the landmarks, sorted by A, that rise in B as well: the longest increasing subsequence."""
    tails: list[int] = []
    previous: list[int] = [-1] * len(found)
    ends = np.empty(0)
    for index, value in enumerate(landmark.b_s for landmark in found):
        place = int(np.searchsorted(ends, value))
        previous[index] = tails[place - 1] if place else -1
        if place == len(tails):
            tails.append(index)
            ends = np.append(ends, value)
        else:
            tails[place], ends[place] = index, value
    chosen = []
    index = tails[-1] if tails else -1
    while index >= 0:
        chosen.append(index)
        index = previous[index]
    return chosen[::-1]


def _landmarks(a: Danced, b: Danced, matched: dict[str, str]) -> list[_Found]:
    """Landmarks of matched steps with their times in both takes, rising in both, none twice."""
    phases_a, phases_b = ({phase.id: phase for phase in phrase.phases} for _, phrase in (a, b))
    both: list[_Found] = []
    for name, other in matched.items():
        in_b = {moment.what: moment.time_s for moment in moments_of(phases_b[other], b[0])}
        both += [
            _Found(f"{name} {moment.what}", moment.time_s, in_b[moment.what])
            for moment in moments_of(phases_a[name], a[0])
            if moment.what in in_b
        ]
    both.sort(key=lambda landmark: (landmark.a_s, landmark.b_s))
    chosen: list[_Found] = []
    for index in _rising_only(both):
        landmark = both[index]
        if not chosen or min(landmark.a_s - chosen[-1].a_s, landmark.b_s - chosen[-1].b_s) > _SAME_S:
            chosen.append(landmark)
    return chosen


class _Aligner:
    """Two takes as rows, and the pieces that were found between them."""

    def __init__(self, a: Poses, b: Poses, alone: tuple[Floats, Floats], usual: float) -> None:
        self.a, self.b = _elastic_rows(a), _elastic_rows(b)
        self.alone, self.usual = alone, usual
        self.elastic_s = 0.0

    def _another(self, start: tuple[float, float], end: tuple[float, float]) -> float:
        """How far apart poses between two anchors are that do not answer to each other."""
        steps = any(((low < times) & (times < high)).any() for times, low, high in zip(self.alone, start, end, strict=True))
        return max(_ANOTHER_STEP if steps else _ANOTHER, _ALWAYS * self.usual)

    def between(self, start: tuple[float, float], end: tuple[float, float], *, inside: bool) -> list[_Piece]:
        """Pieces between two anchors; ``inside``: both are landmarks, so that an even course may be right."""
        span_a, span_b = end[0] - start[0], end[1] - start[1]
        if span_a <= 0 or span_b <= 0:
            return []
        even = _Piece(np.array([start[0], end[0]]), np.array([start[1], end[1]]))
        as_it_is = self._distance(even)
        another = self._another(start, end)
        possible = inside and another >= _ANOTHER and span_b <= _STEEP * span_a + 0.2 and span_a <= _STEEP * span_b + 0.2
        if possible and as_it_is < _FITS:
            return [even]
        # Between two landmarks without a step of one's own everything answers to something, however differently it is danced.
        pieces, distance = self._elastic(start, end, np.inf if possible else another)
        if possible and distance > _NEARER * as_it_is:
            return [even]
        left_out = [
            span - sum(float(times[-1] - times[0]) for times in part)
            for span, part in ((span_a, [p.a_s for p in pieces]), (span_b, [p.b_s for p in pieces]))
        ]
        if inside and as_it_is < _ANOTHER and min(left_out) > _AS_LONG * max(left_out) and max(left_out) > _LEAST_LEFT_OUT_S:
            # As much was left out of one as of the other, and the poses are not far apart: the same time, danced differently.
            return [even]
        self.elastic_s += span_a
        return pieces

    def _distance(self, even: _Piece) -> float:
        """Mean distance of the poses when time goes evenly."""
        shares = np.linspace(0.0, 1.0, max(9, round((even.a_s[1] - even.a_s[0]) * 10)))
        rows = [
            np.round((times[0] + shares * (times[1] - times[0])) * _ELASTIC_HZ).astype(np.int64).clip(0, len(rows) - 1)
            for times, rows in ((even.a_s, self.a), (even.b_s, self.b))
        ]
        return float(np.linalg.norm(self.a[rows[0]] - self.b[rows[1]], axis=1).mean())

    def _elastic(self, start: tuple[float, float], end: tuple[float, float], another: float) -> tuple[list[_Piece], float]:
        """Pieces by dynamic programming, with what answers to nothing left out; and the mean distance of their poses."""
        first = [round(time * _ELASTIC_HZ) for time in start]
        last = [min(round(time * _ELASTIC_HZ), len(rows) - 1) for time, rows in zip(end, (self.a, self.b), strict=True)]
        a, b = self.a[first[0] : last[0] + 1], self.b[first[1] : last[1] + 1]
        if len(a) < 2 or len(b) < 2:
            return [], float("inf")
        longest = max(len(a), len(b)) / _ELASTIC_HZ
        band_s = float(np.clip(_BAND * longest, _NARROWEST_S, _WIDEST_S)) + abs(len(a) - len(b)) / _ELASTIC_HZ
        once = another * _LEAST_LEFT_OUT_S * _ELASTIC_HZ if np.isfinite(another) else 0.0
        path = align_elastic(a, b, band_s * _ELASTIC_HZ, uneven=_UNEVEN, leave_out=another, leave_out_once=once).path
        if not len(path):
            return [], float("inf")
        in_a, in_b = path.T
        distance = float(np.linalg.norm(a[in_a] - b[in_b], axis=1).mean())
        breaks = np.flatnonzero(np.diff(path, axis=0).max(axis=1) > 1) + 1
        pieces = []
        for part in np.split(path, breaks):
            # One time of B for every time of A: the middle of those that answer to it.
            of_a, of_b = part[:, 0], part[:, 1]
            a_rows, place = np.unique(of_a, return_inverse=True)
            b_rows = np.bincount(place, weights=of_b) / np.bincount(place)
            if len(a_rows) > 2:
                pieces.append(_Piece((a_rows + first[0]) / _ELASTIC_HZ, (b_rows + first[1]) / _ELASTIC_HZ))
        return pieces, distance


def _joined(pieces: list[_Piece]) -> list[_Piece]:
    """Pieces that follow each other without a gap as one."""
    joined: list[_Piece] = []
    for piece in pieces:
        if joined:
            before = joined[-1]
            gaps = piece.a_s[0] - before.a_s[-1], piece.b_s[0] - before.b_s[-1]
            if max(gaps) < _LEAST_LEFT_OUT_S:
                keep = piece.a_s > before.a_s[-1] + 1e-6
                a_s = np.concatenate([before.a_s, piece.a_s[keep]])
                b_s = np.maximum.accumulate(np.concatenate([before.b_s, piece.b_s[keep]]))
                joined[-1] = _Piece(a_s, b_s)
                continue
        joined.append(piece)
    return joined


def _even_where_still(piece: _Piece, a: Poses) -> _Piece:
    """The piece without its times at which A stands still: a pose that stays tells no time, and time goes on evenly there."""
    speed = np.linalg.norm(np.gradient(a.parts.reshape(len(a.parts), -1), 1.0 / POSES_HZ, axis=0), axis=1)
    moving = at_times(speed, piece.a_s) > STILL
    moving[[0, -1]] = True
    return _Piece(piece.a_s[moving], piece.b_s[moving])


def align(a: Danced, b: Danced) -> Alignment:
    """Align two takes of a phrase: landmarks that answer to each other, and the time of B for every time of A.

    Method "landmarks" when they carry at least half of what answers to each other, else "elastic".
    """
    poses_a, poses_b = poses_of(a[0]), poses_of(b[0])
    matched, usual = match_phases(a[1], b[1], poses_a, poses_b)
    found = _landmarks(a, b, matched)
    alone = _alone(a[1], set(matched)), _alone(b[1], set(matched.values()))
    pieces, elastic_s = _approximate(found, _Aligner(poses_a, poses_b, alone, usual), poses_a, poses_b)
    if not pieces:
        end = [float(poses.time_s[-1]) for poses in (poses_a, poses_b)]
        why = say.NO_POSE_ALIKE
        return Alignment("elastic", (), (), (Unmatched("a", 0.0, end[0], why), Unmatched("b", 0.0, end[1], why)), {})
    turned = facing_between(
        poses_a, poses_b, np.concatenate([piece.a_s for piece in pieces]), np.concatenate([piece.b_s for piece in pieces])
    )
    exact = []
    for piece in pieces:
        count = max(round((piece.a_s[-1] - piece.a_s[0]) * POSES_HZ) + 1, 2)
        a_s = np.linspace(piece.a_s[0], piece.a_s[-1], count)
        piece = _even_where_still(piece, poses_a)
        near = [landmark for landmark in found if piece.a_s[0] - 1e-6 <= landmark.a_s <= piece.a_s[-1] + 1e-6]
        known = np.array([landmark.a_s for landmark in near]), np.array([landmark.b_s for landmark in near])
        b_s = refine(poses_a, poses_b, a_s, np.interp(a_s, piece.a_s, piece.b_s), turned, known)
        exact.append((a_s, b_s))
    aligned_s = sum(float(a_s[-1] - a_s[0]) for a_s, _ in exact)
    method: Method = "landmarks" if found and elastic_s <= 0.5 * aligned_s else "elastic"
    alignment = Alignment(method, (), tuple(exact), (), matched)
    answers = alignment.to_b(np.array([landmark.a_s for landmark in found]))
    landmarks = tuple(
        Landmark(landmark.name, landmark.a_s, float(answer), landmark.b_s)
        for landmark, answer in zip(found, answers, strict=True)
        if np.isfinite(answer)
    )
    return Alignment(method, landmarks, tuple(exact), _left_out(exact, a, b), matched)


def _alone(phrase: Phrase, matched: set[str]) -> Floats:
    """Middles of the steps without a partner, seconds; what overlaps a step that has one is only another name for it."""
    shared = [phase for phase in phrase.phases if phase.id in matched]
    middles = [0.5 * (p.start_s + p.end_s) for p in phrase.phases if p.id not in matched and p.kind != "static"]
    return np.array([time_s for time_s in middles if not any(p.start_s <= time_s <= p.end_s for p in shared)])


def _approximate(found: list[_Found], aligner: _Aligner, a: Poses, b: Poses) -> tuple[list[_Piece], float]:
    """Pieces to within about a tenth of a second, and how many seconds of A were aligned elastically."""
    corners = [(0.0, 0.0), *((landmark.a_s, landmark.b_s) for landmark in found), (float(a.time_s[-1]), float(b.time_s[-1]))]
    pieces = []
    for number, (start, end) in enumerate(pairwise(corners)):
        pieces += aligner.between(start, end, inside=0 < number < len(corners) - 2)
    return _joined(pieces), aligner.elastic_s


def _left_out(pieces: list[tuple[Floats, Floats]], a: Danced, b: Danced) -> tuple[Unmatched, ...]:
    """Stretches of either take that no piece holds."""
    result = []
    for name, place, (movement, phrase) in (("a", 0, a), ("b", 1, b)):
        edges = [0.0, *(float(t) for piece in pieces for t in (piece[place][0], piece[place][-1])), float(movement.time_s[-1])]
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            if end - start >= _LEAST_LEFT_OUT_S:
                steps = [p.id for p in phrase.phases if start - 0.1 <= p.start_s and p.end_s <= end + 0.1]
                why = say.only_here(steps) if steps else say.NO_POSE_ALIKE
                result.append(Unmatched("a" if name == "a" else "b", start, end, why))
    return tuple(result)
