"""What the viewer of the page is given: the dancer as a GLB, and the moments, views and drawings of the cards."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..body.movement import SEGMENTS
from ..figure import palette
from ..figure.glb import clip_of, glb_of
from ..figure.levels import segments_named
from ..figure.looks import DEFAULT_LOOK, LOOKS
from ..figure.proportions import rest_of
from ..findings.finding import View
from ..take import Floats
from ..views import Drawing
from ..views.strokes import Eye, lines_of, stripe_of
from .story import Card, Pose, Story

#: How thick a measured line is, metres: what is drawn beside it (bars, heads of arrows) is counted in it.
_THICKNESS_M = 0.010
#: Places and times are told to so many decimals, metres and seconds.
_DECIMALS = 4
#: In step with the earlier take by at most so many pairs of times.
_MOST_PAIRS = 400


def glb_for(story: Story, look: str = DEFAULT_LOOK) -> bytes:
    """The dancer with this take as "now" and, on one body, the earlier as "before"; only what is on a card is coloured."""
    rest = rest_of(story.review.movement)
    shown = tuple(card.thing.finding for card in story.cards)
    clips = [clip_of("now", story.review, rest, shown)]
    if story.earlier is not None and story.comparison is not None:
        faults = {finding.fault for finding in shown}
        answers = {item.b for item in story.comparison.findings if item.a in {f.id for f in shown}}
        earlier = tuple(f for f in story.earlier.findings if f.id in answers and f.fault in faults)
        clips.append(clip_of("before", story.earlier, rest, earlier))
    return glb_of(rest, clips, look)


def _rounded(values: Floats) -> list[Any]:
    told: list[Any] = np.round(values, _DECIMALS).tolist()
    return told


def _eye(view: View) -> Eye:
    """The eye of a view, level."""
    place, away = np.array(view.position_m), np.subtract(view.position_m, view.aim_m)
    away = away / max(float(np.linalg.norm(away)), 1e-9)
    right = np.cross([0.0, 0.0, 1.0], away)
    right = right / np.linalg.norm(right) if np.linalg.norm(right) > 1e-6 else np.array([0.0, 1.0, 0.0])
    return Eye(place, right, np.cross(away, right))


def strokes_for(drawing: Drawing, view: View) -> list[dict[str, Any]]:
    """A drawing as lines [[x, y, z], …] and faces of four corners, each with its role, in metres."""
    eye = _eye(view)
    told: list[dict[str, Any]] = []
    for shape in drawing.shapes:
        stripe = stripe_of(shape, _THICKNESS_M, eye) if shape.role == "band" else None
        if stripe is not None:
            told.append({"role": shape.role, "faces": [_rounded(quad) for quad in stripe[0]]})
            continue
        lines = [_rounded(line) for line in lines_of(shape, _THICKNESS_M, eye) if len(line) > 1]
        told.append({"role": shape.role, "lines": lines})
    return told


def _look(time_s: float, view: View) -> dict[str, Any]:
    return {"time": round(time_s, 3), "from": _rounded(np.array(view.position_m)), "at": _rounded(np.array(view.aim_m))}


def _pose(pose: Pose) -> dict[str, Any]:
    told = _look(pose.time_s, pose.view)
    if pose.drawing is None:
        return told
    return told | {
        "drawing": strokes_for(pose.drawing, pose.view),
        "number": pose.number,
        "numberAt": _rounded(pose.drawing.number_at),
    }


def _card(card: Card) -> dict[str, Any]:
    finding = card.thing.finding
    return {
        "id": finding.id,
        "number": card.number,
        "title": card.title,
        "cue": card.cue,
        "parts": segments_named(finding.parts),
        "now": _pose(card.now),
        "before": None if card.before is None else _pose(card.before),
    }


def _in_step(story: Story) -> dict[str, list[float]] | None:
    """Pairs of times at which both takes do the same."""
    if story.comparison is None:
        return None
    now, before = story.comparison.alignment.path
    if not now.size:
        return None
    chosen = np.unique(np.linspace(0, now.size - 1, min(_MOST_PAIRS, now.size)).astype(np.int64))
    return {"now": np.round(now[chosen], 3).tolist(), "before": np.round(before[chosen], 3).tolist()}


def _palette(look: str) -> dict[str, Any]:
    """The one table of colours and sizes, for the viewer."""
    names = ("SKIN", "WATCH", "FAULT", "CANNOT_TELL", "RING", "MEASURED", "REFERENCE", "BAND", "AID", "RIM")
    numbers = (
        *("RING_EVERY_M", "RING_ABOVE", "RING_STRENGTH", "SWELLING_M", "SHOWN_GAIN", "TURNS_AT", "TURNS_GAIN"),
        *("UNKNOWN_STRENGTH", "UNKNOWN_RING_STRENGTH"),
    )
    told = {name.lower(): getattr(palette, name) for name in (*names, *numbers)}
    return told | {"covers": LOOKS[look].colours}


def scene_for(story: Story, look: str = DEFAULT_LOOK) -> dict[str, Any]:
    """All that the viewer needs beside the GLB; plain numbers and texts."""
    return {
        "segments": list(SEGMENTS),
        "palette": _palette(look),
        "cards": [_card(card) for card in story.cards],
        "opening": None if story.opening is None else _look(story.opening.peak_s, story.opening.view),
        "inStep": _in_step(story),
    }
