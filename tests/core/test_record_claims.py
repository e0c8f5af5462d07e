"""Claims about progress: published worked examples, numbers worked out by hand, and simulated dancers who do not change."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from in_the_round.analysis_core.record.claims import Session, change, day_to_day_sd, false_discovery, holm, together
from in_the_round.analysis_core.record.followed import Key
from in_the_round.analysis_core.record.progress import claimed, follow
from in_the_round.analysis_core.record.repeatability import repeated
from in_the_round.analysis_core.record.states import state_of
from in_the_round.analysis_core.record.trend import robust_slope, trend_of
from in_the_round.analysis_core.wording.record import outcome, remarks
from scipy import stats

DAY = date(2027, 3, 1)


def session(
    values: list[float], *, day: int = 0, u: float = 4.2, within: float | None = 3.3, high: float = 10.0,
    placement: str | None = None, fault: bool = False,
) -> Session:  # fmt: skip
    """A session of some repetitions, its band from 0 to ``high``."""
    spread = float(np.std(values, ddof=1)) if len(values) > 1 else math.nan
    outside = sum(value > high for value in values)
    return Session(
        DAY + timedelta(days=day), len(values), float(np.mean(values)), spread, u, within, 0.0, high, outside, fault, placement
    )  # fmt: skip


@pytest.mark.parametrize(
    ("plus_minus", "within", "placement", "expected"),
    [(4.2, 3.3, None, 5.9397), (4.2, 3.3, "a", 4.6669), (1.96 * 2.0, None, None, 5.5437)],
)
def test_smallest_change_of_single_values(
    plus_minus: float, within: float | None, placement: str | None, expected: float
) -> None:
    """Worked by hand: √(U² + U²), with the same markers √(W² + W²); 2.77 times the SD (Bland & Altman 1999)."""
    one = session([31.0], u=plus_minus, within=within, placement=placement)
    found = change(one, session([8.0], u=plus_minus, within=within, placement=placement))
    assert found.sdc == pytest.approx(expected, abs=2e-4)
    assert found.value == pytest.approx(-23.0)
    assert not found.means


@pytest.mark.parametrize(
    ("placement", "day_sd", "sdc", "df", "p", "error"),
    [
        (None, 0.0, 5.9895, 13.429, 0.0063, 2.7814),
        ("a", 0.0, 5.7051, 4.0, None, 2.0548),
        (None, 2.0, 7.9481, None, 0.0272, None),
    ],
)
def test_smallest_change_of_means(
    placement: str | None, day_sd: float, sdc: float, df: float | None, p: float | None, error: float | None
) -> None:
    """31 34 29 → 22 25 20, worked by hand with Welch's and Satterthwaite's formulas (1947, 1946). Catches wrong terms or df."""
    found = change(session([31, 34, 29], placement=placement), session([22, 25, 20], placement=placement), day_sd)
    assert found.value == pytest.approx(-9.0)
    assert found.sdc == pytest.approx(sdc, abs=2e-3)
    # The standard errors 2.7814 and 2.0548 of the worked example, from the half-width at its own df.
    if error is not None:
        assert found.sdc / stats.t.ppf(0.975, found.df) == pytest.approx(error, abs=1e-4)
    if df is not None:
        assert found.df == pytest.approx(df, abs=5e-3)
    if p is not None:
        assert found.p == pytest.approx(p, abs=2e-4)
    assert found.beyond


def test_a_change_that_measuring_cannot_show_is_none() -> None:
    assert not change(session([31, 34, 29]), session([27, 30, 25])).beyond


def test_false_discoveries_by_the_published_example() -> None:
    """Benjamini & Hochberg 1995, table of 15 p-values: 4 rejected at 0.05 (Bonferroni 3); q of the fourth 0.0356."""
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0]
    q = false_discovery(p)
    assert sum(value < 0.05 for value in q) == 4
    assert q[3] == pytest.approx(0.0356, abs=1e-4)
    assert sum(value * len(p) < 0.05 for value in p) == 3
    # The library agrees, also out of order, where values are alike, and where there are none.
    drawn = np.round(np.random.default_rng(7).uniform(size=(40, 9)) ** 2, 2)
    for each in (p, p[::-1], *drawn):
        assert false_discovery(list(each)) == pytest.approx(stats.false_discovery_control(each))
    assert false_discovery([]) == []


def test_holm() -> None:
    """Holm 1979, worked by hand: 0.02 and 0.04 become 0.04 both."""
    assert holm([0.02, 0.04]) == pytest.approx([0.04, 0.04])
    assert holm([0.04, 0.02]) == pytest.approx([0.04, 0.04])


def test_pooling_is_the_same_as_all_repetitions_at_once() -> None:
    """Mean and SD of takes put together equal those of numpy over all repetitions."""
    one, two = [31.0, 34.0, 29.0], [22.0, 27.0]
    found = together([session(one), session(two)])
    assert (found.n, found.value) == (5, pytest.approx(np.mean(one + two)))
    assert found.sd == pytest.approx(np.std(one + two, ddof=1))


def test_trend_by_numbers_worked_by_hand() -> None:
    """Least squares on five sessions: slope, both half-widths, and the wider one counts."""
    found = trend_of([0, 14, 35, 49, 70], [31, 28, 24, 25, 19], 2.2)
    assert found is not None
    assert found.per_month == pytest.approx(-4.682, abs=1e-3)
    assert found.by_scatter == pytest.approx(2.487, abs=1e-3)
    assert found.by_measuring == pytest.approx(2.332, abs=1e-3)
    assert found.plus_minus == found.by_scatter
    assert found.beyond


def test_robust_slope_and_rank_correlation_of_the_same_five_sessions() -> None:
    """Theil (1950) and Sen (1968): the median of ten slopes worked out pair by pair here; Kendall's exact p of five ranks that
    fall but for one pair is 0.0833, and below five sessions it can never be under 0.05, so that none is given."""
    days, values = [0, 14, 35, 49, 70], [31, 28, 24, 25, 19]
    slope, low, high = robust_slope(days, values)
    pairs = [(values[j] - values[i]) / (days[j] - days[i]) * 30 for i in range(5) for j in range(i + 1, 5)]
    assert slope == pytest.approx(float(np.median(pairs)))
    assert (slope, low, high) == pytest.approx((-4.982, -8.571, 2.143), abs=1e-3)
    assert trend_of(days, values, 2.2).robust is None
    assert trend_of([*days, 90], [*values, 18], 2.2).robust is not None
    ranks = stats.kendalltau(days, values)
    assert (ranks.statistic, ranks.pvalue) == (pytest.approx(-0.8), pytest.approx(0.0833, abs=1e-4))
    least = [stats.kendalltau(range(n), range(n)).pvalue for n in (3, 4)]
    assert least == pytest.approx([0.333, 0.083], abs=1e-3)


def test_repeatability_by_the_published_table() -> None:
    """Shrout & Fleiss 1979, Psychol Bull 86:420, table 2 (six targets, four judges): mean squares and the three correlations of
    single ratings as printed there; standard error and smallest change by Weir 2005. Catches judges not taken out."""
    found = repeated([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])
    assert (found.between, found.session, found.residual) == pytest.approx((11.2417, 32.4861, 1.0194), abs=5e-5)
    assert [found.correlation(model) for model in (1, 2, 3)] == pytest.approx([0.1657, 0.2898, 0.7148], abs=5e-5)
    assert (found.sem, found.smallest_change) == pytest.approx((1.0097, 2.7987), abs=1e-4)
    for wrong in ([[1.0, 2.0]], [[1.0], [2.0]], [[1.0, 2.0], [math.nan, 3.0]]):
        with pytest.raises(ValueError, match="without gaps"):
            repeated(wrong)


def test_a_goals_baseline_regresses_to_the_mean() -> None:
    """True SD 4 around 10, error SD 3: a dancer chosen for a 20 stands at 10 + 16/25 · 10 = 16.4 next time (Barnett 2005).

    The baseline of a goal must be that fresh session; the one that chose it would promise 3.6 of improvement for nothing.
    """
    chance = np.random.default_rng(3)
    true = chance.normal(10, 4, 400_000)
    chosen = true + chance.normal(0, 3, true.size)
    fresh = true + chance.normal(0, 3, true.size)
    near = np.flatnonzero(abs(chosen - 20) < 0.25)[:1500]
    baselines = []
    for place in near:
        sessions = [session([float(chosen[place])]), session([float(fresh[place])], day=7), session([10.0], day=14)]
        baseline = series_of(sessions, goal=0).baseline
        assert baseline is not None
        baselines.append(baseline.value)
    assert np.mean(baselines) == pytest.approx(16.4, abs=4 * math.hypot(3, 2.4) / math.sqrt(len(near)))


def test_no_trend_from_three_sessions() -> None:
    """A slope of three points has an interval that covers the truth in 66 % instead of 95 %: none is given."""
    assert trend_of([0, 14, 35], [31, 28, 24], 2.2) is None


def test_nobody_improves_by_chance() -> None:
    """2,000 dancers who do not change, with spread, placement and noise of the sizes that are stated: 5 % at most seem to.

    Would catch the use of the worst value, of ± without the dancer's own spread, or a missing placement term (11 to 24 %).
    """
    chance = np.random.default_rng(19)
    spread, noise, placement = 3.0, 3.3 / 1.96, math.sqrt((4.2 / 1.96) ** 2 - (3.3 / 1.96) ** 2)
    own = (
        chance.normal(20, spread, (2000, 2, 4))
        + chance.normal(0, noise, (2000, 2, 4))
        + chance.normal(0, placement, (2000, 2, 1))
    )
    seen = [change(session(list(pair[0])), session(list(pair[1]))).beyond for pair in own]
    assert np.mean(seen) <= 0.065  # three standard errors of 5 % over 2,000


def test_day_to_day_spread_needs_ten_pairs() -> None:
    """2 mm from day to day come out again from 400 pairs, and below ten pairs nothing is said."""
    chance = np.random.default_rng(20)
    day_sd, noise, placement = 2.0, 3.3 / 1.96, math.sqrt((4.2 / 1.96) ** 2 - (3.3 / 1.96) ** 2)
    pairs = []
    for _ in range(400):
        level = chance.normal(20, 5)
        means = level + chance.normal(0, math.hypot(day_sd, placement), 2)
        pairs.append([session(list(mean + chance.normal(0, noise, 4)), day=7 * place) for place, mean in enumerate(means)])
    assert day_to_day_sd(pairs) == pytest.approx(2.0, abs=0.35)
    assert day_to_day_sd(pairs[:9]) is None


def test_states() -> None:
    """Open, better, held over a week, came back; held within one day is not held; an accident once is not open."""
    bad, fair, good = [31.0, 34.0, 29.0], [14.0, 15.0, 13.0], [3.0, 2.0, 4.0]
    assert state_of([session([31.0])]) == "not found"
    assert state_of([session([31.0], fault=True)]) == "open"
    assert state_of([session(bad)]) == "open"
    assert state_of([session(bad), session(fair, day=7)]) == "better"
    assert state_of([session(bad), session(good, day=7)]) == "better"
    assert state_of([session(bad), session(good, day=7), session(good, day=9)]) == "better"
    held = [session(bad), session(good, day=7), session(good, day=21)]
    assert state_of(held) == "held"
    assert state_of([*held, session([11.0, 10.5, 5.0], day=30)]) == "held"
    assert state_of([*held, session(bad, day=30)]) == "came back"


def series_of(sessions: list[Session], *, fault: str = "heel-lifts-early", goal: int | None = None):
    goal_on = None if goal is None else DAY + timedelta(days=goal)
    return follow(Key(fault, "height", "left", "turn", ""), fault, "height", "mm", sessions, None, goal_on)


def test_a_goal_is_not_compared_with_the_take_that_chose_it() -> None:
    """The worst of many is worst partly by chance (regression to the mean, Barnett 2005): a fresh one, or the mean of two."""
    sessions = [session([31, 34, 29]), session([22, 25, 20], day=14), session([21, 24, 19], day=28)]
    goal = series_of(sessions, goal=0)
    assert goal.baseline == sessions[1]
    assert series_of(sessions, goal=14).baseline == together(sessions[:2])
    assert series_of(sessions).baseline == sessions[0]


def test_what_may_be_claimed() -> None:
    """A goal is better, what was not set beforehand may be better, one try each only changed, inside the band nothing is said."""
    worse, better = [31.0, 34.0, 29.0], [12.0, 15.0, 13.0]
    goal = series_of([session(worse, day=day) for day in (0, 7)] + [session(better, day=21)], goal=7)
    other = series_of([session(worse), session(better, day=7)], fault="low-jump")
    single = series_of([session([31.0]), session([12.0], day=7)], fault="elbows-drop")
    inside = series_of([session([9.0, 9.1, 9.2]), session([1.0, 1.1, 1.2], day=7)], fault="ribs-open")
    found = {item.key.fault: item for item in claimed([inside, single, other, goal])}
    assert found["heel-lifts-early"].claim == "better"
    assert found["low-jump"].claim == "may be better"
    assert found["elbows-drop"].claim == "changed on these two tries"
    assert found["ribs-open"].claim is None
    assert "inside the band both times" in outcome(found["ribs-open"])
    assert next(iter(claimed([inside, single, other, goal]))).key.fault == "heel-lifts-early"


def test_a_hundred_series_without_change_give_no_claims() -> None:
    """Each alone would err in 5 %: over 100 the adjusted claims must be few. Catches claims that are made one by one."""
    chance = np.random.default_rng(21)
    quiet = []
    for number in range(100):
        pair = chance.normal(20, 3, (2, 4)) + chance.normal(0, 1.3, (2, 1))
        quiet.append(series_of([session(list(pair[0])), session(list(pair[1]), day=7)], fault=f"fault-{number}"))
    assert sum(item.claim is not None for item in claimed(quiet)) <= 1


def test_four_of_five_to_one_of_five_is_no_improvement_by_itself() -> None:
    """Fisher's exact test (from the library): counts of few tries prove nothing, and the sentence says so."""
    tables = (([[4, 1], [1, 4]], 0.206), ([[8, 2], [2, 8]], 0.023), ([[5, 0], [0, 5]], 0.0079))
    for table, p in tables:
        assert stats.fisher_exact(table).pvalue == pytest.approx(p, abs=5e-4)
    before, after = session([14, 13, 12, 11, 9]), session([11, 9, 9, 9, 9], day=7)
    (found,) = claimed([series_of([before, after])])
    assert (before.outside, after.outside) == (4, 1)
    assert found.claim is None
    assert any("not a claim by itself" in remark for remark in remarks(found))
