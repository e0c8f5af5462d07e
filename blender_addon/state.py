"""Between the Review of the core and what a scene remembers of it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import bpy

from .analysis_core.findings.corrections import Correction, how_often, listed
from .analysis_core.findings.finding import Finding
from .analysis_core.findings.load import jump_load, load_in_words
from .analysis_core.review import Review
from .analysis_core.review.decisions import (
    Decisions,
    Judgement,
    LinkChoice,
    Mark,
    OwnCorrection,
    decisions_from_json,
    decisions_to_json,
    mark_of,
    own_from_json,
)
from .analysis_core.settings import AUTO, SETTINGS, Setting, Settings
from .analysis_core.wording import findings as say
from .analysis_core.wording import names, numbers
from .analysis_core.wording import panels as words
from .blender_types import Rows
from .properties import DanceReviewFinding, DanceReviewLine, DanceReviewState


def folder_beside(take: Path) -> Path:
    """Where the review of a take is kept: beside it, named after it."""
    return take.with_name(f"{take.stem} review")


def _said(owner: Any, setting: Setting) -> Any:
    """What was said of one setting in Blender; None when nothing was."""
    value = getattr(owner, setting.name)
    if setting.kind == "file":
        return Path(bpy.path.abspath(value)) if value else None
    if setting.kind == "number" and setting.can_be_left:
        if not getattr(owner, f"use_{setting.name}"):
            return None
        return AUTO if setting.proposed and getattr(owner, f"propose_{setting.name}") else value
    return None if value in ("", "auto") else value


def settings_of(owner: Any) -> Settings:
    """The settings of the core from a scene's settings or from an operator with the same properties."""
    said = {setting.field: _said(owner, setting) for setting in SETTINGS}
    return Settings(**{field: value for field, value in said.items() if value is not None})


def _order(review: Review) -> Iterator[tuple[Finding, Correction, int, bool]]:
    """The list: what to say first in front, what a correction may have led to beneath it, of each its worst time first.

    Yields the finding, its correction, how deep it stands, and whether it is that correction another time.
    """
    for line in listed(review.analysed, review.phrase):
        worst, *again = line.findings
        yield worst, line.correction, line.depth, False
        for finding in sorted(again, key=lambda item: (item.peak_s, item.id)):
            yield finding, line.correction, line.depth, True


def _fill_lines(lines: Rows[DanceReviewLine], items: Iterable[tuple[str, str, str]]) -> None:
    lines.clear()
    for what, value, why in items:
        line = lines.add()
        line.what, line.value, line.why = what, value, why


def _fill_band(item: DanceReviewFinding, prefix: str, band: tuple[float | None, float | None]) -> None:
    for end, value in zip(("low", "high"), band, strict=True):
        setattr(item, f"{prefix}has_{end}", value is not None)
        setattr(item, f"{'proposed_' if prefix else 'band_'}{end}", value or 0.0)


def _fill_finding(
    item: DanceReviewFinding, finding: Finding, analysed: Finding, review: Review, judgement: Judgement | None
) -> None:
    phase = next((phase for phase in review.phrase.phases if phase.id == finding.phase), None)
    same = [other for other in review.findings if other.fault == finding.fault and other.side == finding.side]
    item.name = item.finding = finding.id
    item.title = names.fault_title(finding.fault)
    item.fault, item.phase, item.side = finding.fault, finding.phase, finding.side or ""
    item.phase_kind = phase.kind if phase else ""
    item.parts = " ".join(finding.parts)
    item.start_s, item.onset_s, item.peak_s, item.end_s = finding.start_s, finding.onset_s, finding.peak_s, finding.end_s
    item.count = say.when(phase, finding.peak_s)
    item.measured = say.value(finding)
    item.within_take = say.within_take(finding)
    item.target = numbers.band(*analysed.band, finding.unit)
    item.unit, item.band_source = finding.unit, finding.band_source
    item.how_often = say.how_often(*how_often(same, review.phrase))
    item.severity, item.grade, item.confidence = finding.severity, finding.grade, finding.confidence
    item.cue = analysed.cue
    item.caution = finding.caution or ""
    item.came_after = " ".join(analysed.came_after)
    item.view_from, item.view_at, item.view_name = finding.view.position_m, finding.view.aim_m, finding.view.name
    item.exact = json.dumps(asdict(mark_of(analysed, review.phrase.phases)))
    _fill_band(item, "proposed_", analysed.band)
    _put_judgement(item, judgement)


def _put_judgement(item: DanceReviewFinding, judgement: Judgement | None) -> None:
    """Put what the teacher said of a finding, or nothing, into its item."""
    item.decision = judgement.decision if judgement else "open"
    item.note, item.words = (judgement.note, judgement.words) if judgement else ("", "")
    set_band(item, judgement.band if judgement else None)


