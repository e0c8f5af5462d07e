"""What the teacher decided about a review: kept, set aside, reworded, own bands, own corrections, links; never lost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Literal

from .findings.finding import Finding, View
from .phrase.phase import Phase
from .take import Side

Decision = Literal["open", "kept", "set aside"]
Band = tuple[float | None, float | None]

#: How far the span of a finding may have moved between two analyses of a take. Proposed default, no published norm.
_SAME_MOMENT_S = 0.25


@dataclass(frozen=True)
class Mark:
    """What tells a finding again in another analysis: its fault, the kind of phase, the side and when. Times in seconds.

    finding: its id in the present analysis; None when nothing matches any more.
    """

    fault: str
    phase_kind: str
    side: Side | None
    start_s: float
    peak_s: float
    end_s: float
    finding: str | None


@dataclass(frozen=True)
class Judgement:
    """What the teacher did with one finding.

    words: the cue in the teacher's own words, "" = as proposed. band: the teacher's own band, None = as proposed.
    proposed_cue, proposed_band: what the analysis said, so that both can be taken back.
    """

    mark: Mark
    decision: Decision
    note: str = ""
    words: str = ""
    band: Band | None = None
    proposed_cue: str = ""
    proposed_band: Band = (None, None)


@dataclass(frozen=True)
class OwnCorrection:
    """A correction that the teacher added. Times in seconds from the take's first frame; parts: body parts it is about."""

    id: str
    words: str
    side: Side | None
    start_s: float
    peak_s: float
    end_s: float
    parts: tuple[str, ...]
    view: View
    decision: Decision = "kept"
    note: str = ""


@dataclass(frozen=True)
class LinkChoice:
    """"Came first and may have led to" between two findings, cut or added by the teacher."""

    before: Mark
    after: Mark
    choice: Literal["cut", "added"]


@dataclass(frozen=True)
class Decisions:
    """All decisions about one take."""

    judgements: tuple[Judgement, ...] = ()
    own: tuple[OwnCorrection, ...] = ()
    links: tuple[LinkChoice, ...] = ()

    @property
    def unmatched(self) -> tuple[Judgement, ...]:
        """Judgements whose finding is not in the present analysis."""
        return tuple(judgement for judgement in self.judgements if judgement.mark.finding is None)

    @property
    def unmatched_links(self) -> tuple[LinkChoice, ...]:
        """Links one of whose ends is not in the present analysis."""
        return tuple(link for link in self.links if link.before.finding is None or link.after.finding is None)


def mark_of(finding: Finding, phases: Sequence[Phase]) -> Mark:
    """The mark of a finding of the present analysis; the kind of an unknown phase is empty."""
    kind = next((phase.kind for phase in phases if phase.id == finding.phase), "")
    return Mark(finding.fault, kind, finding.side, finding.start_s, finding.peak_s, finding.end_s, finding.id)


def _distance_s(mark: Mark, other: Mark) -> float | None:
    """How far apart in time two marks of the same thing are; None when they are not the same thing."""
    if (mark.fault, mark.phase_kind, mark.side) != (other.fault, other.phase_kind, other.side):
        return None
    gap = max(mark.start_s, other.start_s) - min(mark.end_s, other.end_s)
    return None if gap > _SAME_MOMENT_S else abs(mark.peak_s - other.peak_s)


def _pairs(marks: Sequence[Mark], present: Sequence[Mark]) -> list[str | None]:
    """The finding of each mark, nearest in time first, each finding taken once."""
    candidates = sorted(
        (distance, place, other.finding or "")
        for place, mark in enumerate(marks)
        for other in present
        if (distance := _distance_s(mark, other)) is not None
    )
    found: dict[int, str] = {}
    taken: set[str] = set()
    for _, place, finding in candidates:
        if place not in found and finding not in taken:
            found[place] = finding
            taken.add(finding)
    return [found.get(place) for place in range(len(marks))]


def match(decisions: Decisions, findings: Sequence[Finding], phases: Sequence[Phase]) -> Decisions:
    """The same decisions on the findings of a new analysis: matched by fault, kind of phase, side and time.

    What no longer matches stays, with ``mark.finding`` None. Proposals are renewed from the new findings.
    """
    present = [mark_of(finding, phases) for finding in findings]
    by_id = {finding.id: finding for finding in findings}
    judgements = []
    found = _pairs([judgement.mark for judgement in decisions.judgements], present)
    for judgement, name in zip(decisions.judgements, found, strict=True):
        finding = by_id.get(name or "")
        if finding is None:
            judgements.append(replace(judgement, mark=replace(judgement.mark, finding=None)))
        else:
            mark = mark_of(finding, phases)
            judgements.append(replace(judgement, mark=mark, proposed_cue=finding.cue, proposed_band=finding.band))
    own_ids = {own.id for own in decisions.own}
    # Several links may end at one finding, so each end is looked up once. An own correction keeps its id for ever.
    ends = list(dict.fromkeys(mark for link in decisions.links for mark in (link.before, link.after)))
    end_of = dict(zip(ends, _pairs(ends, present), strict=True))

    def renewed(mark: Mark) -> Mark:
        name = end_of[mark]
        if mark.finding in own_ids:
            return mark
        return replace(mark, finding=None) if name is None else mark_of(by_id[name], phases)

    links = tuple(replace(link, before=renewed(link.before), after=renewed(link.after)) for link in decisions.links)
    return Decisions(tuple(judgements), decisions.own, links)


