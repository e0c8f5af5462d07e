"""Numbers, names and titles as people read them; each expectation written out by hand."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

import pytest
from in_the_round.analysis_core.findings.catalogue import catalogue
from in_the_round.analysis_core.findings.finding import Finding, View
from in_the_round.analysis_core.wording import findings, keeping, names, numbers

FOUND = Finding(
    "f1", "heel-lifts-early", "turn-1", "left", 3.0, 3.05, 3.2, 3.4, 31.2, "mm", (0.0, 10.0), 6.1, 0.5, "fault", "high", "",
    ("foot.L",), View((1.0, 0.0, 1.0), (0.0, 0.0, 1.0), "side"), "Press the heel.", says="heel above its flat height",
    plus_minus_within_take=1.84,
)  # fmt: skip


@pytest.mark.parametrize(
    ("value", "error", "unit", "words"),
    [
        (31.2, 6.1, "mm", "31 ± 6 mm"),
        (12.44, 1.84, "deg", "12.4 ± 1.8°"),
        (0.3512, 0.08, "s", "0.35 ± 0.08 s"),
        (0.812, 0.0147, "ratio", "81.2 ± 1.5 %"),
        (3.2, 0.31, "body weights", "3.2 ± 0.3 body weights"),
        (-0.2, 4.0, "mm", "0 ± 4 mm"),
        (31.2, float("nan"), "mm", "31.2 mm"),
    ],
)
def test_a_number_has_the_decimals_that_its_plus_minus_deserves(value: float, error: float, unit: str, words: str) -> None:
    """Two digits of the ± up to 19, else one; as many decimals on the number. Common practice in measurement, no source."""
    assert numbers.measured(value, error, unit) == words


@pytest.mark.parametrize(
    ("low", "high", "unit", "words"),
    [
        (0.0, 10.0, "mm", "0 to 10 mm"),
        (None, 8.0, "deg", "at most 8°"),
        (-5.0, float("inf"), "deg", "at least −5°"),
        (0.35, None, "s", "at least 0.35 s"),
        (None, None, "mm", "no band"),
        (0.0, 1250.0, "mm", "0 to 1250 mm"),
        (0.8, None, "ratio", "at least 80 %"),
        (0.0, 1.3, "ratio", "0 to 130 %"),
    ],
)
def test_bands(low: float | None, high: float | None, unit: str, words: str) -> None:
    """Open sides are None in a review and infinite in a profile: both read the same. Catches an exponent in a large limit, and a
    share without its unit ("band at least 0.8")."""
    assert numbers.band(low, high, unit) == words


def test_changes_carry_their_sign_and_times_their_unit() -> None:
    """Catches a difference without a sign, "-0", and times that read differently from place to place."""
    assert numbers.changed(3.4, 2.2, "mm") == "+3 ± 2 mm"
    assert numbers.changed(-3.4, 2.2, "mm") == "−3 ± 2 mm"
    assert numbers.from_to(31.2, 8.4, 2.0, "mm") == "31 → 8 mm"
    assert numbers.from_to(0.58, 0.99, 0.02, "ratio") == "58 → 99 %"
    assert numbers.changed(0.41, 0.1, "ratio") == "+41 ± 10 %"
    assert numbers.span(3.21, 4.0) == "3.2 to 4.0 s"
    assert (numbers.hertz(59.94), numbers.hertz(240.0), numbers.percent(0.1234)) == ("59.94 Hz", "240 Hz", "12 %")
    assert [numbers.long_time(time) for time in (42, 185, 7800)] == ["42 s", "3 min 5 s", "2 h 10 min"]


def test_a_finding_reads_the_same_everywhere() -> None:
    """Row of the command line, caption of a picture, line of a panel: one title, one number, one band."""
    title, value = "Heel lifts early in the preparation", "31 ± 6 mm"
    assert findings.row(FOUND) == (
        f"{title}, left, turn 1: {value}, within the take ± 1.8 mm (band 0 to 10 mm; fault, confidence high)"
    )
    caption = findings.caption(FOUND).replace(numbers.NO_BREAK, " ")
    assert caption.split("\n") == [
        f"{title}, left", f"heel above its flat height: {value}", "band 0 to 10 mm", "", "Press the heel.",
    ]  # fmt: skip
    assert (findings.title(FOUND), findings.value(FOUND)) == (f"{title}, left", value)
    assert findings.title(replace(FOUND, side="both")) == title


def test_names() -> None:
    """Ids of phases, joints and curves as words, with their accents."""
    assert names.step("plie-2") == "plié 2"
    assert names.body_parts(("heel.L", "upper_arm.R")) == "the left heel and right upper arm"
    assert names.quantity_with_unit("knee_flexion.L", "deg") == "Knee flexion, left (°)"
    assert names.fault_title("own-fault") == "Own fault"


def test_a_fault_is_titled_as_it_is_named() -> None:
    """Title and name of a fault speak of the same thing. Catches foot-wings titled "Foot rolls in", and a knee for a turnout."""

    def stems(words: str) -> set[str]:
        plain = unicodedata.normalize("NFD", words.lower().replace(",", "").replace("-", " "))
        letters = "".join(letter for letter in plain if not unicodedata.combining(letter))
        return {word[:3] for word in letters.split()} - {"the", "in", "of", "is", "or", "a", "not", "too", "off"}

    assert [fault for fault, entry in catalogue().items() if not stems(fault) & stems(entry.title)] == []
    assert stems(catalogue()["foot-wings"].title) >= {"foo", "win"}


def test_a_file_that_went_with_its_consent_is_named_once() -> None:
    """Catches the doubled line that ``record consent --withdraw`` printed."""
    consent = {"purpose": "show in class", "by": "guardian", "assent": "no", "until": "2031-07-31", "holds": False, "note": ""}
    data = {
        "dancer": "amber-heron", "keep_until": "2031-07-31", "deleted": ["film.mp4"],
        "consents": [consent | {"why_not": keeping.CHILD_DISAGREES}],
    }  # fmt: skip
    assert keeping.consented(data, "show in class", withdrawn=True).split("\n") == [
        "amber-heron: consent for show in class withdrawn; kept until 2031-07-31",
        "  consent for show in class by guardian, the child does not agree, until 2031-07-31; "
        "does not hold: the child did not agree",
        "  deleted, since it was made for show in class alone: film.mp4",
        "To delete all that is held: in-the-round record delete amber-heron",
    ]
