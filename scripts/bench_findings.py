"""How true the findings are: recorded trials with built-in faults, held against a truth from formulas of its own.

Print the tables, on as many processes as asked for (one: about six minutes; --quick: less than one):

.venv/bin/python scripts/bench_findings.py [--quick] [--processes N] [--seed N] [--keep FOLDER]
.venv/bin/python scripts/bench_findings.py --kept FOLDER …                 the same tables of runs that were kept, together
.venv/bin/python scripts/bench_findings.py --situations [NUMBER …]     known errors, one tiny dance each: says and truth
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache, partial
from pathlib import Path

import numpy as np
from bench_common import Row, table
from in_the_round.analysis_core.findings.finding import PLUS_MINUS
from in_the_round.simulated_dancer.coverage import interval_of_share
from in_the_round.simulated_dancer.judged import COUNTED_KINDS
from in_the_round.simulated_dancer.kept_trials import Ran, kept_in, ran_or_kept
from in_the_round.simulated_dancer.programme import Job, full, quick
from in_the_round.simulated_dancer.situations import SITUATIONS, ask

#: Least values of a measure from which a share of covered ones is told.
_LEAST_VALUES = 8
#: A ± of 95 % is as it should be when it covers this share of the errors, in percent.
_LEAST_COVERED, _MOST_COVERED = 92.0, 98.0


def run(jobs: Sequence[Job], processes: int = 1, keep: Path | None = None) -> list[Ran]:
    """Run some jobs; a folder keeps what was run, so that a run that was cut off goes on (of one state of the program only)."""
    numbered = list(enumerate(jobs))
    told: list[Ran] = []
    with ProcessPoolExecutor(processes) as pool:
        for one in pool.map(partial(ran_or_kept, folder=keep), numbered):
            told.append(one)
            print(f"\r{len(told)} of {len(jobs)} trials", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    return told


@cache
def _whole() -> list[Ran]:
    return run(full(), 2)


def _of(ran: Iterable[Ran], *groups: str) -> list[Ran]:
    return [one for one in ran if one.group in groups]


def _share(part: int, whole: int) -> float:
    return part / whole if whole else float("nan")


def precision_and_recall(ran: Sequence[Ran]) -> list[Row]:
    """Of clear and of middle sizes: what share of the findings is true, what share of the faults is found."""
    rows = []
    for group, least in (("clear", 0.95), ("middle", 0.85)):
        takes = _of(ran, group)
        carried = [c for one in _of(ran, "clear", "middle") for c in one.judged.carried if c.clear == (group == "clear")]
        true, false, undecided = (sum(len(getattr(one.judged, kind)) for one in takes) for kind in ("true", "false", "undecided"))
        found = sum(c.found for c in carried)
        rows += [
            Row(f"{group}: 1 - precision ({true} true, {false} false)", 1 - _share(true, true + false), "", 1 - least),
            Row(f"{group}: 1 - precision, {undecided} undecided as false", 1 - _share(true, true + false + undecided), ""),
            Row(f"{group}: 1 - recall ({found} of {len(carried)})", 1 - _share(found, len(carried)), "", 1 - least),
        ]
    return rows


def clean_takes(ran: Sequence[Ran]) -> list[Row]:
    """False findings a minute in clean takes of every phrase, and in strange bodies and rooms."""
    rows = []
    for group in ("clean", "cropped", "strange"):
        takes = _of(ran, group)
        for name in dict.fromkeys(one.name for one in takes):
            same = [one.judged for one in takes if one.name == name]
            a_minute = sum(len(j.false) for j in same) / sum(j.minutes for j in same)
            rows.append(Row(f"{group}: {name}", a_minute, "/min", 0.3 if group == "clean" else None))
    takes = [one.judged for one in _of(ran, "clean")]
    rows.insert(0, Row("clean: all", sum(len(j.false) for j in takes) / max(sum(j.minutes for j in takes), 1e-9), "/min", 0.3))
    return rows


def phases(ran: Sequence[Ran]) -> list[Row]:
    """Share of the balances, relevés and turns that are none, and how many true ones were not told."""
    rows = []
    for kind in COUNTED_KINDS:
        told = sum(one.judged.steps[kind].told for one in ran)
        false = sum(len(one.judged.steps[kind].false) for one in ran)
        rows.append(Row(f"{kind}: false of {told}", 100 * _share(false, told), "%", 5.0))
        rows.append(Row(f"{kind}: true ones not told", sum(one.judged.steps[kind].missed for one in ran), ""))
    return rows


def causes(ran: Sequence[Ran]) -> list[Row]:
    """How often the fault that was built in first is the root of a chain and no other root is told."""
    takes = _of(ran, "chain")
    wrong = [one for one in takes if one.built[0] not in one.roots]
    rows = [Row(f"first cause wrong, share of {len(takes)}", _share(len(wrong), len(takes)), "", 0.05)]
    for one in wrong:
        said = ", ".join(one.roots) or "nothing"
        rows.append(Row(f"trial {one.place}, {one.name}: {one.built[0]} came first, said {said}", 1, ""))
    return rows


_Told = tuple[str, str, float, float]


def _of_one_measure(name: str, takes: Sequence[Sequence[_Told]]) -> tuple[Row, tuple[float, float]]:
    """How often the ± of one measure covers its errors, %, and the interval of that."""
    error, plus_minus = np.array([told[2:] for take in takes for told in take], dtype=np.float64).T
    size, stated = float(np.sqrt(np.mean(error**2))), float(np.median(plus_minus))
    # By what the ± would have to be multiplied for 68 and for 95 % of the errors to lie within one and two of its SD.
    one, two = (float(np.quantile(np.abs(error) / plus_minus, share)) for share in (0.683, 0.95))
    low, high = (100 * end for end in interval_of_share([(sum(abs(e) <= s for *_, e, s in take), len(take)) for take in takes]))
    told_as = f"{name} ({error.size} values, {len(takes)} takes, error {size:.3g}, mean {np.mean(error):.2g}, ± {stated:.3g}, "
    told_as += f"factors {PLUS_MINUS * one:.2f} {two:.2f}; {low:.0f} to {high:.0f} %)"
    return Row(told_as, 100 * float(np.mean(np.abs(error) <= plus_minus)), "%"), (low, high)


def _covered(takes: Iterable[Sequence[_Told]]) -> list[Row]:
    """Share of errors that lie within their ±, for every measure, from the (fault, measure, error, plus-minus) of each take."""
    by_measure: dict[str, list[list[_Told]]] = defaultdict(list)
    for take in takes:
        own: dict[str, list[_Told]] = defaultdict(list)
        for told in take:
            own[f"{told[0]}, {told[1]}"].append(told)
        for name, values in own.items():
            by_measure[name].append(values)
    measures = [
        _of_one_measure(name, by_take)
        for name, by_take in sorted(by_measure.items())
        if sum(len(take) for take in by_take) >= _LEAST_VALUES
    ]
    under, over = sum(row.value < _LEAST_COVERED for row, _ in measures), sum(row.value > _MOST_COVERED for row, _ in measures)
    return [
        Row(f"measures of {len(measures)} that are covered in less than {_LEAST_COVERED:g} % of cases", under, "", 0),
        Row("... surely, by their intervals", sum(high < _LEAST_COVERED for _, (_, high) in measures), "", 0),
        Row(f"measures that are covered in more than {_MOST_COVERED:g} % of cases: stated wider than they err", over, "", 0),
        Row("... surely, by their intervals", sum(low > _MOST_COVERED for _, (low, _) in measures), "", 0),
        *(row for row, _ in measures),
    ]


def _kind(ran: Sequence[Ran]) -> list[Ran]:
    return [one for one in ran if one.group not in ("strange", "cropped")]


def coverage() -> list[Row]:
    """How often the exact value lies within the ± that is stated (95 %), and the error itself, for every measure."""
    return _covered(one.judged.covered for one in _kind(_whole()))


def within_takes() -> list[Row]:
    """The same for how far two phases of a take are apart, by the ± within the take."""
    return _covered(one.judged.apart for one in _kind(_whole()))


def faults() -> list[Row]:
    """Precision and recall, clean takes, and the steps that are none."""
    return [*precision_and_recall(_whole()), *clean_takes(_whole()), *phases(_kind(_whole()))]


def first_cause() -> list[Row]:
    """Whether what came first is said to have come first."""
    return causes(_whole())


def failures(ran: Sequence[Ran]) -> list[str]:
    """Every false finding and every miss in words, with the trial that shows it."""
    lines = []
    for one in ran:
        where = f"trial {one.place} ({one.group}, {one.name})"
        lines += [f"{where}: FALSE {text}" for text in one.judged.false]
        lines += [f"{where}: undecided {text}" for text in one.judged.undecided]
        lines += [f"{where}: MISSED {c.fault} {c.value:.3g} in {c.step}" for c in one.judged.carried if not c.found]
        lines += [f"{where}: too small to be one: {text}" for text in one.judged.too_small]
        lines += [f"{where}: no {kind}: {text}" for kind, steps in one.judged.steps.items() for text in steps.false]
    return lines


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


def _print_tables(ran: Sequence[Ran]) -> None:
    print("failures\n  " + "\n  ".join(failures(ran)))
    for name, rows in (
        ("precision and recall", precision_and_recall(ran)),
        ("false findings a minute", clean_takes(ran)),
        ("steps", phases(_kind(ran))),
        ("first cause", causes(ran)),
        ("coverage", _covered(one.judged.covered for one in _kind(ran))),
        ("coverage within takes", _covered(one.judged.apart for one in _kind(ran))),
    ):
        print(f"\n{name}\n{table(rows)}", flush=True)


def main() -> int:
    """Return 1 when a situation is wrong, else 0: met or not, the tables are what they are."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--situations", nargs="*", metavar="NUMBER", help="known errors; all of them without a number")
    parser.add_argument("--quick", action="store_true", help="a small part of the trials")
    parser.add_argument("--trial", type=int, nargs="+", metavar="N", help="only these trials of the programme")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--seed", type=int, help="of the programme (default: 11, of a small part 5)")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep every trial there; a run that was cut off goes on")
    parser.add_argument(
        "--kept", type=Path, nargs="+", metavar="FOLDER", help="the tables of kept trials, of all folders together"
    )
    options = parser.parse_args()
    if options.situations is not None:
        return int(situations(options.situations) > 0)
    if options.kept:
        _print_tables(kept_in(options.kept))
        return 0
    programme = quick if options.quick else full
    jobs = programme() if options.seed is None else programme(options.seed)
    if options.trial:
        print("\n".join(failures([ran_or_kept((number, jobs[number]), None) for number in options.trial])))
        return 0
    if options.keep:
        options.keep.mkdir(parents=True, exist_ok=True)
    _print_tables(run(jobs, options.processes, options.keep))
    return 0


if __name__ == "__main__":
    sys.exit(main())
