"""review.json: a review as plain objects and back. Fields that this version does not know are passed over, never refused."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from ..body.movement import Movement, Standing
from ..clean.quality_json import quality_from_json, quality_to_json
from ..findings.causes import chains_of
from ..findings.corrections import corrections, link_counts
from ..findings.finding import Finding, Unsure, View
from ..findings.load import jump_load
from ..findings.measured import Measured
from ..phrase.phase import Contact, Phase, Phrase
from ..phrase.properties import phase_from, properties_of
from ..plain_data import Entries, Known, entry, plain, read_as
from ..take import Side
from .decisions import Decisions, as_decided, decisions_from_json, decisions_to_json
from .review import Markers, Review, TakeSummary

FORMAT = "in-the-round/review"
VERSION = 2

#: What decisions change in a finding: kept as analysed beside what is shown.
_DECIDED = ("cue", "band", "came_after", "may_have_led_to")
_ARRAYS_OF_STANDING = ("demi_plie_rad", "releve_m", "pointed_rad", "shoulder_height_m", "passive_turnout_rad")

#: What every phase says of itself beside its kind and id, each as its type.
_SPAN: dict[str, Any] = {"side": Side | None, "start": int, "end": int, "start_s": Known, "end_s": Known}


def finding_to_json(finding: Finding) -> dict[str, Any]:
    """A finding as in the contract."""
    data = asdict(finding)
    data["view"] = {"from": finding.view.position_m, "at": finding.view.aim_m, "name": finding.view.name}
    return data


def finding_from_json(data: Mapping[str, Any]) -> Finding:
    """A finding back from its object."""
    view = entry(data, "view", Entries)
    position_m, aim_m = (entry(view, name, tuple[float, float, float]) for name in ("from", "at"))
    return read_as(Finding, data, view=View(position_m, aim_m, entry(view, "name", str)))


def analysed_from_json(data: Mapping[str, Any]) -> tuple[Finding, ...]:
    """The findings as the analysis left them: those that are shown, with what decisions may have changed put back."""
    analysed = entry(data, "analysed", dict[str, Entries])
    items = entry(data, "findings", tuple[Entries, ...])
    before = [entry(analysed, entry(item, "id", str), Entries) for item in items]
    return tuple(
        finding_from_json({**item, **as_found, "decision": "open", "note": ""})
        for item, as_found in zip(items, before, strict=True)
    )


def decided_to_json(analysed: tuple[Finding, ...], phrase: Phrase, decisions: Decisions) -> dict[str, Any]:
    """What depends on the teacher's decisions: all that is written again when one is made."""
    findings = as_decided(analysed, decisions)
    return {
        "findings": [finding_to_json(finding) for finding in findings],
        "chains": [list(chain) for chain in chains_of(findings)],
        "corrections": [asdict(item) for item in corrections(findings, phrase)],
        "came_first": [asdict(item) for item in link_counts(findings, phrase)],
        "decisions": decisions_to_json(decisions),
    }


def with_decisions(data: Mapping[str, Any], decisions: Decisions) -> dict[str, Any]:
    """The object of a review with other decisions; all else stays as it is, fields that this version does not know too."""
    changed: dict[str, Any] = plain(decided_to_json(analysed_from_json(data), phrase_from_json(data), decisions))
    before = data["decisions"]
    shown = {item["id"]: item for item in data["findings"]}
    findings = [{**shown[item["id"]], **item} for item in changed["findings"]]
    kept = {name: _with_unknown(before.get(name, ()), items) for name, items in changed["decisions"].items()}
    return {**data, **changed, "findings": findings, "decisions": {**before, **kept}}


def _with_unknown(before: Iterable[Any], after: list[Any]) -> list[Any]:
    """Decisions, each with the fields that only a newer version knows of what stood there about the same."""

    def about(item: Mapping[str, Any]) -> str:
        marks = [item[name] for name in ("mark", "before", "after") if name in item]
        return json.dumps([mark.get("finding") or mark for mark in marks] or item.get("id"), sort_keys=True)

    stood = {about(item): item for item in before}
    return [{**stood.get(about(item), {}), **item} for item in after]