def fill_own(item: DanceReviewFinding, own: OwnCorrection) -> None:
    """Put a correction of the teacher's own into an item of the list."""
    item.name = item.finding = own.id
    item.own, item.main = True, False
    item.title = own.words
    item.words, item.side, item.parts = own.words, own.side or "", " ".join(own.parts)
    item.start_s, item.onset_s, item.peak_s, item.end_s = own.start_s, own.start_s, own.peak_s, own.end_s
    item.count = numbers.seconds(own.peak_s)
    item.view_from, item.view_at, item.view_name = own.view.position_m, own.view.aim_m, own.view.name
    item.decision, item.note = own.decision, own.note
    item.exact = json.dumps(asdict(own))


def _judgement_text(judgement: Judgement) -> str:
    said = judgement.note or judgement.words or words.OTHER_BAND
    return words.judged(judgement.mark.fault, judgement.mark.peak_s, judgement.decision, said)


def fill(state: DanceReviewState, review: Review, take: Path | None, folder: Path) -> None:
    """Put a review into a scene's state; whatever the state held before is replaced."""
    summary = review.take
    state.take, state.folder = str(take or ""), str(folder)
    state.take_name, state.sha256 = summary.file, summary.sha256
    kind = "markers" if summary.kind == "markers" else "skeleton"
    state.summary = f"{numbers.seconds(summary.duration_s)}, {numbers.frame_rate(summary.rate_hz)}, {kind}"
    state.rate_hz, state.frames, state.level_used = summary.rate_hz, summary.frames, review.profile
    state.verdict = review.quality.verdict
    _fill_lines(state.reasons, (("", reason, "") for reason in review.quality.reasons))
    _fill_lines(state.inferred, ((item.what, item.value, item.why) for item in summary.inferred))
    _fill_lines(state.warnings, (("", warning, "") for warning in summary.warnings))
    _fill_lines(state.unsure, ((names.fault_title(item.fault), names.step(item.phase), item.why) for item in review.unsure))
    _fill_lines(state.load, (("", sentence, "") for sentence in load_in_words(jump_load(review.phrase))))
    judged = {judgement.mark.finding: judgement for judgement in review.decisions.judgements}
    state.findings.clear()
    by_id = {finding.id: finding for finding in review.findings}
    for proposed, correction, depth, again in _order(review):
        item = state.findings.add()
        _fill_finding(item, by_id[proposed.id], proposed, review, judged.get(proposed.id))
        item.main, item.depth, item.again = correction.first and not again, depth, again
        item.times = say.times_of(correction.times, correction.chances)
    state.phases.clear()
    for phase in review.phrase.phases:
        step = state.phases.add()
        step.name, step.kind, step.start_s, step.end_s = phase.id, phase.kind, phase.start_s, phase.end_s
    _fill_links(state, review.decisions)
    for own in review.decisions.own:
        fill_own(state.findings.add(), own)
    state.chosen = -1


def _fill_links(state: DanceReviewState, decisions: Decisions) -> None:
    """Links that were decided on, and all that has no finding in this analysis."""
    state.links.clear()
    state.unmatched.clear()
    for link in decisions.links:
        if link in decisions.unmatched_links:
            item = state.unmatched.add()
            item.is_link = True
            item.text = words.link(link.choice, link.before.fault, link.after.fault)
            item.data = json.dumps(asdict(link))
        else:
            kept = state.links.add()
            kept.before, kept.after, kept.choice = link.before.finding or "", link.after.finding or "", link.choice
    for judgement in decisions.unmatched:
        item = state.unmatched.add()
        item.text = _judgement_text(judgement)
        item.data = json.dumps(asdict(judgement))


def put(state: DanceReviewState, decisions: Decisions) -> tuple[list[str], list[DanceReviewFinding]]:
    """Put decisions into a state in place of those it has; return ids of own corrections that went, and items that came."""
    judged = {judgement.mark.finding: judgement for judgement in decisions.judgements}
    own = {item.id: item for item in decisions.own}
    chosen_now = chosen(state)
    name = chosen_now.finding if chosen_now is not None else ""
    gone = [item.finding for item in state.findings if item.own and item.finding not in own]
    for place in reversed(range(len(state.findings))):
        if state.findings[place].finding in gone:
            state.findings.remove(place)
    for item in state.findings:
        if item.own:
            fill_own(item, own.pop(item.finding))
        else:
            _put_judgement(item, judged.get(item.finding))
    came = []
    for correction in own.values():
        item = state.findings.add()
        fill_own(item, correction)
        came.append(correction.id)
    _fill_links(state, decisions)
    place = next((place for place, item in enumerate(state.findings) if item.finding == name), -1)
    if state.chosen != place:
        state.chosen = place
    return gone, [item for item in state.findings if item.finding in came]


def marks_fit(state: DanceReviewState, decisions: Decisions) -> bool:
    """Whether decisions were made on just the findings that a state shows."""
    present = {item.finding: _mark(item) for item in state.findings if not item.own}
    own = {item.id for item in decisions.own}
    marks = [judgement.mark for judgement in decisions.judgements]
    marks += [mark for link in decisions.links for mark in (link.before, link.after)]
    return all(mark.finding is None or mark.finding in own or present.get(mark.finding) == mark for mark in marks)


