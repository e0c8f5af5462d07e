"""The command ``compare``: what is different between two reviewed takes of a phrase, in time and in shape."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from ..analysis_core.errors import OptionError
from ..analysis_core.wording import doing
from .output import Output

if TYPE_CHECKING:
    from ..analysis_core.compare.comparison import Comparison

HELP = "say what is different between two reviewed takes of a phrase, and write comparison.json"
EXAMPLE = "in-the-round compare out/careless out/careful --out out/compared"

#: So many differences are printed; comparison.json holds all.
_MOST = 12


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("a", type=Path, nargs="?", metavar="REVIEW_A", help="the review of the first take, as review wrote it")
    parser.add_argument("b", type=Path, nargs="?", metavar="REVIEW_B", help="the review of the second; every value is B minus A")
    parser.add_argument("--out", type=Path, metavar="DIR", help="the folder to write to")
    parser.add_argument("--force", action="store_true", help="replace an earlier comparison")
    terms = parser.add_argument_group("two terms, from the record, instead of two takes")
    terms.add_argument("--dancer", metavar="NAME", help="compare this dancer's last term with the one before it")
    terms.add_argument("--since", metavar="TERM", help="the earlier term (default: the one before)")
    terms.add_argument("--term", metavar="TERM", help="the later term (default: the last one)")
    terms.add_argument("--database", metavar="FILE|URL", help="the record (default: the one of this account)")


def _text(comparison: Comparison, written: Path) -> str:
    from ..analysis_core.wording import comparison as say
    from ..analysis_core.wording import told as words

    alignment = comparison.alignment
    lines = [
        words.compared(comparison.b.file, comparison.a.file, alignment.method, len(alignment.landmarks)),
        say.placement(comparison),
    ]
    lines += [words.only_in(p.take, p.start_s, p.end_s, p.why) for p in alignment.unmatched]
    told = [difference for difference in comparison.differences if difference.beyond_measurement]
    lines.append(words.differences_of_shape(len(told), comparison.a.file, comparison.b.file))
    for found in told[:_MOST]:
        lines.append(words.at_both(found.a_s, found.b_s, say.difference(found)))
    if len(told) > _MOST:
        lines.append(words.more_in(len(told) - _MOST, written.name))
    late = [timing for timing in comparison.timing if timing.since_before_beyond]
    lines.append(words.differences_of_time(len(late)))
    lines += [f"  {say.timing(timing)}" for timing in late]
    lines.append(words.findings_compared(len(comparison.findings)))
    lines += [f"  {say.change(change)}" for change in comparison.findings]
    lines += [words.written([written]), words.next_with_both()]
    return "\n".join(lines)


def _run_terms(arguments: argparse.Namespace, output: Output) -> None:
    """Compare two terms of one dancer from the record."""
    from datetime import date

    from ..analysis_core.record.dancers import dancer_of
    from ..analysis_core.record.places import place_of
    from ..analysis_core.record.store import open_store
    from ..analysis_core.record.terms import compare_terms, shown_better, two_terms
    from ..analysis_core.wording import record as words
    from . import record_data

    with open_store(place_of(arguments.database), today=date.today()) as store, store.read() as connection:
        dancer = dancer_of(connection, arguments.dancer)
        before, now = two_terms(connection, dancer.id, arguments.since, arguments.term)
        report = compare_terms(connection, dancer.id, before, now)
    better = set(shown_better(report))
    data = {**record_data.progress_data(dancer.pseudonym, report, ()), "since": before, "term": now}
    data["better"] = [item.title for item in report.series if item.key in better]
    output.result(data, words.two_terms(before, now, data))


def run(arguments: argparse.Namespace, output: Output) -> None:
    """Compare two reviews, or two terms. Raises InTheRoundError."""
    if arguments.dancer is not None:
        if arguments.a is not None or arguments.out is not None:
            raise OptionError("--dancer compares two terms from the record: leave the review folders and --out away.")
        _run_terms(arguments, output)
        return
    if arguments.b is None or arguments.out is None:
        raise OptionError("Name two review folders and --out DIR; or --dancer NAME to compare two terms from the record.")
    from ..analysis_core.compare import COMPARISON_FILE, compare, to_json, write_comparison
    from ..analysis_core.review import read_review
    from ..analysis_core.write.files import require_place

    path = arguments.out / COMPARISON_FILE
    require_place(path, overwrite=arguments.force)
    a, b = read_review(arguments.a), read_review(arguments.b)
    output.progress(doing.COMPARING)
    comparison = compare(a, b)
    written = write_comparison(comparison, arguments.out, overwrite=arguments.force)
    output.result({**to_json(comparison), "written": str(written)}, _text(comparison, written))
