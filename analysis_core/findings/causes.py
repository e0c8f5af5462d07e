"""What came first: which finding may have led to which, by the rules of the shared catalogue, section 7."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np

from ..body.movement import JOINTS, Movement
from ..phrase.phase import Jump, Phase, Phrase, Turn
from ..take import Source
from .finding import Finding
from .limits import CAUSES


@dataclass(frozen=True)
class Edge:
    """One fault that may lead to another. within: "same" phase, "next" support, anywhere in the "phrase"; or one "event" of which
    both are readings: then the edge holds whichever of them is seen first."""

    cause: str
    effect: str
    lag_s: float
    within: str
    strength: float
    reason: str
    basis: str


@cache
def edges() -> tuple[Edge, ...]:
    """All edges, read from causes.toml."""
    data = tomllib.loads((Path(__file__).parent / "causes.toml").read_text(encoding="utf-8"))
    return tuple(Edge(**edge) for edge in data["edge"])


def _near(edge: Edge, cause: Phase, effect: Phase, phrase: Phrase) -> bool:
    """Whether two phases belong together as an edge asks: overlapping or touching, or with at most one support in between."""
    if edge.within == "phrase" or cause.id == effect.id:
        return True
    # The preparation of a turn, and a landing that grows into a plié, are one with their neighbour.
    prepared = effect.preparation_s if isinstance(effect, Turn | Jump) else None
    begin = effect.start_s if prepared is None else prepared
    if cause.start_s <= effect.end_s and begin <= cause.end_s + CAUSES.touching_s:
        return True
    if edge.within == "same":
        return False
    between = [p for p in phrase.phases if p.kind in ("step", "jump", "turn") and cause.end_s < p.start_s and p.end_s < begin]
    return effect.start_s >= cause.start_s and len(between) <= 1


def _made_up(finding: Finding, movement: Movement) -> frozenset[str]:
    """Joints that are filled by more than a rigid body at a finding's peak."""
    frame = int(np.clip(round(finding.peak_s * movement.rate_hz), 0, movement.frames - 1))
    joints = {JOINTS[i] for i in np.flatnonzero(movement.joint_source[frame] > Source.BODY_PART)}
    return frozenset(joints)


def _may_lead(edge: Edge, cause: Finding, effect: Finding, phases: dict[str, Phase], phrase: Phrase, movement: Movement) -> bool:
    if cause.confidence == "low":
        return False
    if edge.within == "event":
        return cause.phase == effect.phase and not (_made_up(cause, movement) & _made_up(effect, movement))
    lag = effect.onset_s - cause.onset_s
    if not (-CAUSES.onset_error_s < lag <= edge.lag_s) or (lag <= 0 and cause.peak_s > effect.peak_s):
        return False
    if not _near(edge, phases[cause.phase], phases[effect.phase], phrase):
        return False
    # Two findings that rest on the same invented samples say nothing about each other.
    return not (_made_up(cause, movement) & _made_up(effect, movement))


def order(findings: tuple[Finding, ...], phrase: Phrase, movement: Movement) -> tuple[Finding, ...]:
    """Findings with their links.

    A link is offered, not claimed: it says what came first and may have led to what. Several causes of one effect are kept in
    the order of edge strength × severity × earliness.
    """
    phases = {phase.id: phase for phase in phrase.phases}
    causes: dict[str, list[tuple[float, str]]] = {finding.id: [] for finding in findings}
    named: dict[str, list[Finding]] = {}
    for finding in findings:
        named.setdefault(finding.fault, []).append(finding)
    for edge in edges():
        for cause, effect in product(named.get(edge.cause, ()), named.get(edge.effect, ())):
            if _may_lead(edge, cause, effect, phases, phrase, movement):
                lag = max(effect.onset_s - cause.onset_s, 0.0)
                earlier = CAUSES.at_once + (1 - CAUSES.at_once) * lag / edge.lag_s
                weight = edge.strength * (CAUSES.least_severity + cause.severity) * earlier
                causes[effect.id].append((weight, cause.id))
    _without_circles(causes, {finding.id: finding.onset_s for finding in findings})
    before = {key: tuple(name for _, name in sorted(found, reverse=True)) for key, found in causes.items()}
    after: dict[str, list[str]] = {finding.id: [] for finding in findings}
    for key, names in before.items():
        for name in names:
            after[name].append(key)
    return tuple(
        replace(finding, came_after=before[finding.id], may_have_led_to=tuple(after[finding.id])) for finding in findings
    )


def _without_circles(causes: dict[str, list[tuple[float, str]]], onset: dict[str, float]) -> None:
    """Of two findings that could each have led to the other, the earlier is the cause."""
    for effect, found in causes.items():
        causes[effect] = [
            (weight, cause)
            for weight, cause in found
            if not any(other == effect for _, other in causes[cause]) or (onset[cause], cause) < (onset[effect], effect)
        ]


def chains_of(findings: tuple[Finding, ...]) -> tuple[tuple[str, ...], ...]:
    """From every root, the way along each finding's strongest cause, longest chain first; each ends where nothing follows."""
    main = {finding.id: finding.came_after[0] for finding in findings if finding.came_after}
    followed = set(main.values())
    found = []
    for finding in findings:
        if finding.id in followed or finding.id not in main:
            continue
        chain = [finding.id]
        while chain[-1] in main and main[chain[-1]] not in chain:
            chain.append(main[chain[-1]])
        found.append(tuple(reversed(chain)))
    return tuple(sorted(found, key=len, reverse=True))
