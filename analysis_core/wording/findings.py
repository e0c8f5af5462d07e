"""Sentences about what was found, what it means, and why something cannot be told."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal

from ..body.anatomy import SIDES
from . import music, names, numbers

if TYPE_CHECKING:
    from ..findings.finding import Finding
    from ..findings.jumping import JumpLoad
    from ..phrase.phase import Phase

DANCED_ONCE = "danced once"
NOT_FOUND = "not found in this take"
NOTHING_FIRST = "Nothing to correct first"
NO_ARCH_MARKERS = "it needs markers at the inner arch of the foot, which this take does not have"
ARCH_WITHOUT_STANDING = "how far the arch sinks is counted from standing, and nobody stands still in this take"
NOT_SEEN = "the body parts it needs could not be seen"
FILLED_IN = "the decisive moment rests on samples that were filled in, or on markers that sit elsewhere than they should"
RATE_OR_UNIT_DOUBTED = "it hangs on the rate or the unit of the take, and the body's fall says that one of them is wrong"
_CANNOT_SHOW = {"none": "cannot show it"}
#: Headings of the reference page.
WHAT_IS_MEASURED, WHEN, FROM, BAND = "What is measured", "When", "From", "Band"
CANNOT_TELL, CONFIDENCE, SOURCE_OF_BAND = "Cannot tell", "Confidence", "Source of the band"
TURNING_UNSEEN = "whether the body turns could not be seen"


def not_shown_by(kind: str) -> str:
    """A fault that a kind of take ("markers", "skeleton") never shows."""
    return f"{'a solved skeleton' if kind == 'skeleton' else 'this marker set'} does not show it"


def at_least(limit: float, fault: float, unit: str) -> str:
    """The lower side of a band on the reference page."""
    return f"at least {numbers.number(limit, unit)} (a fault below {numbers.number(fault, unit)})"


def at_most(limit: float, fault: float, unit: str) -> str:
    """Its upper side."""
    return f"at most {numbers.number(limit, unit)} (a fault beyond {numbers.number(fault, unit)})"


def sides_of_band(sides: Sequence[str], meant: float, possible: float, unit: str, *, from_standing: bool) -> str:
    """A whole band. meant, possible: beyond it is no slip, or no body's (infinite: never); from_standing: counted from it."""
    standing = ", counted from standing" if from_standing else ""
    taken = f", beyond {numbers.number(meant, unit)} taken as meant" if math.isfinite(meant) else ""
    believed = f", beyond {numbers.number(possible, unit)} not believed" if math.isfinite(possible) else ""
    return f"{' and '.join(sides)}{standing}{taken}{believed}"


def band_of_reference(says: str, band: str, error: float, unit: str) -> str:
    """A measure's band on the reference page, and the ± that holds without a recording."""
    return f"{names.capital(says)}: {band}; {numbers.plus_minus(error, unit)} where the take does not tell it."


def confidence_of_reference(grades: Mapping[Literal["markers", "skeleton"], str]) -> str:
    """How sure a fault is from each kind of take."""
    kinds = {"markers": "markers", "skeleton": "a solved skeleton"}
    return line("; ".join(f"{kinds[kind]}: {_CANNOT_SHOW.get(grade, grade)}" for kind, grade in grades.items()))


def line(words: str) -> str:
    """The same words as a sentence."""
    return f"{names.capital(words)}."


def title(finding: Finding) -> str:
    """The fault as a teacher says it, with the side it is on."""
    words = names.fault_title(finding.fault)
    return names.on_side(words, finding.side) if finding.side in SIDES else words


def value(finding: Finding) -> str:
    """The number of a finding with its ±: "31 ± 6 mm"."""
    return numbers.measured(finding.value, finding.plus_minus, finding.unit)


def measured(finding: Finding, *, unbroken: bool = False) -> str:
    """What was measured and how much: "heel above its flat height: 31 ± 6 mm". unbroken: a value stays on one line."""
    number = numbers.together(value(finding)) if unbroken else value(finding)
    return f"{finding.says}: {number}" if finding.says else number


def within_take(finding: Finding) -> str:
    """What the number is worth beside the same one where the step comes again; empty where the two are not told apart."""
    within = finding.plus_minus_within_take
    return "" if within is None else numbers.plus_minus(within, finding.unit)


def target(finding: Finding, *, unbroken: bool = False) -> str:
    """The band with its name: "band 0 to 10 mm"."""
    words = numbers.band(*finding.band, finding.unit)
    return f"band {numbers.together(words) if unbroken else words}"


def caption(finding: Finding, *, cue: bool = True) -> str:
    """Fault, what was measured with its ±, the band, and the cue, a line for each."""
    lines = [title(finding), measured(finding, unbroken=True), target(finding, unbroken=True)]
    return "\n".join([*lines, *(("", finding.cue) if cue else ())])


def row(finding: Finding) -> str:
    """All of a finding on one line."""
    within = within_take(finding)
    return (
        f"{names.on_side(names.fault_title(finding.fault), finding.side)}, {names.step(finding.phase)}: {value(finding)}"
        f"{f', within the take {within}' if within else ''} ({target(finding)}; {finding.grade}, confidence {finding.confidence})"
    )


