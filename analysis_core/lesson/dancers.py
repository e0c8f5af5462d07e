"""What a lesson needs to know of each dancer, read from the reviews."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from ..body.anatomy import SIDES
from ..errors import ReviewError
from ..findings.catalogue import catalogue
from ..findings.corrections import corrections as gathered
from ..findings.corrections import how_often
from ..findings.finding import Finding
from ..phrase.phase import Phase, Phrase
from ..plain_data import entry
from ..review import REVIEW_FILE, read_document
from ..review.document import finding_from_json, phase_from_json
from ..take import Side

#: What a correction weighs by its place among the others. Proposed defaults (shared design of the lesson, section 3).
ROLE_WEIGHTS = {"root": 1.0, "first": 0.6, "later": 0.3, "effect": 0.0}
Role = Literal["root", "first", "later", "effect"]
#: Findings of these classes count; what is less certain is no ground for a class.
_SURE_ENOUGH = ("high", "medium")
#: A phrase that is danced in class is no longer than this, seconds; of a longer take a part is danced. Proposed default.
LONGEST_PHRASE_S = 90.0


@dataclass(frozen=True)
class Need:
    """One correction of one dancer. times of chances: in how many of the steps that could show it it was found.

    weaker: the side with the worse findings, None where sides do not differ. led_to: faults that it came before.
    """

    fault: str
    times: int
    chances: int
    role: Role
    kept: bool
    grade: Literal["watch", "fault"]
    cue: str
    weaker: Side | None
    caution: str | None
    led_to: tuple[str, ...] = ()

    @property
    def weight(self) -> float:
        """Role times Laplace's share, so that one lucky chance does not lead; what the teacher kept goes before all else."""
        return ROLE_WEIGHTS[self.role] * (self.times + 1) / (self.chances + 2) + (1.0 if self.kept else 0.0)


@dataclass(frozen=True)
class Dancer:
    """One dancer's newest review. own: the teacher's own corrections, in the teacher's words; untold: faults that the take
    cannot show; good: faults whose every measured chance lay inside the band; held: corrections that the record
    says are held; mastered, last_jumps: rungs by ladder that hold and the jumps of the last class, by the record."""

    name: str
    take: str
    level: str
    needs: tuple[Need, ...]
    own: tuple[str, ...] = ()
    untold: frozenset[str] = frozenset()
    good: frozenset[str] = frozenset()
    held: frozenset[str] = frozenset()
    jumps: int = 0
    phrase_s: float = 0.0
    mastered: Mapping[str, int] = field(default_factory=dict)
    last_jumps: int | None = None


def _role(group: Sequence[Finding], first: bool, present: Mapping[str, Finding]) -> Role:
    after = [any(name in present for name in finding.came_after) for finding in group]
    if 2 * sum(after) > len(after):
        return "effect"
    if any(name in present for finding in group for name in finding.may_have_led_to):
        return "root"
    return "first" if first else "later"


def _weaker(group: Sequence[Finding]) -> Side | None:
    worst: dict[Side, float] = dict.fromkeys(SIDES, 0.0)
    for finding in group:
        if finding.side in SIDES:
            worst[finding.side] += finding.severity + 0.01
    if worst["left"] == worst["right"]:
        return None
    return "left" if worst["left"] > worst["right"] else "right"


def needs_of(findings: tuple[Finding, ...], phrase: Phrase) -> tuple[Need, ...]:
    """The corrections of a take as a lesson needs them, the heaviest first.

    What is set aside, or less than medium sure, does not count; what the teacher kept or worded goes first.
    """
    counted = tuple(f for f in findings if f.decision != "set aside" and f.confidence in _SURE_ENOUGH and f.fault in catalogue())
    present = {finding.id: finding for finding in counted}
    needs = []
    for correction in gathered(counted, phrase):
        group = [present[name] for name in correction.findings]
        kept = [finding for finding in group if finding.decision == "kept"]
        times, chances = how_often(group, phrase)
        led_to = dict.fromkeys(present[name].fault for f in group for name in f.may_have_led_to if name in present)
        needs.append(
            Need(
                fault=correction.fault,
                times=times,
                chances=chances,
                role=_role(group, correction.first, present),
                kept=bool(kept),
                grade="fault" if any(finding.grade == "fault" for finding in group) else "watch",
                cue=(kept or group)[0].cue,
                weaker=_weaker(group),
                caution=catalogue()[correction.fault].caution,
                led_to=tuple(led_to),
            )
        )
    return tuple(sorted(needs, key=lambda need: -need.weight))