def to_json(review: Review, movement_sha256: str) -> dict[str, Any]:
    """The object of review.json: plain floats, null for what is unknown. movement_sha256: of the movement.npz beside it."""
    standing = asdict(review.movement.standing)
    data = {
        "format": FORMAT,
        "version": VERSION,
        "take": asdict(review.take),
        "profile": review.profile,
        "quality": quality_to_json(review.quality),
        "standing": {key: value.tolist() if isinstance(value, np.ndarray) else value for key, value in standing.items()},
        "phases": [_phase_to_json(phase) for phase in review.phrase.phases],
        "contacts": [asdict(contact) for contact in review.phrase.contacts],
        "unsure": [asdict(item) for item in review.unsure],
        "jump_load": asdict(jump_load(review.phrase)),
        "measured": [asdict(item) for item in review.measured],
        "placement": review.placement,
        "measures_version": review.measures_version,
        "movement_sha256": movement_sha256,
        "analysed": {finding.id: {name: getattr(finding, name) for name in _DECIDED} for finding in review.analysed},
        **decided_to_json(review.analysed, review.phrase, review.decisions),
    }
    result: dict[str, Any] = plain(data)
    return result


def standing_from_json(data: Mapping[str, Any]) -> Standing:
    """The dancer's own reference; a range that an earlier version did not know keeps its default."""
    pairs = {name: np.array(entry(data, name, tuple[float, float])) for name in _ARRAYS_OF_STANDING if name in data}
    return read_as(Standing, data, **pairs)


def _phase_to_json(phase: Phase) -> dict[str, Any]:
    common = {name: getattr(phase, name) for name in ("id", "kind", *_SPAN)}
    return {**common, "properties": properties_of(phase)}


def phase_from_json(data: Mapping[str, Any]) -> Phase:
    """A step back from its object."""
    span = {name: entry(data, name, wanted) for name, wanted in _SPAN.items()}
    properties = entry(data, "properties", Entries)
    return phase_from(entry(data, "kind", str), id=entry(data, "id", str), properties=properties, **span)


def phrase_from_json(data: Mapping[str, Any]) -> Phrase:
    """The steps of a review's object."""
    phases = entry(data, "phases", tuple[Entries, ...])
    return Phrase(entry(data, "contacts", tuple[Contact, ...]), tuple(map(phase_from_json, phases)))


def _within(phrase: Phrase, frames: int) -> Phrase:
    """The steps of a movement, none of which may lie beyond it. Raises ValueError where one does."""
    for phase in phrase.phases:
        if not 0 <= phase.start <= phase.end < frames:
            raise ValueError(
                f"{phase.id} must lie within the {frames} frames of the movement, not from {phase.start} to {phase.end}"
            )
    return phrase


def from_json(data: Mapping[str, Any], movement: Movement, markers: Markers | None) -> Review:
    """A review from its object. Raises TypeError when that is damaged, ValueError when it has a step beyond the movement."""
    take = entry(data, "take", Entries)
    return Review(
        take=read_as(TakeSummary, take, **{name: entry(take, name, Known) for name in ("rate_hz", "duration_s")}),
        profile=entry(data, "profile", str),
        quality=quality_from_json(entry(data, "quality", Entries)),
        movement=movement,
        phrase=_within(phrase_from_json(data), movement.frames),
        analysed=analysed_from_json(data),
        unsure=entry(data, "unsure", tuple[Unsure, ...]),
        measured=entry(data, "measured", tuple[Measured, ...]),
        placement=entry(data, "placement", str | None),
        measures_version=entry(data, "measures_version", str),
        decisions=decisions_from_json(entry(data, "decisions", Entries)),
        markers=markers,
    )
