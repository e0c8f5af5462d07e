"""How true the findings are: recorded trials with built-in faults against what the exact movement shows.

    .venv/bin/python scripts/bench_findings.py --situations [NUMBER …]     known errors, one tiny dance each, says and truth
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import cache

import numpy as np
from bench_common import Row
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.situations import SITUATIONS, ask
from in_the_round.simulated_dancer.trials import CLEAR, Outcome, Recorded, trial, varied

#: Clean takes beside those with a fault.
_CLEAN = 12
#: The chain of the shared catalogue that is danced to ask which fault came first.
_CHAIN = (
    Fault("heel-lifts-early", "turn-1", 32.0),
    Fault("foot-slips-parallel", "turn-1", 16.0),
    Fault("axis-tilts", "turn-1", 8.0),
    Fault("turn-travels", "turn-1", 150.0),
)


def _run(job: tuple[Recorded, tuple[Fault, ...]]) -> Outcome:
    return trial(*job)


@cache
def _outcomes() -> tuple[list[Outcome], list[Outcome]]:
    """Every fault in every phase that carries it, clean takes; and chains that begin at each of their members."""
    jobs = [(Fault(fault, phase, size),) for fault, (size, phases) in CLEAR.items() for phase in phases]
    jobs += [()] * _CLEAN
    chains = [_CHAIN[first:] for first in range(3) for _ in range(4)]
    recorded = varied(len(jobs) + len(chains), seed=11)
    with ProcessPoolExecutor(2) as pool:
        outcomes = list(pool.map(_run, zip(recorded, [*jobs, *chains], strict=True)))
    return outcomes[: len(jobs)], outcomes[len(jobs) :]


def faults() -> list[Row]:
    """Found, missed and false findings."""
    outcomes, _ = _outcomes()
    found = sum(sum(outcome.found) for outcome in outcomes)
    missed = sum(len(outcome.found) for outcome in outcomes) - found
    false = sum(len(outcome.false) for outcome in outcomes)
    clean = [outcome for outcome in outcomes if not outcome.built]
    a_minute = sum(len(o.false) for o in clean) / sum(o.minutes for o in clean)
    rows = [
        Row(f"built in {found + missed}, found", found, ""),
        Row("false findings in all takes", false, ""),
        Row("1 - F1", 1 - 2 * found / (2 * found + missed + false), "", 0.05),
        Row("false findings a minute in clean takes", a_minute, "", 0.5),
    ]
    for outcome in outcomes:
        for built, was in zip(outcome.built, outcome.found, strict=True):
            if not was:
                rows.append(Row(f"missed: {built.fault} of {built.value:g} {built.unit} in {built.phase}", 1, ""))
        rows += [Row(f"false: {text}", 1, "") for text in outcome.false]
    return rows


def first_cause() -> list[Row]:
    """How often the root of the longest chain is the fault that was built in first."""
    _, outcomes = _outcomes()
    wrong = 0
    for outcome in outcomes:
        names = {finding.id: finding.fault for finding in outcome.review.findings}
        root = names[outcome.review.chains[0][0]] if outcome.review.chains else None
        wrong += root != outcome.built[0].fault
    return [Row(f"wrong roots, share of {len(outcomes)} chains", wrong / len(outcomes), "", 0.1)]


def _covered(told: Iterable[tuple[str, str, float, float]]) -> list[Row]:
    """Share of errors that lie within their ±, for every measure of (fault, measure, error, plus-minus)."""
    by_measure: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for fault, measure, error, plus_minus in told:
        by_measure[f"{fault}, {measure}"].append((error, plus_minus))
    rows = []
    for name, pairs in sorted(by_measure.items()):
        error, plus_minus = np.array(pairs).T
        rows.append(
            Row(
                f"{name} ({len(pairs)} values, error {np.sqrt(np.mean(error**2)):.3g}, ± {np.median(plus_minus):.3g})",
                100 * float(np.mean(np.abs(error) <= plus_minus)),
                "%",
            )
        )
    under, over = sum(row.value < 90 for row in rows), sum(row.value > 98 for row in rows)
    return [
        Row(f"measures of {len(rows)} that are covered in less than 90 % of cases", under, "", 0),
        Row("measures that are covered in more than 98 % of cases: stated wider than they err", over, ""),
        *rows,
    ]


def coverage() -> list[Row]:
    """How often the exact value lies within the ± that is stated (95 %), and the error itself, for every measure."""
    return _covered(told for outcome in (*_outcomes()[0], *_outcomes()[1]) for told in outcome.covered)


def within_takes() -> list[Row]:
    """The same for how far two phases of a take are apart, by the ± within the take."""
    return _covered(told for outcome in (*_outcomes()[0], *_outcomes()[1]) for told in outcome.apart)


def situations(numbers: list[str]) -> int:
    """Print what the program says and what is true in each situation; returns how many are wrong."""
    wrong = 0
    for situation in SITUATIONS:
        if numbers and situation.number not in numbers:
            continue
        answer = ask(situation)
        wrong += not answer.right
        print(f"{situation.number:4}{'right' if answer.right else 'WRONG'}  {situation.name}")
        print(f"           says:  {answer.says}\n           truth: {answer.truth}", flush=True)
    print(f"{wrong} wrong")
    return wrong


def main() -> int:
    """Return 1 when a situation is wrong, else 0."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--situations", nargs="*", metavar="NUMBER", required=True, help="known errors; all without a number")
    return int(situations(parser.parse_args().situations) > 0)


if __name__ == "__main__":
    sys.exit(main())
