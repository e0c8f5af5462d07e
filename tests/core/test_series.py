"""Which jumps are hops, and which steps are the same again, on jumps whose times and feet are written out by hand."""

from __future__ import annotations

from typing import Any

import pytest
from in_the_round.analysis_core.findings.limits import SERIES
from in_the_round.analysis_core.findings.series import hops, same_again, series_of
from in_the_round.analysis_core.phrase.phase import Jump, Landing, Phrase
from in_the_round.analysis_core.phrase.properties import phase_from

#: A jump of this time in the air rises by g t² / 8: 0.2 s make 49 mm, 0.4 s make 196 mm.
SMALL_S, HIGH_S = 0.2, 0.4


def jump(number: int, start_s: float, flight_s: float = HIGH_S, feet: str = "both-both", **told: Any) -> Jump:
    take_off, landing = feet.split("-")
    facts = {"take_off_feet": take_off, "landing_feet": landing, "flight_s": flight_s, "take_off_s": start_s, "travel_m": 0.0}
    span = {"start": 0, "end": 1, "start_s": start_s, "end_s": start_s + flight_s}
    made = phase_from("jump", id=f"jump-{number}", side="both", properties={**facts, **told}, **span)
    assert isinstance(made, Jump)
    return made


def row(*starts_s: float, flight_s: float = HIGH_S, first: int = 1, feet: str = "both-both", **told: Any) -> list[Jump]:
    return [jump(first + n, start, flight_s, feet, **told) for n, start in enumerate(starts_s)]


def test_jumps_that_follow_each_other_are_a_series() -> None:
    """From the landing of one to the take-off of the next: less than the limit, not the limit itself."""
    limit = SERIES.series_s
    for gap, together in ((limit - 0.01, True), (limit + 0.01, False)):
        two = row(1.0, 1.0 + HIGH_S + gap)
        assert series_of(two) == ([two] if together else [[two[0]], [two[1]]])
    assert series_of([]) == []


def test_a_small_jump_is_a_hop() -> None:
    """By its time in the air or its measured rise, whichever is less; what is not measured does not count."""
    assert hops(row(1.0)) == frozenset()
    assert hops([jump(1, 1.0, SMALL_S, "left-right")]) == {"jump-1"}
    assert hops([jump(1, 1.0, HIGH_S, "left-right", height_m=0.02)]) == {"jump-1"}
    assert hops([jump(1, 1.0, SMALL_S, "left-right", height_m=0.5)]) == {"jump-1"}
    assert hops([jump(1, 1.0, HIGH_S, "left-right", height_m=float("nan"))]) == frozenset()


def test_in_its_place_a_smaller_jump_is_one() -> None:
    """From both feet to both, where it began: between the two limits it is a jump there and a hop elsewhere."""
    between = 0.5 * (SERIES.smallest_jump_m + SERIES.hop_rise_m)
    assert SERIES.smallest_jump_m < between < SERIES.hop_rise_m
    assert hops([jump(1, 1.0, height_m=between)]) == frozenset()
    assert hops([jump(1, 1.0, height_m=between, travel_m=SERIES.in_place_m)]) == frozenset()
    assert hops([jump(1, 1.0, height_m=between, travel_m=None)]) == frozenset()
    assert hops([jump(1, 1.0, height_m=between, travel_m=SERIES.in_place_m + 0.001)]) == {"jump-1"}
    for feet in ("left-both", "both-left", "left-left"):
        assert hops([jump(1, 1.0, feet=feet, height_m=between)]) == {"jump-1"}, feet
    for turned, told in ((SERIES.hop_turns_deg, frozenset()), (-SERIES.hop_turns_deg - 1, {"jump-1"}), (None, frozenset())):
        assert hops([jump(1, 1.0, height_m=between, turned_deg=turned)]) == told, turned
    assert hops([jump(1, 1.0, height_m=SERIES.hop_rise_m, turned_deg=90.0)]) == frozenset(), "higher it is a jump that turns"


LEAST = int(SERIES.least_of_series)


def starts(count: int, period_s: float = 0.5, first_s: float = 1.0) -> list[float]:
    return [first_s + period_s * n for n in range(count)]


def test_small_jumps_in_an_even_series_are_danced() -> None:
    """As many as a series needs; one fewer are hops."""
    assert hops(row(*starts(LEAST), flight_s=0.1)) == frozenset()
    few = row(*starts(LEAST - 1), flight_s=0.1)
    assert hops(few) == {one.id for one in few}


@pytest.mark.parametrize("share", [SERIES.even_share - 0.005, SERIES.even_share + 0.005])
def test_a_series_is_even(share: float) -> None:
    """The last of six comes late by a share of the usual time between take-offs; the others are a series all the same."""
    times = starts(6)
    times[-1] += 0.5 * share
    late = row(*times, flight_s=0.1)
    assert hops(late) == (frozenset() if share < SERIES.even_share else {"jump-6"})


def test_what_breaks_a_series() -> None:
    """A rest, a jump that travels, one that is not from both feet; what comes after can be a series of its own."""
    before = row(*starts(LEAST), flight_s=0.1)
    after_s = before[-1].end_s + SERIES.rebound_s + 0.05
    after = row(*starts(LEAST, first_s=after_s), flight_s=0.1, first=20)
    assert hops([*before, *after]) == frozenset()
    assert hops([*before, *after[:1]]) == {"jump-20"}
    for told in ({"travel_m": SERIES.in_place_m + 0.001}, {"travel_m": None}, {"feet": "left-both"}):
        middle = LEAST // 2
        broken = row(*starts(LEAST), flight_s=0.1)
        broken[middle] = jump(middle + 1, starts(LEAST)[middle], 0.1, **told)
        assert broken[middle].id in hops(broken), told