def find(state: DanceReviewState, finding: str) -> DanceReviewFinding | None:
    """The item of the list with an id; None when there is none."""
    return next((item for item in state.findings if item.finding == finding), None)


def chosen(state: DanceReviewState) -> DanceReviewFinding | None:
    """The chosen correction; None when none is chosen."""
    return state.findings[state.chosen] if 0 <= state.chosen < len(state.findings) else None


def the_chosen(state: DanceReviewState) -> DanceReviewFinding:
    """The chosen correction, where a poll has seen that one is chosen."""
    item = chosen(state)
    assert item is not None
    return item


def came_after(state: DanceReviewState, item: DanceReviewFinding) -> list[str]:
    """Ids of what came first and may have led to a correction, as the teacher left it."""
    cut = {link.before for link in state.links if link.choice == "cut" and link.after == item.finding}
    added = [link.before for link in state.links if link.choice == "added" and link.after == item.finding]
    return [name for name in dict.fromkeys([*item.came_after.split(), *added]) if name not in cut]


def led_to(state: DanceReviewState, item: DanceReviewFinding) -> list[str]:
    """Ids of what a correction came before and may have led to, as the teacher left it."""
    return [other.finding for other in state.findings if item.finding in came_after(state, other)]


def plain_number(value: float) -> float:
    """A number that came from Blender's single precision as it was typed: 0.1 instead of 0.10000000149."""
    return float(f"{value:.6g}")


def _limit(has_limit: bool, value: float) -> float | None:
    return plain_number(value) if has_limit else None


def band_of(item: DanceReviewFinding) -> tuple[float | None, float | None]:
    """The band that holds for a correction: the teacher's own, or as proposed."""
    if not item.exact_band:
        return proposed_band_of(item)
    low, high = json.loads(item.exact_band)
    return low, high


def proposed_band_of(item: DanceReviewFinding) -> tuple[float | None, float | None]:
    """The band as the analysis proposed it."""
    return _limit(item.proposed_has_low, item.proposed_low), _limit(item.proposed_has_high, item.proposed_high)


def set_band(item: DanceReviewFinding, band: tuple[float | None, float | None] | None) -> None:
    """Put the teacher's own band into a correction, or (None) the proposed one back."""
    if band == proposed_band_of(item):
        band = None
    item.own_band = band is not None
    item.exact_band = json.dumps(band) if band is not None else ""
    _fill_band(item, "", proposed_band_of(item) if band is None else band)


def forget_link(state: DanceReviewState, before: str, after: str) -> None:
    """Take back what the teacher decided about a link."""
    for place in reversed(range(len(state.links))):
        if (state.links[place].before, state.links[place].after) == (before, after):
            state.links.remove(place)


def is_visible(state: DanceReviewState, item: DanceReviewFinding) -> bool:
    """Whether the filters let a correction through; without one it is listed once unless every time is asked for."""
    text = state.filter_text.strip().lower()
    filtered = text or any(getattr(state, f"filter_{name}") != "all" for name in ("decision", "grade", "side"))
    return bool(
        (filtered or state.every_time or not item.again)
        and state.filter_decision in ("all", item.decision)
        and (state.filter_grade in ("all", item.grade) or item.own)
        and (state.filter_side == "all" or item.side in ("", "both", state.filter_side))
        and (not text or text in f"{item.title} {item.phase} {item.phase_kind} {item.parts} {item.words}".lower())
    )


def _mark(item: DanceReviewFinding) -> Mark:
    if item.own:
        own = _own(item)
        return Mark("", "", own.side, own.start_s, own.peak_s, own.end_s, own.id)
    return Mark(**json.loads(item.exact))


def _own(item: DanceReviewFinding) -> OwnCorrection:
    own = own_from_json(json.loads(item.exact))
    return replace(own, words=item.words, decision=item.decision, note=item.note)


def is_judged(item: DanceReviewFinding) -> bool:
    """Whether the teacher did anything with a correction."""
    return bool(item.decision != "open" or item.note or item.words or item.own_band)


def decisions_of(state: DanceReviewState) -> Decisions:
    """All decisions that a scene's state holds, those without a finding included."""
    judgements = [
        Judgement(
            mark=_mark(item),
            decision=item.decision,
            note=item.note,
            words=item.words,
            band=band_of(item) if item.exact_band else None,
        )
        for item in state.findings
        if not item.own and is_judged(item)
    ]
    links = []
    for link in state.links:
        before, after = find(state, link.before), find(state, link.after)
        if before is not None and after is not None:
            links.append(LinkChoice(_mark(before), _mark(after), link.choice))
    kept = decisions_from_json(
        {
            "judgements": [json.loads(item.data) for item in state.unmatched if not item.is_link],
            "links": [json.loads(item.data) for item in state.unmatched if item.is_link],
        }
    )
    return Decisions(
        judgements=(*judgements, *kept.judgements),
        own=tuple(_own(item) for item in state.findings if item.own),
        links=(*links, *kept.links),
    )


def text_of(decisions: Decisions) -> str:
    """Decisions as one text, to be kept in a Blender file."""
    return json.dumps(decisions_to_json(decisions))
