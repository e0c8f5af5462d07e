"""The command ``archive``: review every take below a folder."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..analysis_core.errors import OutputError
from ..analysis_core.wording import doing, told
from . import options
from .output import Output

if TYPE_CHECKING:
    from ..analysis_core.archive.run import Progress, Ran

HELP = "review every take below a folder, on all cores, and only what is missing or changed"
EXAMPLE = "in-the-round archive recordings --out out/archive"

SOME_FAILED, NOTHING_DONE = 1, 2
#: Lines for people; the tables hold all.
_LISTED = 10


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare what the command takes."""
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="the folder below which the takes lie (C3D, BVH)")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="where reviews, tables and the ledger are kept")
    parser.add_argument("--workers", type=options.whole, metavar="N", help="how many processes (default: as many as fit)")
    parser.add_argument("--scheduler", metavar="ADDRESS", help="use a cluster that runs already: tls://host:8786")
    parser.add_argument("--insecure", action="store_true", help="allow tcp:// to another machine, on a network of your own")
    parser.add_argument(
        "--static-words", nargs="+", metavar="WORD", help="words in a file's name that say that the dancer stands still"
    )
    parser.add_argument("--keep", choices=("all", "findings"), default="all", help="findings: review.json only, without movement")
    parser.add_argument(
        "--limit", type=options.positive, metavar="S", help="time limit of a take (default: 60 s and more by size)"
    )
    parser.add_argument("--retry", action="store_true", help="try takes once more that could not be reviewed")
    parser.add_argument(
        "--norms", type=Path, metavar="DIR", help="write the school's own bands as a profile for --level, from ten dancers on"
    )
    parser.add_argument("--into-record", action="store_true", help="add to the record what has consent, and list what has none")
    parser.add_argument("--database", metavar="FILE|URL", help="the record, with --into-record")
    parser.add_argument("--force", action="store_true", help="replace profiles that are there already")
    options.add_settings(parser, leave_out=("static",))


def _progress(output: Output, progress: Progress) -> None:
    output.progress(told.takes_done(progress.done, progress.all, progress.left_s), progress.done / progress.all)


def _text(ran: Ran, data: dict[str, Any]) -> str:
    lines = [told.archived(ran.takes, ran.reviewed, ran.reused, ran.failed, ran.seconds)]
    if ran.waiting:
        lines.append(told.waiting(ran.waiting))
    lines += [told.static_serves(path, count) for path, count in list(ran.statics.items())[:_LISTED]]
    lines += [f"{item['file']}: {item['error']}" for item in data["errors"][:_LISTED]]
    if len(data["errors"]) > _LISTED:
        lines.append(told.more_errors(len(data["errors"]) - _LISTED))
    lines += [told.note(remark) for remark in ran.remarks]
    lines += _record_lines(data.get("record"))
    return "\n".join([*lines, told.written(data["written"])])


def _record_lines(record: dict[str, Any] | None) -> list[str]:
    if record is None:
        return []
    lines = [told.into_record(record["added"], record["there"], len(record["refused"]))]
    lines += [f"  {item['file']}: {item['why']}" for item in record["refused"][:_LISTED]]
    return [*lines, *([told.without_dancer(record["nobody"])] if record["nobody"] else [])]


def run(arguments: argparse.Namespace, output: Output) -> int:
    """Review what is missing or changed. Returns the exit code; raises InTheRoundError."""
    try:
        import dask  # noqa: F401 - asked for before any work is done
    except ImportError as error:
        raise OutputError("The archive needs one more library: pip install 'in-the-round[archive]'") from error
    from ..analysis_core.archive.ledger import Ledger, only_one
    from ..analysis_core.archive.run import Options, run_archive
    from ..analysis_core.archive.scan import STATIC_WORDS
    from ..analysis_core.archive.summary import write_summary
    from ..analysis_core.archive.tables import write_tables

    chosen = Options(
        settings=options.settings_from(arguments),
        static_words=arguments.static_words or STATIC_WORDS,
        keep=arguments.keep,
        workers=arguments.workers,
        scheduler=arguments.scheduler,
        insecure=arguments.insecure,
        limit_s=arguments.limit,
        retry=arguments.retry,
    )
    watch = lambda progress: _progress(output, progress)  # noqa: E731 - two names for one line
    ran = run_archive(arguments.folder, arguments.out, chosen, watch=watch, note=output.note)
    output.progress(doing.SUMMING_UP)
    with only_one(arguments.out), Ledger(arguments.out) as ledger:
        written = [*write_tables(ledger, arguments.out), write_summary(ledger, arguments.out)]
        if arguments.norms is not None:
            from ..analysis_core.archive.norms import write_norms

            written += write_norms(ledger, arguments.norms, overwrite=arguments.force)
        data = _data(ran, ledger, written)
        if arguments.into_record:
            data["record"] = _into_record(ledger, arguments)
    output.result(data, _text(ran, data))
    if ran.reviewed + ran.reused == 0:
        return NOTHING_DONE
    return SOME_FAILED if ran.failed or ran.waiting else 0


def _data(ran: Ran, ledger: Any, written: list[Path]) -> dict[str, Any]:
    rows = ledger.rows().values()
    return {
        "takes": ran.takes,
        "reviewed": ran.reviewed,
        "reused": ran.reused,
        "failed": ran.failed,
        "waiting": ran.waiting,
        "gone": ran.gone,
        "seconds": ran.seconds,
        "workers": ran.workers,
        "statics": dict(ran.statics),
        "errors": [{"file": row["path"], "state": row["state"], "error": row["error"]} for row in rows if row["error"]],
        "remarks": list(ran.remarks),
        "written": [str(path) for path in written],
    }


def _into_record(ledger: Any, arguments: argparse.Namespace) -> dict[str, Any]:
    from datetime import date

    from ..analysis_core.archive.into_record import add_to_record
    from ..analysis_core.record.places import place_of
    from ..analysis_core.record.store import open_store

    with open_store(place_of(arguments.database), today=date.today()) as store:
        done = add_to_record(ledger, store, arguments.folder, arguments.out, today=date.today())
    refused = [{"file": path, "why": why} for path, why in done.refused]
    return {"added": done.added, "there": done.there, "refused": refused, "nobody": done.nobody}
