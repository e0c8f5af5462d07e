"""Turns (catalogue 5.1), and what a balance in retiré shares with them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...analysis_core.body.anatomy import LEG_JOINTS, SIDES
from ...analysis_core.take import Floats
from ..score import Step
from .dance import Dance, TrueValue, support_of

Frames = NDArray[np.intp]


def alone(dance: Dance, step: Step) -> Frames:
    """Frames in which the standing leg carries alone, from the push to the closing; a hop does not end it."""
    _, works = support_of(step)
    leaves = step.moments.get("push_s", step.moments.get("rise_s", step.start_s))
    inside = dance.frames(leaves, step.moments["close_s"] + 0.3)
    up = inside[~dance.down(works)[inside]]
    middle = 0.5 * (leaves + step.moments["close_s"])
    # One stretch: the working foot may still be in the air from the step before.
    breaks = np.flatnonzero(np.diff(up) > 1)
    for part in np.split(up, breaks + 1):
        if part.size and dance.time_s[part[0]] <= middle <= dance.time_s[part[-1]]:
            return np.asarray(part)
    return up


def upright(dance: Dance, step: Step) -> Frames:
    """Frames in which the standing heel is fully up, until it begins to come down."""
    m = step.moments
    return dance.frames(m["up_s"], m["leave_s"]) if step.kind == "turn" else dance.frames(step.start_s, step.end_s)


def in_place(dance: Dance, step: Step) -> Frames:
    """Frames in which the retiré is established: the toe within 30 mm of its median place against the standing leg.

    In that leg's own directions: a leg that leans, and a body that turns over it, carry the toe with them. A toe that only passes
    by is never there: then there are none.
    """
    stands, works = support_of(step)
    lifted = alone(dance, step)
    ankle = dance.joint("ankle", stands)
    away = dance.foot(works)[:, 3] - ankle
    along = _unit_of(dance.joint("hip", stands) - ankle)
    level = np.column_stack([dance.forward, np.zeros(len(away))])
    ahead = _unit_of(level - np.sum(level * along, axis=1)[:, None] * along)
    place = np.stack([np.sum(away * axis, axis=1) for axis in (ahead, np.cross(ahead, along), along)], axis=1)
    near = np.linalg.norm(place - np.median(place[lifted], axis=0), axis=1) <= 30.0
    kept = lifted[near[lifted]]
    return dance.frames(float(dance.time_s[kept[0]]), float(dance.time_s[kept[-1]])) if kept.size else kept


def _unit_of(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1)[:, None])


def turns(dance: Dance) -> Iterator[TrueValue | None]:
    """Everything that belongs to turns alone."""
    for step in dance.of_kind("turn"):
        yield from _preparation(dance, step)
        yield from _standing_leg(dance, step)
        yield from _finish(dance, step)
        yield from _head(dance, step)
        yield from _arms(dance, step)
        yield from _residual(dance, step)


def _preparation(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    m, (stands, _) = step.moments, support_of(step)
    plie = max((s for s in dance.of_kind("plie") if s.start_s < m["hold_end_s"]), key=lambda s: s.start_s)
    window = dance.frames(plie.start_s, m["hold_end_s"])
    first, last = float(dance.time_s[window[0]]), m["hold_end_s"]
    heel = dance.heel(stands)
    yield TrueValue("heel-lifts-early", "height", step.id, "turn", stands, first, last, last, dance.at(heel, m["hold_end_s"]))
    left = dance.rises_at(heel, 10.0, plie.start_s, m["up_s"])
    if left is not None:
        yield TrueValue("heel-lifts-early", "lead", step.id, "turn", stands, first, left, last, m["hold_end_s"] - left)

    towards = 1.0 if step.side == "left" else -1.0
    begins = max(plie.start_s, m["preparation_s"])
    turned = towards * (dance.facing - dance.at(dance.facing, begins))
    gone = dance.rises_at(turned, 5.0, begins, m["up_s"]) or m["up_s"]
    still = dance.frames(begins, min(gone, m["heel_s"]))
    heading = dance.foot_heading(stands)
    yield dance.value("foot-slips-parallel", "yaw", step, stands, dance.at(heading, begins) - heading, still)
    heel_place = dance.foot(stands)[:, 0, :2]
    slid = np.linalg.norm(heel_place - heel_place[still[0]], axis=1)
    yield dance.value("foot-slips-parallel", "slip", step, stands, slid, still)

    twist = dance.angle("thorax_yaw") - dance.facing
    twist = twist - 360.0 * np.round(twist[still[0]] / 360.0) - (dance.standing("thorax_yaw") - dance.standing("pelvis_yaw"))
    yield dance.value("shoulders-lead", "twist", step, None, twist, dance.frames(plie.start_s, m["heel_s"]), "away")


def _standing_leg(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    stands, _ = support_of(step)
    lifted, up = alone(dance, step), upright(dance, step)
    loss = dance.foot_out(stands)[up[0]] - dance.foot_out(stands)
    yield dance.value("turnout-lost-supporting", "loss", step, stands, loss, up)
    lean = dance.mass[:, :2] - dance.support(stands)
    tilt = np.degrees(np.arctan2(np.linalg.norm(lean, axis=1), dance.mass[:, 2]))
    before_down = lifted[dance.time_s[lifted] <= step.moments["leave_s"]]
    told = dance.value("axis-tilts", "tilt", step, stands, tilt, before_down)
    if told is not None:
        peak = int(np.argmin(np.abs(dance.time_s - told.peak_s)))
        yield replace(told, towards=_words(dance, lean, peak))
    place = dance.support(stands)
    # "Per turn": of two revolutions each may travel as far as one.
    travel = np.linalg.norm(place - place[up[0]], axis=1) / max(1.0, float(step.facts["revolutions"] or 1.0))
    last = up[-1:]
    told = dance.value("turn-travels", "travel", step, stands, travel, last)
    if told is not None:
        yield replace(told, start_s=float(dance.time_s[up[0]]))
    clear = dance.lifted(stands)[:, 1:].min(axis=1)
    # Over what the forefoot stands at on relevé: its toe is bent there.
    yield dance.value("turn-hops", "clearance", step, stands, clear - np.percentile(clear[up], 25), lifted)


def _words(dance: Dance, away: Floats, frame: int) -> tuple[str, ...]:
    """A horizontal vector at a frame in the dancer's words, the greater part first; a part below a third of it is not named."""
    ahead, right = float(away[frame] @ dance.forward[frame]), float(away[frame] @ dance.rightward[frame])
    parts = sorted(
        [(abs(ahead), "forward" if ahead > 0 else "back"), (abs(right), "right" if right > 0 else "left")], reverse=True
    )
    return tuple(word for size, word in parts if size > parts[0][0] / 3.0)


