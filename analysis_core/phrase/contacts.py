"""When which foot, heel or toe is on the ground (catalogue 6.2)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..body.movement import FOOT_POINTS, SIDES, Movement
from ..medians import median_of_known
from ..runs import runs
from ..take import Floats, Kind
from ..units import GRAVITY
from .carrying import Stances, stance_mask, with_carrying_foot
from .falling import timed_by_falls
from .ground import ground_levels
from .phase import Contact
from .signals import Mask, bridged, derivative, fill_short, hysteresis, lasting, vertex
from .upright import stands

# Limits of the detector of catalogue 6.2, all proposed defaults without a published norm.
#: A foot comes to the ground below the first height and has left it above the second, m.
ENTER_M = 0.015
LEAVE_M = 0.025
#: ... not while it still falls faster than this, m/s.
STILL_FALLING_M_S = -0.3
#: A foot that is this much off the ground, m, and moves along it faster than this, m/s, swings close above it: fast, and for
#: markers, whose heights can be trusted to some millimetres, also slowly (a foot that closes is lifted by hardly 20 mm).
SWINGING = {"markers": ((0.004, 2.0), (0.008, 0.25)), "skeleton": ((0.004, 2.0),)}
#: A foot whose ball is this far below its ground, m, has tipped over the edge of a step and stands there no more.
TIPPING_M = {"markers": 0.03, "skeleton": 0.06}
#: Shortest contact and shortest time off the ground, s.
SHORTEST_S = 0.04
#: How far around the crossing of a height the event itself is looked for, s.
SEARCH_S = 0.04
#: A touch-down is hard where the peak of vertical acceleration exceeds the first, m/s², within the second of the ground, m.
HARD_TOUCH_M_S2 = 6.0
HARD_TOUCH_M = 0.003
#: A foot has left, or reached, the place where it rests at this height above it, m: about ten times the noise of a smoothed
#: marker; and it comes to rest when it sinks slower than the speed, m/s.
SETTLED_M = 0.002
SETTLING_M_S = 0.05
#: Window of the derivatives at the foot, s: about 20 Hz, the lower end of catalogue 3.2 for event timing.
FOOT_WINDOW_S = 0.05
#: Acceleration of the centre of mass below this counts as free fall when the level of the ground is sought, m/s².
FALLING_M_S2 = -0.6 * GRAVITY
#: While the body falls freely, a foot whose ball is this far off the ground, m, only trails its toes: it carries nothing.
TRAILING_M = 0.02
#: Longest gap in a foot point that is bridged for contacts, s (catalogue 3.3: short gaps).
LONGEST_GAP_S = 0.1

_HEEL = FOOT_POINTS.index("heel")


@dataclass(frozen=True)
class Feet:
    """Both feet against the ground; columns left, right.

    heights_m (F, 2, 4): foot points above the ground under the foot. ground_m (F, 2). on, heel, toe (F, 2): foot, heel or
    forefoot on the ground. stances: for each foot the touch-down and lift-off of every stance, in frames with fractions.
    known (F, 2): whether the foot could be seen at all.
    """

    heights_m: Floats
    ground_m: Floats
    on: Mask
    heel: Mask
    toe: Mask
    stances: tuple[tuple[tuple[float, float], ...], ...]
    known: Mask


def _crossing(low: Floats, frame: int, level: float) -> float:
    """Place between ``frame`` - 1 and ``frame`` where the height crosses a level; ``frame`` itself where it does not."""
    if frame <= 0 or frame >= low.size:
        return float(np.clip(frame, 0, low.size - 1))
    before, after = low[frame - 1] - level, low[frame] - level
    if not np.isfinite(before) or not np.isfinite(after) or before * after > 0 or before == after:
        return float(frame)
    return frame - 1 + float(before / (before - after))


def _touch_down(low: Floats, vertical: Floats, acceleration: Floats, start: int, stop: int, rate_hz: float) -> float:
    """Moment (frame with fraction) at which a foot that crosses the entry height at ``start`` meets the ground.

    The peak of vertical acceleration where it is hard; else the moment at which the foot has come down to where it rests.
    """
    if start == 0:
        return 0.0
    reach = max(1, round(SEARCH_S * rate_hz))
    settled = np.flatnonzero(vertical[start:stop] > -SETTLING_M_S)
    rest = start + (int(settled[0]) if settled.size else 0)
    level = float(median_of_known(low[rest : min(stop, rest + 2 * reach)])) + SETTLED_M
    first, last = max(0, start - reach), min(stop, max(rest, start + 1) + reach)
    window = acceleration[first:last]
    if np.isfinite(window).any():
        peak = first + int(np.nanargmax(window))
        # A foot that is put down gently brakes well above the ground: its peak is no contact.
        if acceleration[peak] >= HARD_TOUCH_M_S2 and low[peak] <= level + HARD_TOUCH_M:
            return vertex(acceleration, peak)
    close = np.flatnonzero(low[start:stop] <= level)
    return _crossing(low, start + int(close[0]), level) if close.size else float(start)


def _lift_off(low: Floats, start: int, stop: int, rate_hz: float) -> float:
    """Moment (frame with fraction) at which the foot leaves where it stood, ``stop`` being the first frame clearly above it."""
    if stop >= low.size:
        return float(low.size - 1)
    reach = max(2, round(2 * SEARCH_S * rate_hz))
    begin = max(start, stop - reach)
    level = float(median_of_known(low[max(start, begin - reach) : begin + 1])) + SETTLED_M
    resting = np.flatnonzero(low[begin:stop] <= level)
    return _crossing(low, begin + int(resting[-1]) + 1, level) if resting.size else float(begin)


def _refined(mask: Mask, low: Floats, rate_hz: float) -> Stances:
    """Touch-down and lift-off of every stretch of a mask, from the height of the lowest point above the ground."""
    vertical = derivative(low, rate_hz, 1, FOOT_WINDOW_S)
    acceleration = derivative(low, rate_hz, 2, FOOT_WINDOW_S)
    events = []
    for start, stop in runs(mask):
        # The stretch ends above the leaving height; the foot had left the ground when it last was below the entry height.
        below = np.flatnonzero(low[start:stop] <= ENTER_M)
        last = start + int(below[-1]) + 1 if below.size else stop
        on = _touch_down(low, vertical, acceleration, start, last, rate_hz)
        off = _lift_off(low, start, last, rate_hz)
        if off - on >= SHORTEST_S * rate_hz:
            events.append((on, off))
    return events


def _against_ground(heights: Floats, swinging: Mask, vertical: Floats, rate_hz: float) -> Mask:
    """Hysteresis of catalogue 6.2 on heights (F,) above the ground."""
    enter = (heights < ENTER_M) & (vertical > STILL_FALLING_M_S) & ~swinging
    leave = ~(heights <= LEAVE_M) | swinging
    shortest = max(2, round(SHORTEST_S * rate_hz))
    return lasting(bridged(hysteresis(enter, leave), shortest - 1), shortest)


def _heights_of(movement: Movement) -> Floats:
    """Heights (F, 2, P) of the points of both feet, short gaps bridged."""
    # Above the floor of the room, not above the steps that the body model supposes: the levels are found here.
    above_floor = movement.foot_heights_m + movement.ground_m[:, :, None]
    longest = round(LONGEST_GAP_S * movement.rate_hz)
    return np.stack(
        [
            np.stack([fill_short(above_floor[:, foot, point], longest) for point in range(len(FOOT_POINTS))], axis=-1)
            for foot in range(2)
        ],
        axis=1,
    )


def _swings(low: Floats, above: Floats, falling: Mask, horizontal: Floats, kind: Kind) -> Mask:
    """Where a foot (F, 2) is not on the ground however low it is: it tips over an edge, trails behind a fall, or glides."""
    # A foot that leaves a step downwards is off it as well.
    tipping = low < -TIPPING_M[kind]
    near_ball = np.where(np.isfinite(above[:, :, 1:3]), above[:, :, 1:3], np.inf).min(axis=2)
    # The feet of a solved skeleton are too rough for this.
    trailing = falling[:, None] & (near_ball > TRAILING_M) & np.isfinite(near_ball) & (kind == "markers")
    gliding = np.any([(low > height) & (horizontal > speed) for height, speed in SWINGING[kind]], axis=0)
    return np.asarray(tipping | trailing | gliding)


def _part_on(low: Floats, on: Mask, rate: float) -> Mask:
    """When a part of a foot (F,) that is so low is on the ground, of the time that the foot is."""
    mask = _against_ground(low, ~on, derivative(low, rate, 1, FOOT_WINDOW_S), rate)
    return np.asarray(on & stance_mask(_refined(mask, low, rate), len(low)))


@dataclass(frozen=True)
class _Stood:
    """Heights of the foot points above the ground (F, 2, P), the ground (F, 2), where each foot is known (F, 2), its stances."""

    above: Floats
    ground: Floats
    known: Mask
    stances: tuple[Stances, Stances]


def feet_on(movement: Movement) -> Mask:
    """Frames (F, 2) in which a foot is on the ground, as ``find_feet`` tells it, without which part of it."""
    return np.stack([stance_mask(stances, movement.frames) for stances in _stood(movement).stances], axis=1)


def find_feet(movement: Movement) -> Feet:
    """Contacts of both feet with the ground from the heights of the foot points.

    Gaps up to 0.1 s are bridged; a foot that cannot be seen is not on the ground and ``known`` says so. Rule of catalogue 6.2,
    with the level of the ground found by who carries the body; touch-down at the peak of vertical acceleration (Handsaker
    2016, Hreljac & Stergiou 2000) where it is hard, else, and at lift-off, where the foot leaves its rest by 2 mm. While the body
    of markers falls freely no foot stands.
    """
    rate, frames = movement.rate_hz, movement.frames
    stood = _stood(movement)
    above, stances = stood.above, stood.stances
    on, heel, toe = (np.zeros((frames, 2), dtype=bool) for _ in range(3))
    for foot in range(2):
        on[:, foot] = stance_mask(stances[foot], frames)
        fore = above[:, foot, 1:]
        seen = np.isfinite(fore).any(axis=1)
        fore_low = np.where(seen, np.where(np.isfinite(fore), fore, np.inf).min(axis=1), np.nan)
        heel[:, foot] = _part_on(above[:, foot, _HEEL], on[:, foot], rate)
        toe[:, foot] = _part_on(fore_low, on[:, foot], rate)
    return Feet(above, stood.ground, on, heel, toe, (tuple(stances[0]), tuple(stances[1])), stood.known)


def _stood(movement: Movement) -> _Stood:
    """The stances of both feet."""
    rate = movement.rate_hz
    heights = _heights_of(movement)
    known = np.isfinite(heights).any(axis=2)
    finite = np.where(np.isfinite(heights), heights, np.inf)
    lowest = finite.argmin(axis=2)
    low = np.where(known, finite.min(axis=2), np.nan)
    vertical = derivative(low, rate, 1, FOOT_WINDOW_S)
    velocity = derivative(movement.foot_points_m[..., :2], rate, 1, FOOT_WINDOW_S)
    speeds = np.linalg.norm(velocity, axis=-1)
    horizontal = np.nan_to_num(np.take_along_axis(speeds, lowest[..., None], axis=2)[..., 0], nan=0.0)
    com_z = movement.centre_of_mass_m[:, 2]
    falling = derivative(com_z, rate, 2, 2 * FOOT_WINDOW_S) < FALLING_M_S2
    leg = movement.standing.leg_length_m
    ground = ground_levels(
        # Who kneels or lies rests on an instep or the back of a heel: that is no level that a foot stands on.
        np.where(stands(movement)[:, None], low, np.nan),
        vertical,
        horizontal,
        com_z,
        falling,
        rate_hz=rate,
        leg_length_m=leg if np.isfinite(leg) else 0.8,
        kind=movement.kind,
    )
    above = heights - ground[:, :, None]
    low = low - ground
    # Toes that reach over the edge of a step are not the foot: below the ground the ball counts.
    ball = np.where(np.isfinite(above[:, :, 1:3]), above[:, :, 1:3], -np.inf).max(axis=2)
    low = np.where((low < 0) & np.isfinite(ball), np.minimum(ball, 0.0), low)
    swinging = _swings(low, above, falling, horizontal, movement.kind)
    seen_by_height = [
        _refined(_against_ground(low[:, foot], swinging[:, foot], vertical[:, foot], rate), low[:, foot], rate)
        for foot in range(2)
    ]
    stances = with_carrying_foot((seen_by_height[0], seen_by_height[1]), low, known, com_z, rate, movement.kind)
    # Lengths of a solved skeleton, hence its fall, are estimates.
    if movement.kind == "markers":
        stances = timed_by_falls(stances, com_z, rate)
    return _Stood(above, ground, known, stances)


def list_contacts(feet: Feet, rate_hz: float) -> tuple[Contact, ...]:
    """Contacts of foot, heel and toe in order of time; a heel or toe that comes and goes with the foot has the foot's times."""
    contacts = []
    for foot, side in enumerate(SIDES):
        stances = feet.stances[foot]
        contacts += [Contact(side, "foot", on / rate_hz, off / rate_hz) for on, off in stances]
        parts: tuple[tuple[Literal["heel", "toe"], Mask], ...] = (("heel", feet.heel[:, foot]), ("toe", feet.toe[:, foot]))
        begins, ends = {int(np.ceil(on)): on for on, _ in stances}, {int(np.floor(off)): off for _, off in stances}
        for part, mask in parts:
            for start, stop in runs(mask):
                begin, end = begins.get(start, float(start)), ends.get(stop - 1, float(stop - 1))
                contacts.append(Contact(side, part, begin / rate_hz, end / rate_hz))
    return tuple(sorted(contacts, key=lambda item: (item.start_s, item.foot, item.part)))
