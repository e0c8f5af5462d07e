"""What ``record`` gives to scripts: its objects."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from ..analysis_core.wording import keeping as words

if TYPE_CHECKING:
    from ..analysis_core.record.dancers import Consent, Dancer
    from ..analysis_core.record.deletion import Deleted
    from ..analysis_core.record.folders import Reviewed
    from ..analysis_core.record.names import NamesBook
    from ..analysis_core.record.overview import Due, Line
    from ..analysis_core.record.repeatability import Repeatability
    from ..analysis_core.record.series import Report
    from ..analysis_core.record.takes import TakeRow


def _text(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def add_remarks(consent: Consent, reviews: Sequence[Reviewed], book: NamesBook | None) -> list[str]:
    """What should be said beside a take that was added."""
    from ..analysis_core.record.folders import NO_VERSION

    remarks = []
    if consent.by_guardian and consent.assent == "not recorded":
        remarks.append(words.ASK_THE_CHILD)
    if any(reviewed.measures_version == NO_VERSION or not reviewed.measured for reviewed in reviews):
        remarks.append(words.NOTHING_INSIDE)
    for name in () if book is None else book.names.values():
        for reviewed in reviews:
            where = [word for word in (str(reviewed.folder), reviewed.take.file) if name.casefold() in word.casefold()]
            where += [label for label in reviewed.labels if name.casefold() in label.casefold()]
            if where:
                remarks.append(words.name_stands_in(where[0]))
    return remarks


def line_data(line: Line, book: NamesBook | None) -> dict[str, Any]:
    """One dancer of the list."""
    dancer = line.dancer
    return {
        "dancer": dancer.pseudonym,
        **({} if book is None else {"name": book.names.get(dancer.pseudonym)}),
        "level": dancer.level,
        "takes": line.takes,
        "first": _text(line.first),
        "last": _text(line.last),
        "consent_until": _text(line.consent_until),
        "consent_problem": line.why or None,
        "keep_until": dancer.retain_until.isoformat(),
    }


def dancer_data(dancer: Dancer, takes: Sequence[TakeRow], today: date) -> dict[str, Any]:
    """One dancer with consents and takes."""
    return {
        "dancer": dancer.pseudonym,
        "level": dancer.level,
        "adult_on": _text(dancer.adult_on),
        "keep_until": dancer.retain_until.isoformat(),
        "consents": [
            {
                "purpose": item.purpose,
                "by": item.given_by,
                "assent": item.assent,
                "given_on": item.given_on.isoformat(),
                "until": item.ends_on.isoformat(),
                "withdrawn_on": _text(item.withdrawn_on),
                "note": item.note,
                "holds": item.why_not(today, dancer.adult_on) is None,
                "why_not": item.why_not(today, dancer.adult_on),
            }
            for item in dancer.consents
        ],
        "takes": [{**asdict(take), "day": take.day.isoformat()} for take in takes],
    }


def due_data(item: Due) -> dict[str, Any]:
    """One thing that is due."""
    return {**asdict(item), "on": item.on.isoformat()}


def deleted_data(done: Deleted) -> dict[str, Any]:
    """What was deleted; names nobody."""
    return {
        "deleted": True,
        "clean": done.clean,
        "certificate": done.certificate,
        "takes": done.takes,
        "files": done.files,
        "copies_made_anew": done.copies,
        "bytes_searched": done.proof.searched,
        "patterns": done.proof.patterns,
        "found_in": list(done.proof.hits),
        "elsewhere": list(done.elsewhere),
        "remarks": list(done.remarks),
    }


def repeatability_data(item: Repeatability) -> dict[str, Any]:
    """How well one measure repeats."""
    found = item.found
    return {
        "fault": item.fault, "side": item.side or None, "title": item.title, "unit": item.unit, "dancers": found.dancers,
        "standard_error": found.sem, "smallest_change": found.smallest_change,
    }  # fmt: skip


def progress_data(name: str, report: Report, charts: Sequence[str]) -> dict[str, Any]:
    """Progress of a dancer."""
    from ..analysis_core.record.progress import as_json

    return {
        "dancer": name,
        "measures_version": report.measures_version,
        "review_again": list(report.review_again),
        "series": [as_json(series) for series in report.series],
        "charts": list(charts),
    }
