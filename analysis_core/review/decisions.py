"""What the teacher decided about a review: kept, set aside, reworded, own bands, own corrections, links; never lost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal, TypeVar

from ..findings.finding import Finding, View
from ..phrase.phase import Phase
from ..plain_data import read_as
from ..take import Side

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
    """

    mark: Mark
    decision: Decision
    note: str = ""
    words: str = ""
    band: Band | None = None

    @property
    def says_nothing(self) -> bool:
        """Whether it leaves the finding as it was analysed."""
        return self.decision == "open" and not self.note and not self.words and self.band is None


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
    """ "Came first and may have led to" between two findings, cut or added by the teacher."""

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

    What no longer matches stays, with ``mark.finding`` None.
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
            judgements.append(replace(judgement, mark=mark_of(finding, phases)))
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


def fits(decisions: Decisions, findings: Sequence[Finding], phases: Sequence[Phase]) -> bool:
    """Whether decisions were made on just these findings, so that their ids say the same."""
    present = {finding.id: mark_of(finding, phases) for finding in findings}
    own = {item.id for item in decisions.own}
    marks = [judgement.mark for judgement in decisions.judgements]
    marks += [mark for link in decisions.links for mark in (link.before, link.after)]
    return all(mark.finding is None or mark.finding in own or present.get(mark.finding) == mark for mark in marks)


def _linked(names: tuple[str, ...], added: Iterable[str], cut: Iterable[str]) -> tuple[str, ...]:
    gone = set(cut)
    return tuple(name for name in dict.fromkeys((*names, *added)) if name not in gone)


def as_decided(findings: Sequence[Finding], decisions: Decisions) -> tuple[Finding, ...]:
    """The findings as the teacher left them: decision, note, words, band and links put in. ``findings`` as analysed.

    The one place where the two come together: what is shown is this, and without decisions it is the analysis.
    """
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


@dataclass(frozen=True)
class Changes:
    """What makes one set of decisions out of another: by what each is about, the decision, or None where it is taken back."""

    judgements: Mapping[object, Judgement | None] = field(default_factory=dict)
    own: Mapping[object, OwnCorrection | None] = field(default_factory=dict)
    links: Mapping[object, LinkChoice | None] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.judgements or self.own or self.links)


def about(item: Judgement | OwnCorrection | LinkChoice) -> object:
    """What a decision is about: two decisions about the same replace each other."""
    if isinstance(item, Judgement):
        return item.mark.finding or item.mark
    if isinstance(item, OwnCorrection):
        return item.id
    return item.before.finding or item.before, item.after.finding or item.after


_Item = TypeVar("_Item", Judgement, OwnCorrection, LinkChoice)


def _difference(before: Iterable[_Item], after: Iterable[_Item]) -> dict[object, _Item | None]:
    was, now = {about(item): item for item in before}, {about(item): item for item in after}
    changed: dict[object, _Item | None] = {key: item for key, item in now.items() if was.get(key) != item}
    return {**changed, **{key: None for key in was if key not in now}}


def _changed(items: Iterable[_Item], changes: Mapping[object, _Item | None]) -> tuple[_Item, ...]:
    now: dict[object, _Item | None] = {**{about(item): item for item in items}, **changes}
    return tuple(item for item in now.values() if item is not None)


def difference(before: Decisions, after: Decisions) -> Changes:
    """What was decided and taken back between two states."""
    return Changes(
        _difference(before.judgements, after.judgements),
        _difference(before.own, after.own),
        _difference(before.links, after.links),
    )


def changed(decisions: Decisions, changes: Changes) -> Decisions:
    """The decisions with changes put in; what they do not speak of stays as it is."""
    return Decisions(
        _changed(decisions.judgements, changes.judgements),
        _changed(decisions.own, changes.own),
        _changed(decisions.links, changes.links),
    )


def clash(first: Changes, second: Changes) -> bool:
    """Whether two sets of changes say different things about the same."""
    pairs = ((first.judgements, second.judgements), (first.own, second.own), (first.links, second.links))
    return any(one[key] != other[key] for one, other in pairs for key in one.keys() & other.keys())


def judged(decisions: Decisions, judgement: Judgement) -> Decisions:
    """The decisions with a judgement in place of an earlier one of the same finding; one that says nothing takes it back."""
    return changed(decisions, Changes(judgements={about(judgement): None if judgement.says_nothing else judgement}))


def corrected(decisions: Decisions, own: OwnCorrection) -> Decisions:
    """The decisions with a correction of the teacher's own, new or in place of what it was."""
    return changed(decisions, Changes(own={about(own): own}))


def without_correction(decisions: Decisions, name: str) -> Decisions:
    """The decisions without a correction of the teacher's own, and without links to it."""
    links: dict[object, LinkChoice | None] = {
        about(link): None for link in decisions.links if name in (link.before.finding, link.after.finding)
    }
    return changed(decisions, Changes(own={name: None}, links=links))


def linked(decisions: Decisions, choice: LinkChoice, *, analysed: bool) -> Decisions:
    """The decisions with a link cut or added. analysed: the analysis found this link; what leaves it so is no decision."""
    says_nothing = (choice.choice == "added") == analysed
    return changed(decisions, Changes(links={about(choice): None if says_nothing else choice}))


def decisions_to_json(decisions: Decisions) -> dict[str, Any]:
    """Plain lists and objects for review.json."""
    return asdict(decisions)


def own_from_json(data: Mapping[str, Any]) -> OwnCorrection:
    """A correction of the teacher's own, read back."""
    return read_as(OwnCorrection, data)


def decisions_from_json(data: Mapping[str, Any]) -> Decisions:
    """Read back what ``decisions_to_json`` made. Raises TypeError when it is damaged."""
    return read_as(Decisions, data)
