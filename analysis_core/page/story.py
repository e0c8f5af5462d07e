"""What the page says: the things to work on, before and now, and what went well. No names, dates, files or paths in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..compare import compare
from ..compare.comparison import Change, Comparison
from ..errors import OptionError
from ..findings.catalogue import catalogue, load_profile
from ..findings.evidence import Evidence
from ..findings.feelings import feeling
from ..findings.finding import Finding, View
from ..review import Review
from ..views import Drawing, drawing_of
from ..views.pairs import Answer, answer_to, same_view
from ..wording import page as say
from ..wording.numbers import for_dancer
from ..wording.student import moment, number_sentence, seen_from, words
from .things import Thing, opening_of, things_of

#: So many things that went well are told, and so many ways to practise a thing. Proposed defaults.
MOST_WELL, MOST_EXERCISES = 3, 2
#: From before to now, told from now to before: the comparison's words the other way round.
_TURNED: dict[Change, Change] = {"gone": "new", "new": "gone", "better": "worse", "worse": "better"}


@dataclass(frozen=True)
class Pose:
    """One moment of one take to look at, from where. drawing: the measure drawn, None where it cannot be. says, number: what was
    measured, as a sentence and as a size. coloured: whether the thing shows in this take."""

    time_s: float
    view: View
    drawing: Drawing | None
    says: str = ""
    number: str = ""
    coloured: bool = True


@dataclass(frozen=True)
class Card:
    """One thing to work on, in the words of the page. before: the same moment of the earlier take; said_of_before: what became of
    it since."""

    thing: Thing
    number: int
    title: str
    when: str
    seen: str
    cue: str
    feel: str
    exercises: tuple[str, ...]
    says: str
    how_often: str
    caution: str
    now: Pose
    before: Pose | None
    said_of_before: str


@dataclass(frozen=True)
class Well:
    """Something that went well. new: whether it was not so in the earlier take."""

    text: str
    new: bool = False


@dataclass(frozen=True)
class Story:
    """All that the page says. comparison: of now (a) with before (b). opening: how the dancer stands on a page without cards.
    untold: why nothing could be judged in the whole take, each reason once, most frequent first; empty where anything was."""

    review: Review
    earlier: Review | None
    comparison: Comparison | None
    young: bool
    cards: tuple[Card, ...]
    well: tuple[Well, ...]
    name: str = ""
    opening: Finding | None = None
    untold: tuple[str, ...] = ()


def _is_young(level: str) -> bool:
    try:
        return load_profile(level).young
    except OptionError:
        # A teacher's own table that is no longer where it was.
        return False


def _turned(change: Change) -> Change:
    return _TURNED.get(change, change)


def _often(thing: Thing) -> str:
    if thing.own or thing.chances < 2:
        return ""
    return say.how_often(thing.times, thing.chances)


def _number(finding: Finding) -> str:
    return for_dancer(finding.value, finding.unit) if finding.unit and np.isfinite(finding.value) else ""


class _Pairing:
    """The earlier take beside this one."""

    def __init__(self, review: Review, earlier: Review) -> None:
        self.review, self.earlier = review, earlier
        self.comparison = compare(review, earlier)
        self.evidence = Evidence(earlier.movement, earlier.phrase)

    def pose(self, finding: Finding, view: View) -> Pose | None:
        """The earlier take at the answering moment; None where it was not danced there."""
        if not finding.fault:
            at = float(self.comparison.alignment.to_b(np.array([finding.peak_s]))[0])
            answer = Answer(at if np.isfinite(at) else None, None, False)
        else:
            answer = answer_to(finding, self.comparison, self.earlier, self.evidence)
        if answer.time_s is None:
            return None
        drawing = None if answer.shown is None else drawing_of(answer.shown, self.earlier, self.evidence)
        time_s = drawing.time_s if drawing is not None else answer.time_s
        frames = [self._frame(self.review, finding.peak_s), self._frame(self.earlier, time_s)]
        turned = same_view(view, self.review.movement, frames[0], self.earlier.movement, frames[1])
        says = "" if answer.shown is None else number_sentence(answer.shown)
        number = "" if answer.shown is None or not says else _number(answer.shown)
        return Pose(time_s, turned, drawing, says, number, answer.found)

    @staticmethod
    def _frame(review: Review, time_s: float) -> int:
        return int(np.clip(round(time_s * review.movement.rate_hz), 0, review.movement.frames - 1))

    def said(self, finding: Finding) -> str:
        """What became of a thing since the earlier take."""
        change = next((item for item in self.comparison.findings if item.a == finding.id), None)
        return "" if change is None else say.SAID.get(_turned(change.change), "")

    def improved(self) -> list[Well]:
        """What was there before and is not now, or less so, beyond measurement error."""
        earlier = {f.id: f for f in self.earlier.findings if f.decision != "set aside"}
        now = {f.id: f for f in self.review.findings}
        told = []
        for item in self.comparison.findings:
            change = _turned(item.change)
            if change == "gone" and item.b in earlier and item.a not in now and item.fault in words():
                told.append(Well(words()[item.fault].well, new=True))
        return list(dict.fromkeys(told))


def _went_well(review: Review, improved: list[Well]) -> tuple[Well, ...]:
    """What got right since the earlier take, then what was measured most often and never outside its band; one of each theme."""
    found = {finding.fault for finding in review.findings if finding.decision != "set aside"}
    counts: dict[str, int] = {}
    for row in review.measured:
        inside = row.cannot_tell is None and row.n > 0 and row.outside == 0
        counts[row.fault] = counts.get(row.fault, 0) + row.n if inside and counts.get(row.fault, 0) >= 0 else -1
    good = sorted((fault for fault, count in counts.items() if count > 0 and fault not in found), key=lambda f: (-counts[f], f))
    told, themes = list(improved), set()
    # What is said of a foot is said once: the second theme says more than the same one again.
    for fault in [*good]:
        theme = catalogue()[fault].parts[0] if fault in catalogue() else fault
        text = words()[fault].well
        if theme not in themes and all(text != item.text for item in told):
            told.append(Well(text))
            themes.add(theme)
    return tuple(told[:MOST_WELL])


def _card(thing: Thing, number: int, review: Review, evidence: Evidence, pairing: _Pairing | None, *, young: bool) -> Card:
    finding = thing.finding
    entry = None if thing.own else catalogue()[finding.fault]
    drawing = drawing_of(finding, review, evidence)
    before = None if pairing is None else pairing.pose(finding, finding.view)
    return Card(
        thing=thing,
        number=number,
        title=words()[finding.fault].title if entry else say.FROM_TEACHER,
        when=moment(finding.phase, finding.peak_s, review.phrase),
        seen=seen_from(finding.view.name),
        cue=finding.cue,
        feel=feeling(finding.fault, young=young) if entry else "",
        exercises=entry.exercises[:MOST_EXERCISES] if entry else (),
        says=number_sentence(finding),
        how_often=_often(thing),
        caution=finding.caution or "",
        now=Pose(
            drawing.time_s if drawing else finding.peak_s, finding.view, drawing, number_sentence(finding), _number(finding)
        ),
        before=before,
        said_of_before=pairing.said(finding) if pairing and before else "",
    )


def _untold(review: Review) -> tuple[str, ...]:
    """Why not one measure of a take could be held against its band; nothing where one could, or a teacher's correction stands."""
    reasons = Counter(row.cannot_tell or say.NOT_ASKED_FOR for row in review.measured if row.n == 0)
    judged = review.findings or any(row.n > 0 for row in review.measured)
    return () if judged else tuple(reason for reason, _ in reasons.most_common())


