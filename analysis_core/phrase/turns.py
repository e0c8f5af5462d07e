"""Turns by the yaw of the pelvis (catalogue 6.4)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..body.anatomy import SIDES
from ..runs import runs
from ..take import Floats, Side
from ..wording.capture import turning_unseen
from .course import Course
from .peaks import summits
from .phase import Bend, FoundTurn
from .signals import lasting

# Limits of catalogue 6.4, proposed defaults without a published norm.
#: A turn is entered above the first yaw rate and has ended once it stays below the second for the time, rad/s, s.
ENTER_RAD_S = np.radians(60.0)
LEAVE_RAD_S = np.radians(30.0)
CALM_S = 0.15
#: Episodes of the same direction that are closer than this are one turn, s.
MERGE_S = 0.25
#: Smallest turn, rad.
SMALLEST_RAD = np.radians(150.0)
#: The preparation is the last plié whose bottom is at most this long before the working foot leaves the ground, s.
PREPARATION_S = 1.5
#: ... and with at most so many feet put down between its bottom and the standing foot alone: a turn may be stepped onto; who has
#: taken more steps, or jumped, has prepared those. Proposed default.
STEPS_ONTO = 1
#: Heel height that is a relevé, m.
RELEVE_M = 0.015
#: How far before and after a turn its slow beginning and settling still count to its angle, s.
SETTLE_S = 0.5
#: Turns of one direction that follow each other within this time are chained, s.
CHAIN_S = 1.0
#: One episode holds several turns where the rate falls below this share of the lower neighbouring peak and the feet change.
DIP_SHARE = 0.5
#: The change of feet is sought this near to the dip, s.
NEAR_DIP_S = 0.2
#: Both feet have to stay down this long after a turn to close it, s.
CLOSED_S = 0.08
#: A turn closes within this time of its end; who stays on the standing foot all the time, however slowly the other comes down,
#: within the second: what comes after that is a step of its own, s.
CLOSES_S = 1.0
CLOSES_SLOWLY_S = 4.0


def _through_gaps(curve: Floats) -> Floats:
    """A curve (F,) with straight lines through its gaps; all NaN stays so."""
    known = np.isfinite(curve)
    if known.all() or not known.any():
        return curve
    frames = np.arange(curve.size)
    return np.where(
        (frames >= np.argmax(known)) & (frames < known.size - np.argmax(known[::-1])),
        np.interp(frames, frames[known], curve[known]),
        np.nan,
    )


def _episodes(course: Course) -> list[tuple[int, int]]:
    """First and last frame + 1 of every turning episode; through what was not seen a turn goes on at the rates beside it."""
    rate, yaw = _through_gaps(course.yaw_rate_rad_s), _through_gaps(course.yaw_rad)
    found: list[tuple[int, int]] = []
    for sign in (1.0, -1.0):
        turning = np.nan_to_num(sign * rate) > LEAVE_RAD_S
        calm = lasting(~turning, course.samples(CALM_S))
        merged: list[tuple[int, int]] = []
        for start, stop in runs(~calm):
            inside = np.flatnonzero(turning[start:stop])
            if not inside.size or not (sign * rate[start:stop] > ENTER_RAD_S).any():
                continue
            first, last = start + int(inside[0]), start + int(inside[-1]) + 1
            if merged and first - merged[-1][1] < MERGE_S * course.rate_hz:
                merged[-1] = (merged[-1][0], last)
            else:
                merged.append((first, last))
        found += [
            (a, b) for a, b in merged if sign * (yaw[b - 1] - yaw[a]) >= SMALLEST_RAD or not course.turns_counted[a:b].all()
        ]
    return sorted(part for start, stop in found for part in _split(course, start, stop))


def _split(course: Course, start: int, stop: int) -> list[tuple[int, int]]:
    """The turns of one episode: it is cut where the rate dips and the feet change, each part being a turn of its own."""
    rate, yaw = np.abs(_through_gaps(course.yaw_rate_rad_s[start:stop])), _through_gaps(course.yaw_rad[start:stop])
    dips = summits(-rate)
    order = dips[np.argsort(rate[dips])]
    reach = course.samples(NEAR_DIP_S)
    for dip in order.tolist():
        frame = start + dip
        if rate[dip] > DIP_SHARE * min(rate[: dip + 1].max(), rate[dip:].max()):
            continue
        parts = (yaw[dip] - yaw[0], yaw[-1] - yaw[dip])
        if min(abs(part) for part in parts) < SMALLEST_RAD:
            continue
        feet = course.feet.on[max(start, frame - reach) : min(stop, frame + reach)]
        if np.any(feet != feet[0]) or course.main_support(start, frame) != course.main_support(frame, stop):
            return [*_split(course, start, frame), *_split(course, frame, stop)]
    return [(start, stop)]


def _turned(course: Course, start: int, stop: int, earliest: int, latest: int) -> float:
    """Angle of a turn, rad, with its slow beginning and settling: between the furthest places of the pelvis near its ends.

    The search stays between two frames, so that a neighbouring turn is not counted in.
    """
    reach = course.samples(SETTLE_S)
    yaw = _through_gaps(course.yaw_rad)
    sign = 1.0 if yaw[stop - 1] > yaw[start] else -1.0
    # Where markers fly about, episodes may touch: a turn's own first frame is always looked at.
    begin = np.nanmin(sign * yaw[min(max(earliest, start - reach), start) : start + 1])
    end = np.nanmax(sign * yaw[stop - 1 : min(latest, stop + reach)], initial=sign * yaw[stop - 1])
    return sign * float(end - begin)


def _why_not_counted(course: Course, start: int, stop: int) -> str | None:
    """Why it cannot be told how far a turn went; None when it can."""
    unseen = int((~course.turns_counted[start:stop]).sum())
    if not unseen:
        return None
    return turning_unseen(unseen / course.rate_hz)


def _supports(course: Course, start: int, stop: int) -> list[str]:
    """Feet that carry alone one after the other between two frames, each for at least 0.08 s."""
    shortest = course.samples(0.08)
    stretches = [(a, SIDES[foot]) for foot in range(2) for a, _ in runs(lasting(course.single(foot)[start:stop], shortest))]
    order = [str(side) for _, side in sorted(stretches)]
    return [side for index, side in enumerate(order) if index == 0 or side != order[index - 1]]


def _longest_single(course: Course, foot: int, start: int, stop: int) -> tuple[int, int] | None:
    """The longest stretch on one foot that overlaps a turn, with the parts of it before and after the turn."""
    overlapping = [(a, b) for a, b in runs(course.single(foot)) if a < stop and b > start]
    return max(overlapping, key=lambda run: min(run[1], stop) - max(run[0], start), default=None)


def _direction(turned_rad: float, support: Side | None) -> Literal["en dehors", "en dedans"] | None:
    """En dehors turns away from the supporting leg, en dedans towards it."""
    if support not in SIDES:
        return None
    return "en dehors" if (turned_rad > 0) == (support == "right") else "en dedans"


@dataclass(frozen=True)
class _OnOneFoot:
    """The way of a turn's feet, in frames with fractions; None for what is not there.

    lifted: the working foot leaves the ground; alone: the supporting foot is the only one for the first time after that; rises:
    the supporting heel; leaves: the first of lifted and rises, else where the turn begins; closed: both feet are down for good.
    """

    lifted: float | None = None
    alone: int | None = None
    closed: float | None = None
    rises: float | None = None
    leaves: float = 0.0


def _on_one_foot(course: Course, foot: int, start: int, stop: int) -> _OnOneFoot:
    """When a turn on one foot leaves the ground with the other, rises and closes, by the feet's own finer events."""
    lifted = alone = None
    longest = _longest_single(course, foot, start, stop)
    if longest is not None:
        lifted = max((off for _, off in course.feet.stances[1 - foot] if off <= longest[0]), default=float(longest[0]))
        # A standing foot that hops in the turn is alone before its longest stance.
        alone = int(lifted) + int(np.argmax(course.single(foot)[int(lifted) : longest[1]]))
    leaves = float(start) if lifted is None else lifted
    rises = _rising_heel(course, foot, start, stop)
    closed = _closed(course, foot, max(int(leaves) + 1, (start + stop) // 2), stop)
    if rises is not None:
        leaves = min(leaves, rises) if leaves > start else rises
    return _OnOneFoot(lifted, alone, closed, rises, leaves)


def _closed(course: Course, foot: int, first: int, stop: int) -> float | None:
    """When both feet are down for good after a turn on one foot that ends before frame ``stop``, from the frame ``first`` on.

    None where that is so late that other steps lie between.
    """
    both_down = lasting(course.feet.on.all(axis=1), course.samples(CLOSED_S))
    closing = np.flatnonzero(both_down[first:])
    if not closing.size:
        return None
    frame = first + int(closing[0])
    stays = bool(course.single(foot)[stop : frame - course.samples(CLOSED_S)].all())
    if frame - stop > course.samples(CLOSES_SLOWLY_S if stays else CLOSES_S):
        return None
    touching = [on for stances in course.feet.stances for on, _ in stances if abs(on - frame) <= 1.5]
    return touching[0] if touching else float(frame)


def _prepared_by(course: Course, bends: tuple[Bend, ...], feet: _OnOneFoot, start: int, stop: int) -> Bend | None:
    """The last plié before a turn leaves the ground, where no other steps lie between them."""
    leaves_s = max(feet.leaves, start) / course.rate_hz
    before = [bend for bend in bends if bend.start < stop and 0 <= leaves_s - bend.bottom_s <= PREPARATION_S]
    if not before:
        return None
    alone = start if feet.alone is None else feet.alone
    put_down = [on for stances in course.feet.stances for on, _ in stances if before[-1].bottom_s * course.rate_hz < on <= alone]
    return before[-1] if len(put_down) <= STEPS_ONTO else None


def find_turns(course: Course, bends: tuple[Bend, ...]) -> tuple[FoundTurn, ...]:
    """Turns with revolutions, direction, support, preparation, relevé and closing.

    ``bends`` are the pliés of the phrase: the last one before the turn is its preparation. Times of what is not there are None.
    """
    rate = course.rate_hz
    turns: list[FoundTurn] = []
    chain = place = 0
    episodes = _episodes(course)
    for index, (start, stop) in enumerate(episodes):
        earliest = episodes[index - 1][1] - 1 if index else 0
        latest = episodes[index + 1][0] + 1 if index + 1 < len(episodes) else course.frames
        turned = _turned(course, start, stop, earliest, latest)
        side: Side = "left" if turned > 0 else "right"
        support = course.main_support(start, stop)
        feet = _OnOneFoot(leaves=float(start))
        if support is not None and support != "both":
            feet = _on_one_foot(course, SIDES.index(support), start, stop)
        prepared = _prepared_by(course, bends, feet, start, stop)
        not_counted = _why_not_counted(course, start, stop)
        follows = bool(turns) and turns[-1].side == side and start / rate - turns[-1].end_s < CHAIN_S
        chain, place = (chain, place + 1) if follows else (chain + 1, 1)
        turns.append(
            FoundTurn(
                side=side,
                start=start,
                end=stop - 1,
                start_s=start / rate,
                end_s=(stop - 1) / rate,
                support=support,
                revolutions=None if not_counted else abs(turned) / (2 * np.pi),
                turned_deg=None if not_counted else float(np.degrees(turned)),
                not_counted=not_counted,
                direction=_direction(turned, support),
                supports="-".join(_supports(course, start, stop)) or None,
                preparation_s=None if prepared is None else prepared.start_s,
                preparation_bottom_s=None if prepared is None else prepared.bottom_s,
                releve_s=None if feet.rises is None else feet.rises / rate,
                single_support_s=None if feet.lifted is None else feet.lifted / rate,
                close_s=None if feet.closed is None else feet.closed / rate,
                peak_rate_deg_s=float(np.degrees(np.nanmax(np.abs(course.yaw_rate_rad_s[start:stop])))),
                chain=chain,
                chain_place=place,
            )
        )
    return tuple(turns)


def _rising_heel(course: Course, foot: int, start: int, stop: int) -> float | None:
    """Frame at which the supporting heel rises through 15 mm for the relevé of a turn; None when it stays down."""
    heel = course.heel_m[:, foot]
    up = lasting(course.feet.on[:, foot] & (heel > RELEVE_M), course.samples(0.1))
    overlapping = [(a, b) for a, b in runs(up) if a < stop and b > start]
    if not overlapping:
        return None
    first = max(overlapping, key=lambda run: min(run[1], stop) - max(run[0], start))[0]
    # A heel that was up long before (a balance on relevé, a step on a stretched foot) did not rise for this turn.
    if first == 0 or start - first > PREPARATION_S * course.rate_hz:
        return None
    before, after = heel[first - 1], heel[first]
    share = (RELEVE_M - before) / (after - before) if np.isfinite(before) and after > before else 1.0
    return first - 1 + float(np.clip(share, 0.0, 1.0))