def _linked(names: tuple[str, ...], added: Iterable[str], cut: Iterable[str]) -> tuple[str, ...]:
    gone = set(cut)
    return tuple(name for name in dict.fromkeys((*names, *added)) if name not in gone)


def apply(findings: Sequence[Finding], decisions: Decisions) -> tuple[Finding, ...]:
    """The findings as the teacher left them: decision, note, words, band and links put in. ``findings`` as analysed."""
    judged = {judgement.mark.finding: judgement for judgement in decisions.judgements if judgement.mark.finding is not None}
    ends = {choice: [link for link in decisions.links if link.choice == choice] for choice in ("cut", "added")}
    after = []
    for finding in findings:
        name = finding.id
        before = {key: [link.before.finding or "" for link in links if link.after.finding == name] for key, links in ends.items()}
        led_to = {key: [link.after.finding or "" for link in links if link.before.finding == name] for key, links in ends.items()}
        finding = replace(
            finding,
            came_after=_linked(finding.came_after, filter(None, before["added"]), before["cut"]),
            may_have_led_to=_linked(finding.may_have_led_to, filter(None, led_to["added"]), led_to["cut"]),
        )
        judgement = judged.get(name)
        if judgement is not None:
            finding = replace(
                finding,
                decision=judgement.decision,
                note=judgement.note,
                cue=judgement.words or finding.cue,
                band=judgement.band or finding.band,
            )
        after.append(finding)
    return tuple(after)


def as_analysed(findings: Sequence[Finding], decisions: Decisions) -> tuple[Finding, ...]:
    """The opposite of ``apply`` on the same decisions: what the analysis itself had said."""
    judged = {judgement.mark.finding: judgement for judgement in decisions.judgements if judgement.mark.finding is not None}
    opposite = {"cut": "added", "added": "cut"}
    undone = Decisions(links=tuple(replace(link, choice=opposite[link.choice]) for link in decisions.links))  # type: ignore[arg-type]
    return tuple(
        replace(finding, decision="open", note="", cue=judged[finding.id].proposed_cue, band=judged[finding.id].proposed_band)
        if finding.id in judged
        else finding
        for finding in apply(findings, undone)
    )


def chains(findings: Sequence[Finding]) -> tuple[tuple[str, ...], ...]:
    """Findings that hang together by their links, in order of onset; the chain that begins first comes first."""
    ordered = sorted(findings, key=lambda finding: (finding.onset_s, finding.id))
    group_of = {finding.id: finding.id for finding in ordered}

    def root(name: str) -> str:
        while group_of[name] != name:
            name = group_of[name]
        return name

    for finding in ordered:
        for other in (*finding.came_after, *finding.may_have_led_to):
            if other in group_of:
                group_of[root(other)] = root(finding.id)
    groups: dict[str, list[str]] = {}
    for finding in ordered:
        groups.setdefault(root(finding.id), []).append(finding.id)
    return tuple(tuple(group) for group in groups.values() if len(group) > 1)


def decisions_to_json(decisions: Decisions) -> dict[str, Any]:
    """Plain lists and objects for review.json."""
    return asdict(decisions)


def _tuples(data: Mapping[str, Any], kind: type[Any]) -> dict[str, Any]:
    known = {field.name for field in fields(kind)}
    return {key: tuple(value) if isinstance(value, list) else value for key, value in data.items() if key in known}


def _own_from_json(data: Mapping[str, Any]) -> OwnCorrection:
    view: dict[str, Any] = _tuples(data["view"], View)
    return OwnCorrection(**{**_tuples(data, OwnCorrection), "view": View(**view)})


def decisions_from_json(data: Mapping[str, Any]) -> Decisions:
    """Read back what ``decisions_to_json`` made. Raises KeyError, TypeError or ValueError when it is damaged."""
    return Decisions(
        judgements=tuple(
            Judgement(**{**_tuples(item, Judgement), "mark": Mark(**_tuples(item["mark"], Mark))})
            for item in data.get("judgements", ())
        ),
        own=tuple(_own_from_json(item) for item in data.get("own", ())),
        links=tuple(
            LinkChoice(Mark(**_tuples(item["before"], Mark)), Mark(**_tuples(item["after"], Mark)), item["choice"])
            for item in data.get("links", ())
        ),
    )