def when(phase: Phase | None, time_s: float) -> str:
    """Where in the music, or, without a tempo, when in the take."""
    if phase is None or phase.music is None:
        return numbers.seconds(time_s)
    return music.place(phase.music.bar, round(phase.music.count))


def how_often(times: int, chances: int) -> str:
    """How often a correction was seen among its chances."""
    return f"{times} of {chances} times" if chances > 1 else DANCED_ONCE


def times_of(times: int, chances: int) -> str:
    """The same in a column; nothing for what came once in a step that was danced once."""
    return f"{times} of {chances}" if chances > 1 else ""


def cannot_be_told(why: str) -> str:
    """What stands in front of every reason."""
    return f"cannot be told: {why}"


def too_near(says: str, number: float, error: float, unit: str) -> str:
    """A number whose ± reaches over the edge of its band."""
    return f"{says} {numbers.measured(number, error, unit)}, too near the edge of the band for this measurement"


def meant(says: str, number: float, error: float, unit: str) -> str:
    """A number so large that it is no slip."""
    return f"{says} {numbers.measured(number, error, unit)}, so much that it is taken as meant"


def impossible(says: str, number: float, error: float, unit: str) -> str:
    """A number so large that no body gives it."""
    return f"{says} {numbers.measured(number, error, unit)}: no body does that; look at its markers and their names there"


def also_elsewhere(others: int) -> str:
    """That the same cannot be told in other steps either; empty for none."""
    return f"; nor in {numbers.counted(others, 'other step', 'other steps')}" if others else ""


#: Why a share of the own demi-plié is not told.
NO_SLOW_PLIE = "no slow plié in this take shows how deep this dancer's own demi-plié is"


def up_too_shortly(up_s: float) -> str:
    """A turn in which the dancer hardly stands up."""
    return f"the dancer stands fully up for only {numbers.seconds(up_s, 2)} of this turn"


def not_seen(what: str) -> str:
    """Something that a measure needs and that is hidden."""
    return f"{what} could not be seen"


def not_seen_for_long_enough(what: str) -> str:
    """The same of something that is hidden for most of the time."""
    return f"{not_seen(what)} for long enough"


def foot_unseen_at_the_end(side: str) -> str:
    """A foot that is hidden when a turn closes."""
    return f"{not_seen(names.part_on('foot', side))} at the end of the turn"


def knee_unseen_at_the_height(side: str) -> str:
    """A knee that is hidden when the leg is up."""
    return f"{not_seen(names.part_on('knee', side))} at the height of the leg"


def needs_balances(count: int) -> str:
    """That a dancer's own usual sway is not known."""
    return f"it needs {count} balances of this dancer to compare with"


def axis_leans(ways: Sequence[str], *, falls: bool = False) -> str:
    """Where an axis leans: "axis leans forward and left", and whether it is falling: "axis falls back"."""
    return " ".join(("axis falls" if falls else "axis leans", " and ".join(ways))).strip()


def late_on_the_count(steps: str) -> str:
    """What a mean lateness is the number of."""
    return f"{steps} late on the count (negative: early)"


def unsteady_on_the_count(steps: str) -> str:
    """What a spread of lateness is the number of."""
    return f"{steps} unsteady from count to count"


def on_the_and(count: int, steps: str, late_s: float) -> str:
    """Steps that all come between two counts."""
    way = "after" if late_s > 0 else "before"
    return f"{count} {steps} come {numbers.seconds(abs(late_s), 2)} {way} the count and may be danced on the 'and'"


def load(jumps: JumpLoad, fade_limit: float) -> tuple[str, ...]:
    """How much jumping a take holds, with what to do about it. fade_limit: a share of height beyond which a set ends."""
    if jumps.jumps == 0:
        return ()
    first = numbers.counted(jumps.jumps, "jump", "jumps")
    if jumps.a_minute is not None:
        first += f", at a rate of {round(jumps.a_minute)} a minute"
    if jumps.height_m is not None and jumps.height_plus_minus_m is not None:
        first += f", {numbers.centimetres_measured(jumps.height_m, jumps.height_plus_minus_m)} high on average"
    lines = [first]
    mean, highest = (
        None if load is None or error is None else numbers.measured(load, error, "body weights")
        for load, error in (
            (jumps.load_body_weights, jumps.load_plus_minus),
            (jumps.highest_load_body_weights, jumps.highest_load_plus_minus),
        )
    )
    if mean is not None:
        lines.append(
            f"Landings were stopped with {mean} on "
            f"average over the way down, the hardest with {highest}; these are means, not peak forces"
        )
    if jumps.fade is not None and jumps.fade_plus_minus is not None and jumps.fade - jumps.fade_plus_minus > fade_limit:
        lost = numbers.percent_measured(jumps.fade, jumps.fade_plus_minus)
        lines.append(f"The jumps lost {lost} of their height: end the set here and rest")
    return tuple(f"{line}." for line in lines)