def _with_record(card: Card, better: Mapping[tuple[str, str], str]) -> Card:
    """A card that also says what the record shows; what the two takes beside each other say goes first."""
    finding = card.thing.finding
    term = better.get((finding.fault, finding.side or ""))
    return card if term is None or card.said_of_before else replace(card, said_of_before=say.keep_going(say.better_since(term)))


def story_of(
    review: Review, earlier: Review | None = None, *, name: str = "", better: Mapping[tuple[str, str], str] | None = None
) -> Story:  # fmt: skip
    """What the page of a review says, with an earlier take of the same phrase beside it if there is one.

    name: of the student, only if the teacher gave it. better: fault and side (empty where there is none) of what the record
    shows to be better than in an earlier term, and the term's name (``record.terms.better_than_last_term``).
    """
    better = better or {}
    young = _is_young(review.profile)
    evidence = Evidence(review.movement, review.phrase)
    pairing = None if earlier is None else _Pairing(review, earlier)
    things = things_of(review)
    cards = tuple(_card(thing, place + 1, review, evidence, pairing, young=young) for place, thing in enumerate(things))
    cards = tuple(_with_record(card, better) for card in cards)
    shown = {thing.finding.fault for thing in things}
    over = ((fault, term) for (fault, _), term in better.items() if fault in words() and fault not in shown)
    kept = [Well(say.went_well_since(words()[fault].well, term)) for fault, term in over]
    well = _went_well(review, [*dict.fromkeys(kept), *(pairing.improved() if pairing else [])])
    opening = None if cards else opening_of(review.movement)
    return Story(review, earlier, pairing.comparison if pairing else None, young, cards, well, name, opening, _untold(review))
