"""What markers with unknown labels may be: a proposal from where they lie on an upright body, with a confidence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from ..errors import LandmarkError
from ..take import Floats, Take
from ..wording import markers as words
from ..wording import numbers
from ..write.files import whole_file
from .anatomy import ARM_SEGMENTS, ON_AXIS, SIDE_SIGNS, SIDE_SUFFIXES
from .landmarks import MARKERS, Landmark, Recognition, recognise, side_of, without_person
from .standing_places import standing_places

#: Angles by which the arms of the standing figure are raised or lowered to look like the dancer, degrees; directions tried.
_ARMS_RAISED_DEG, _DIRECTIONS = (-50.0, -25.0, 0.0, 36.0, 60.0), 24
#: Which way each side lies in the table of places, whose second column points to the left.
_OUTWARD = tuple(-sign for sign in SIDE_SIGNS)
#: A marker further than this share of stature from a place is not it; a name that says the other side counts as much.
_TOO_FAR = 0.07
#: Landmarks that are hardly marked without the one behind them: a marker that is alone there is that one, somewhat less surely.
_SELDOM_ALONE = {
    **{inner: outer for outer, inner in ON_AXIS.values()},
    "big_toe_tip": "second_metatarsal_head",
    "fibula_head": "shank_1",
    "tibial_tuberosity": "shank_1",
    "shank_2": "shank_1",
}
_LESS_SURELY = 0.7
#: Rounds of fitting the figure's size and place to the markers that were assigned.
_ROUNDS = 6
#: Proposals surer than this are used; the others are for the reader to decide. Proposed default.
SURE = 0.4
#: Upright frames: the highest marker within this share of its usual greatest height, and the body narrow; so many are averaged.
_AVERAGED = 15
#: Fewer markers than this are no body.
_LEAST_MARKERS = 8


@dataclass(frozen=True)
class Proposed:
    """One marker: what it may be and how sure that is (0..1); known: the tables name it already."""

    label: str
    landmark: str
    confidence: float
    known: bool


@dataclass(frozen=True)
class Proposal:
    """All markers of a take for which there is a proposal, and the labels for which there is none.

    facing_confidence (0..1): how sure front and back, hence left and right, are told apart.
    """

    markers: tuple[Proposed, ...]
    unknown: tuple[str, ...]
    facing_confidence: float


@dataclass(frozen=True)
class _Figure:
    """The standing figure. names (T,); places (T, 3) forward, left, up in shares of stature; arm (T,) −1, 0, 1: which arm."""

    names: tuple[str, ...]
    places: Floats
    arm: Floats

    def with_arms(self, raised_deg: float) -> Floats:
        """Places with both arms raised by an angle about the shoulders, in the frontal plane."""
        result = self.places.copy()
        shoulder = {side: self.names.index("acromion" + suffix) for side, suffix in zip(_OUTWARD, SIDE_SUFFIXES, strict=True)}
        for side, pivot in shoulder.items():
            moved = self.arm == side
            turn = np.radians(raised_deg) * side
            out, up = (self.places[moved] - self.places[pivot])[:, 1:].T
            result[moved, 1] = self.places[pivot, 1] + np.cos(turn) * out - np.sin(turn) * up
            result[moved, 2] = self.places[pivot, 2] + np.sin(turn) * out + np.cos(turn) * up
        return result


def _figure(table: Mapping[str, Landmark]) -> _Figure:
    names, places, arm = [], [], []
    for name, (forward, outward, up) in standing_places().items():
        central = table[name].central
        for suffix, side in (("", 0.0),) if central else zip(SIDE_SUFFIXES, _OUTWARD, strict=True):
            names.append(name + suffix)
            places.append((forward, side * outward, up))
            arm.append(side if table[name].segment in ARM_SEGMENTS else 0.0)
    return _Figure(tuple(names), np.array(places), np.array(arm))


def propose_landmarks(take: Take, table: Mapping[str, Landmark]) -> Proposal:
    """Propose landmarks for the markers that no table knows; best from a static take, else from the most upright frames.

    The markers of one body are assigned to the places of a standing figure, all at once (assignment problem; Kuhn 1955), for
    every direction the dancer may face and several heights of the arms; known labels hold the figure. Raises LandmarkError
    when there are too few markers, or none of them is seen in an upright frame.
    """
    if take.kind != "markers":
        raise LandmarkError(f"{take.file.name} is a skeleton; its joints need no landmarks.")
    recognition = recognise(take.labels, table)
    points = _upright(take.positions_m)
    seen = np.flatnonzero(np.isfinite(points).all(axis=1))
    if seen.size < _LEAST_MARKERS:
        raise LandmarkError(
            f"{take.file.name}: only {seen.size} markers are seen in an upright frame, too few to tell what they are. "
            "Use a take of the dancer standing still."
        )
    figure = _figure(table)
    forbidden = _forbidden(seen, take, recognition, figure)
    fits = sorted((_fit(points[seen], forbidden, figure, start) for start in _starts()), key=lambda fit: fit[0])
    cost, assigned, distance, turn = fits[0]
    # Facing the other way: the best fit that looks away from this one.
    other = next((fit[0] for fit in fits if np.cos(fit[3] - turn) < 0), np.inf)
    facing = float(np.clip((other - cost) / max(0.35 * cost, 1e-9), 0.0, 1.0))
    markers = []
    for index, marker in enumerate(seen.tolist()):
        if marker in recognition.landmark_of:
            markers.append(Proposed(take.labels[marker], recognition.landmark_of[marker], 1.0, known=True))
        elif assigned[index] >= 0:
            confidence = facing * _confidence(distance[index], int(assigned[index]))
            markers.append(Proposed(take.labels[marker], figure.names[assigned[index]], confidence, known=False))
    markers = _usual(markers)
    named = {proposed.label for proposed in markers}
    return Proposal(tuple(markers), tuple(label for label in take.labels if label not in named), facing)


def _usual(markers: list[Proposed]) -> list[Proposed]:
    """The proposals with lone markers given to the landmark that is usually marked there."""
    taken = {marker.landmark for marker in markers}
    result = []
    for marker in markers:
        stem, dot, side = marker.landmark.partition(".")
        usual = _SELDOM_ALONE.get(stem, stem) + dot + side
        if marker.known or usual in taken:
            result.append(marker)
        else:
            taken.add(usual)
            result.append(replace(marker, landmark=usual, confidence=_LESS_SURELY * marker.confidence))
    return result


def _starts() -> list[tuple[float, float]]:
    return [(2 * np.pi * i / _DIRECTIONS, raised) for i in range(_DIRECTIONS) for raised in _ARMS_RAISED_DEG]


def _upright(positions: Floats) -> Floats:
    """Markers (N, 3) in the most upright frames of positions (F, N, 3): high, narrow, and as many as possible; floor at 0."""
    there = np.isfinite(positions).all(axis=2)
    heights = np.where(there, positions[:, :, 2], np.nan)
    usable = there.sum(axis=1) >= max(_LEAST_MARKERS, 0.8 * there.sum(axis=1).max(initial=0))
    if not usable.any():
        return np.full(positions.shape[1:], np.nan)
    frames = np.flatnonzero(usable)
    top, bottom = np.nanmax(heights[frames], axis=1), np.nanmin(heights[frames], axis=1)
    # Standing still on both feet, the lowest markers are low and the highest is at its usual greatest height.
    tall = np.percentile(top, 80)
    score = np.abs(top - tall) + 2.0 * np.abs(bottom - np.percentile(bottom, 10))
    chosen = frames[np.argsort(score, kind="stable")[:_AVERAGED]]
    best = int(chosen[0])
    near = frames[np.abs(frames - best) <= _AVERAGED]
    known = np.where(there[near][:, :, None], positions[near], np.nan)
    count = np.isfinite(known).sum(axis=0)
    mean = np.where(count > 0, np.where(np.isfinite(known), known, 0.0).sum(axis=0) / np.maximum(count, 1), np.nan)
    height = mean[:, 2]
    height -= np.nanmin(height)
    return np.asarray(mean)


def _fit(
    points: Floats, forbidden: Floats, figure: _Figure, start: tuple[float, float]
) -> tuple[float, NDArray[np.int64], Floats, float]:
    """Fit the figure from one direction and height of the arms: cost, assigned place by marker (−1 for none), distances, turn.

    forbidden (N, T): what speaks against each pairing besides distance.
    """
    turn, raised = start
    model = figure.with_arms(raised)
    stature = float(np.ptp(points[:, 2])) / 0.95
    spread = np.array([stature, stature, stature])
    middle = np.append(np.median(points[:, :2], axis=0), 0.0)
    assigned = np.full(points.shape[0], -1)
    for _ in range(_ROUNDS):
        rotation = np.array([[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]])
        placed = (model * spread) @ rotation.T + middle
        ahead, aside, above = (points[:, None, axis] - placed[:, axis] for axis in range(3))
        apart = np.sqrt(ahead * ahead + aside * aside + above * above) / stature
        cost = np.minimum(apart, _TOO_FAR) ** 2 + forbidden
        rows, columns = linear_sum_assignment(cost)
        good = (apart[rows, columns] < _TOO_FAR) & (forbidden[rows, columns] < _TOO_FAR**2)
        assigned[:] = -1
        assigned[rows[good]] = columns[good]
        if good.sum() < 5:
            break
        own, to = model[columns[good]] * spread, points[rows[good]]
        # Turn and place on the floor of the assigned markers (Kabsch in the plane), then the size along each axis.
        centre, seen_centre = (places[:, :2].sum(axis=0) / len(places) for places in (own, to))
        a, b = own[:, :2] - centre, to[:, :2] - seen_centre
        turn = float(np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum()))
        back = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        local, before = b @ back.T, spread[:2].copy()
        for axis in range(2):
            grown = float((local[:, axis] * a[:, axis]).sum() / max((a[:, axis] ** 2).sum(), 1e-9))
            spread[axis] *= min(max(grown, 0.9), 1.1)
        spread[2] *= min(max(float((own[:, 2] * to[:, 2]).sum() / max((own[:, 2] ** 2).sum(), 1e-9)), 0.95), 1.05)
        middle[:2] = seen_centre - (centre * spread[:2] / before) @ back
    return float(np.maximum(cost[rows, columns], 0.0).sum()), assigned, apart, turn


def _forbidden(markers: NDArray[np.int64], take: Take, recognition: Recognition, figure: _Figure) -> Floats:
    """What speaks against (or, negative, for) each pairing of marker and place besides distance."""
    result = np.zeros((len(markers), len(figure.names)))
    taken = set(recognition.landmark_of.values())
    for row, marker in enumerate(markers.tolist()):
        known = recognition.landmark_of.get(marker)
        if known is not None:
            result[row] = 0.0 if known not in figure.names else _TOO_FAR**2
            if known in figure.names:
                result[row, figure.names.index(known)] = -(_TOO_FAR**2)
            continue
        side = side_of(without_person(take.labels[marker]))[0]
        for column, name in enumerate(figure.names):
            other_side = bool(side) and name.endswith(SIDE_SUFFIXES) and not name.endswith(side)
            if name in taken or other_side:
                result[row, column] = _TOO_FAR**2
    return result


def _confidence(distances: Floats, chosen: int) -> float:
    """Nearness to the place chosen, and how much further the next place is, both 0..1, multiplied."""
    nearest = float(distances[chosen])
    second = float(np.partition(np.delete(distances, chosen), 0)[0])
    near = float(np.clip(1.25 - nearest / _TOO_FAR, 0.0, 1.0))
    apart = float(np.clip(0.5 + (second - nearest) / 0.03, 0.0, 1.0))
    return near * apart


def write_table(proposal: Proposal, source: str, path: Path, *, overwrite: bool) -> None:
    """Write the proposal as a studio's table. Raises OutputError when it is there already or cannot be written."""
    with whole_file(path, overwrite=overwrite) as unfinished:
        unfinished.write_text(table_text(proposal, source), encoding="utf-8")


def table_text(proposal: Proposal, source: str) -> str:
    """The proposal as a studio's table (TOML) for --landmarks: one line a marker; unsure ones are commented out."""
    lines = [
        *(f"# {line}" for line in words.head_of_table(source)),
        f"[{MARKERS}]",
    ]
    for marker in proposal.markers:
        if marker.known:
            continue
        label = marker.label.replace("\\", "\\\\").replace('"', '\\"')
        mark = "" if marker.confidence >= SURE else "# "
        lines.append(f'{mark}"{label}" = "{marker.landmark}"  # {numbers.confidence(marker.confidence)}')
    lines += [f"# {words.not_proposed(label)}" for label in proposal.unknown]
    return "\n".join(lines) + "\n"