def _finish(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    m = step.moments
    both = dance.down("left") & dance.down("right")
    after = dance.frames(m["down_s"] - 0.1, m["settled_s"])
    closed = after[both[after]]
    if not closed.size:
        return
    close_s = float(dance.time_s[closed[0]])
    for side in SIDES:
        out = dance.foot_out(side)
        loss = dance.at(out, m["low_s"]) - out
        yield dance.value("turnout-lost-finish", "loss", step, side, loss, dance.frames(close_s, close_s + 0.3))
        skid = out - dance.at(out, close_s)
        yield dance.value("turnout-lost-finish", "skid", step, side, skid, dance.frames(close_s, close_s + 0.3))


def _head(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    towards = 1.0 if step.side == "left" else -1.0
    m = step.moments
    head, trunk = towards * dance.angle("head_heading"), towards * dance.angle("thorax_yaw")
    window = dance.frames(m["spin_s"], m["spun_s"])
    front_head, front_trunk = head[window[0]], trunk[window[0]]
    apart = np.abs((head - front_head) - (trunk - front_trunk))
    yield dance.value("late-spot", "apart", step, None, apart, window)
    leads = []
    revolutions = step.facts["revolutions"]
    assert isinstance(revolutions, (int, float))
    for n in range(1, int(revolutions) + 1):
        back = dance.rises_at(head - front_head, 360.0 * n - 30.0, m["spin_s"], m["spun_s"], 0.0)
        trunk_back = dance.rises_at(trunk - front_trunk, 360.0 * n - 30.0, m["spin_s"], m["spun_s"], 0.0)
        if back is not None and trunk_back is not None:
            leads.append((trunk_back - back, back))
    if leads:
        lead, when = min(leads)
        yield TrueValue("late-spot", "lead", step.id, "turn", None, m["spin_s"], when, m["spun_s"], lead)


def _arms(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    m = step.moments
    held = dance.frames(m["arms_closed_s"], m["arms_open_s"])
    up = dance.simulation.movement.segment("thorax")[:, :, 1]
    neck = dance.joint("neck")
    heights = [np.sum((dance.joint("hand", side) - neck) * up, axis=1) for side in SIDES]
    for side, height in zip(SIDES, heights, strict=True):
        yield dance.value("arms-drop", "drop", step, side, height[held[0]] - height, held)
    yield dance.value("arms-drop", "difference", step, None, np.abs(heights[0] - heights[1]), held)


def _residual(dance: Dance, step: Step) -> Iterator[TrueValue | None]:
    m, towards = step.moments, 1.0 if step.side == "left" else -1.0
    closing = _closing(dance, step)
    turned = towards * (dance.at(dance.facing, closing) - dance.at(dance.facing, m["preparation_s"]))
    residual = turned - 360.0 * float(step.facts["revolutions"] or 0.0)
    yield TrueValue("turn-angle-off", "residual", step.id, "turn", None, m["spin_s"], closing, closing, residual)


def _closing(dance: Dance, step: Step) -> float:
    both = dance.down("left") & dance.down("right")
    after = dance.frames(step.moments["down_s"] - 0.1, step.moments["settled_s"])
    closed = after[both[after]]
    return float(dance.time_s[closed[0]]) if closed.size else step.moments["close_s"]


def retires(dance: Dance) -> Iterator[TrueValue | None]:
    """Retiré and relevé, of turns and of balances on one leg."""
    for step in (*dance.of_kind("turn"), *dance.of_kind("balance")):
        stands, works = support_of(step)
        held = in_place(dance, step)
        knee = dance.knee_out(works)
        if np.isfinite(knee[held]).any():
            yield dance.value("turnout-lost-working", "loss", step, works, np.nanmax(knee[held]) - knee, held)
        lifted = alone(dance, step)
        late = lifted[lifted.size // 4 :]
        within = late[np.isin(late, held)]
        toe, ankle, top = (v[:, 2] for v in (dance.foot(works)[:, 3], dance.joint("ankle", stands), dance.joint("knee", stands)))
        share = (toe - ankle) / (top - ankle)
        told = dance.value("low-retire", "height", step, works, share, within, "least")
        if told is not None:
            yield replace(told, value=float(np.sort(share[within])[within.size // 10]))
        yield _off_the_leg(dance, step, within)
        if step.kind == "turn" or step.facts["demi_pointe"] == "yes":
            yield from _releve(dance, step, stands)


def _from_leg(dance: Dance, stands: str, works: str) -> Floats:
    """Least distance (F,) of the toe from a hundred places along the standing leg."""
    hip, knee, ankle = (dance.joint(name, stands) for name in LEG_JOINTS)
    part = np.linspace(0.0, 1.0, 50)[:, None, None]
    leg = np.concatenate([hip + part * (knee - hip), knee + part * (ankle - knee)])
    return np.asarray(np.linalg.norm(leg - dance.foot(works)[:, 3], axis=2).min(axis=0))


def _off_the_leg(dance: Dance, step: Step, within: NDArray[np.intp]) -> TrueValue | None:
    """How much further from the leg the toe is, for a tenth of the time, than where it was nearest in any retiré of that leg."""
    stands, works = support_of(step)
    same = [other for other in (*dance.of_kind("turn"), *dance.of_kind("balance")) if support_of(other)[1] == works]
    away = _from_leg(dance, stands, works)
    off = away - away[np.concatenate([in_place(dance, other) for other in same])].min(initial=np.inf)
    told = dance.value("low-retire", "gap", step, works, off, within)
    return None if told is None else replace(told, value=float(np.sort(off[within])[-1 - within.size // 10]))


def _releve(dance: Dance, step: Step, stands: str) -> Iterator[TrueValue | None]:
    heel = dance.heel(stands)
    lifted = alone(dance, step)
    grounded = lifted[dance.forefoot_down(stands)[lifted]]
    plateau = float(np.percentile(heel[grounded], 90))
    own = 1000.0 * float(dance.simulation.movement.standing.releve_m[SIDES.index(stands)])
    first, last = float(dance.time_s[lifted[0]]), float(dance.time_s[lifted[-1]])
    top = float(dance.time_s[grounded[int(np.argmax(heel[grounded] >= plateau))]])
    # Where the dance never shows the dancer's own relevé nobody can tell a share of it.
    if dance.shows(heel, own):
        yield TrueValue("low-releve", "share", step.id, step.kind, stands, first, top, last, plateau / own)
    if step.kind == "turn":
        slow = dance.frames(step.moments["up_s"], step.moments["close_s"])
        ends = slow[np.abs(dance.turning[slow]) < 30.0]
        after_spin = ends[dance.time_s[ends] > 0.5 * (step.moments["spin_s"] + step.moments["spun_s"])]
        stop = min(float(dance.time_s[after_spin[0]]) if after_spin.size else last, step.moments["close_s"] - 0.15)
        window = grounded[(dance.time_s[grounded] >= top) & (dance.time_s[grounded] <= stop)]
        yield dance.value("low-releve", "sink", step, stands, plateau - heel, window)