def test_a_last_foot_that_comes_late_ends_the_series_before() -> None:
    """Landed on one foot at the end: it is no part of it, and the others have to be enough."""
    for count, known in ((LEAST, False), (LEAST + 1, True)):
        jumps = row(*starts(count), flight_s=0.1)
        jumps[-1] = jump(count, starts(count)[-1], 0.1, "both-left")
        assert (jumps[0].id not in hops(jumps)) is known
        assert jumps[-1].id in hops(jumps)


def test_the_same_step_comes_again_in_its_series() -> None:
    """From and to the same feet in one unbroken series, its landings likewise; not after a rest."""
    jumps = [*row(1.0, 1.8), jump(3, 2.6, feet="both-left"), jump(4, 20.0)]
    span = {"start": 0, "end": 1, "start_s": 1.4, "end_s": 1.6}
    landings = [
        phase_from("landing", id=f"landing-{n}", side="both", properties={"jump": f"jump-{n}", "landing_feet": "both"}, **span)
        for n in (1, 2, 3, 4)
    ]
    phrase = Phrase((), (*jumps, *landings))
    assert [one.id for one in same_again(jumps[0], phrase, jumps)] == ["jump-1", "jump-2"]
    assert isinstance(landings[1], Landing)
    assert [one.id for one in same_again(landings[1], phrase, jumps)] == ["landing-1", "landing-2"]
    assert "jump-4" not in [one.id for one in same_again(jumps[0], phrase, jumps)]


def test_limits_of_a_series_of_jumps() -> None:
    """The limit itself is too long a rest; each jump is held against the one before it, not against the first."""
    at_limit = [jump(1, 1.0, 0.5), jump(2, 1.5 + SERIES.series_s, 0.5)]
    assert len(series_of(at_limit)) == 2
    chain = row(1.0, 10.0, 11.0, 12.0)
    assert series_of(chain) == [chain[:1], chain[1:]]


def test_limits_of_a_small_jump() -> None:
    """As high as the limit is no hop; by the time in the air the rise is g t² / 8."""
    for limit, feet in ((SERIES.smallest_jump_m, "both-both"), (SERIES.hop_rise_m, "left-right")):
        assert hops([jump(1, 1.0, feet=feet, height_m=limit)]) == frozenset()
        assert hops([jump(1, 1.0, feet=feet, height_m=0.999 * limit)]) == {"jump-1"}
        for share, found in ((1.01, frozenset()), (0.99, {"jump-1"})):
            flight_s = float((8 * share * limit / 9.80665) ** 0.5)
            assert hops([jump(1, 1.0, flight_s, feet)]) == found


def test_each_jump_of_a_series_leaves_the_floor_soon() -> None:
    """A rest as long as the limit ends a series, a shorter one does not; travelling as far as the limit is in its place."""
    for rest, found in ((SERIES.rebound_s, {"jump-1", "jump-2", "jump-3"}), (SERIES.rebound_s - 0.0625, set())):
        assert hops(row(*starts(3, 0.125 + rest), flight_s=0.125)) == found
    assert hops(row(*starts(3), flight_s=0.125, travel_m=SERIES.in_place_m)) == frozenset()
    # 1.05 s after the first landing, then 0.97: the first is no part of what follows, and two are none.
    assert hops(row(1.0, 2.15, 3.22, flight_s=0.1)) == {"jump-1", "jump-2", "jump-3"}
    at_limit = row(1.0, 1.125 + SERIES.rebound_s, 2.1875 + 2 * SERIES.rebound_s - 1.0, flight_s=0.125)
    assert hops(at_limit) == {"jump-1", "jump-2", "jump-3"}


def test_an_interval_of_another_length_begins_the_next_series() -> None:
    """Half a second twice, then 0.9 twice: the third jump ends one and begins the other."""
    assert hops(row(1.0, 1.5, 2.0, 2.9, 3.8, flight_s=0.1)) == frozenset()
    assert hops(row(1.0, 1.5, 2.0, 2.9, flight_s=0.1)) == {"jump-4"}
    travels = [*row(1.0, 1.5, 2.0, flight_s=0.1), jump(4, 2.5, 0.1, travel_m=1.0), *row(3.0, 3.5, flight_s=0.1, first=5)]
    assert hops(travels) == {"jump-4", "jump-5", "jump-6"}


def test_the_same_step_of_another_kind() -> None:
    """A step that is no jump comes again by its shape alone; one that lands on one foot is another step."""
    jumps = [*row(1.0, 1.8), jump(3, 2.6, feet="both-left")]
    plie = phase_from(
        "plie", id="plie-1", side="both", start=0, end=1, start_s=0.1, end_s=0.9, properties={"support": "both", "use": "plié"}
    )
    phrase = Phrase((), (plie, *jumps))
    assert [one.id for one in same_again(plie, phrase, jumps)] == ["plie-1"]
    assert [one.id for one in same_again(jumps[2], phrase, jumps)] == ["jump-3"]