def _danced_s(phases: Sequence[Phase], duration_s: float) -> float:
    """From the first step to the last; the whole take where no step was seen."""
    moving = [phase for phase in phases if phase.kind != "static"]
    if not moving:
        return duration_s
    return max(phase.end_s for phase in moving) - min(phase.start_s for phase in moving)


def _own(data: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """The teacher's own corrections: the words of those that name no fault, and the faults that the others name."""
    words, faults = [], []
    for own in data.get("decisions", {}).get("own", ()):
        if own.get("decision") == "set aside":
            continue
        fault = own.get("fault")
        if fault in catalogue():
            faults.append(fault)
        else:
            words.append(str(own["words"]))
    return words, faults


def _good(data: Mapping[str, Any], needs: Sequence[Need]) -> frozenset[str]:
    """Faults that were measured and never outside their band."""
    told: dict[str, bool] = {}
    for row in data.get("measured", ()):
        inside = row.get("cannot_tell") is None and row.get("n", 0) > 0 and row.get("outside", 1) == 0
        told[row["fault"]] = told.get(row["fault"], True) and inside
    return frozenset(fault for fault, inside in told.items() if inside) - {need.fault for need in needs}


def _phase(data: Mapping[str, Any]) -> Phase:
    # The contract names no frames; only times count here.
    return phase_from_json({"start": 0, "end": 0, **data})


def dancer_from_json(data: Mapping[str, Any], name: str) -> Dancer:
    """One dancer from the object of review.json. Raises KeyError, TypeError or ValueError when it is damaged."""
    phrase = Phrase((), tuple(_phase(item) for item in data["phases"]))
    needs = needs_of(tuple(finding_from_json(item) for item in data["findings"]), phrase)
    words, faults = _own(data)
    found = {need.fault: need for need in needs}
    added = {fault: found.get(fault) or _taught(fault) for fault in faults}
    needs = tuple(sorted((found | {f: replace(n, kept=True) for f, n in added.items()}).values(), key=lambda n: -n.weight))
    span, jumps = _danced_s(phrase.phases, data["take"]["duration_s"]), sum(phase.kind == "jump" for phase in phrase.phases)
    part = min(1.0, LONGEST_PHRASE_S / span) if span > 0 else 1.0
    return Dancer(
        name=name,
        take=data["take"]["sha256"],
        level=entry({"profile": "intermediate", **data}, "profile", str),
        needs=needs,
        own=tuple(words),
        untold=frozenset(item["fault"] for item in data["unsure"]) - {need.fault for need in needs},
        good=_good(data, needs),
        jumps=-int(-jumps * part // 1),
        phrase_s=span * part,
    )


def _taught(fault: str) -> Need:
    """A correction that the teacher alone saw: once, in one chance."""
    entry = catalogue()[fault]
    return Need(fault, 1, 1, "first", True, "fault", entry.cue, None, entry.caution)


def read_dancer(folder: Path, name: str) -> Dancer:
    """One dancer from a review folder; only review.json is read.

    Raises ReviewError when the folder holds no review, a damaged one, or one of another version.
    """
    data = read_document(folder)
    try:
        return dancer_from_json(data, name)
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise ReviewError(f"{folder / REVIEW_FILE} is damaged ({error}). Move it away, then review the take again.") from error


def initials(folder: Path) -> str:
    """The letters by which a folder's dancer is named in print: "anna_muster" is A.M., since folders carry names."""
    words = [word for word in "".join(c if c.isalnum() else " " for c in folder.resolve().name).split() if word]
    return "".join(f"{word[0].upper()}." for word in words[:3]) or "?"


def named(folders: Sequence[tuple[str | None, Path]]) -> list[tuple[str, Path]]:
    """A name for every folder: the one that was given, else initials, told apart by numbers where two are alike.

    A name that was given twice is one dancer, whose last folder counts.
    """
    given = dict.fromkeys(name for name, _ in folders if name)
    last = {name: folder for name, folder in folders if name}
    letters = [initials(folder) for name, folder in folders if not name]
    result: list[tuple[str, Path]] = []
    count: dict[str, int] = {}
    for name, folder in folders:
        if name:
            if name in given:
                del given[name]
                result.append((name, last[name]))
            continue
        short = initials(folder)
        count[short] = count.get(short, 0) + 1
        result.append((f"{short}{count[short]}" if letters.count(short) > 1 or short in last else short, folder))
    return result
