"""What ``record`` says: the objects for scripts, and the same for people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from ..analysis_core.wording.numbers import megabytes, number

if TYPE_CHECKING:
    from ..analysis_core.record.dancers import Consent, Dancer
    from ..analysis_core.record.deletion import Deleted, Going
    from ..analysis_core.record.folders import Reviewed
    from ..analysis_core.record.names import NamesBook
    from ..analysis_core.record.overview import Due, Line
    from ..analysis_core.record.repeatability import Repeatability
    from ..analysis_core.record.series import Report
    from ..analysis_core.record.takes import TakeRow

#: Files and folders listed for people; the rest is counted.
_LISTED = 12


def _text(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def add_remarks(consent: Consent, reviews: Sequence[Reviewed], book: NamesBook | None) -> list[str]:
    """What should be said beside a take that was added."""
    from ..analysis_core.record.folders import NO_VERSION

    remarks = []
    if consent.by_guardian and consent.assent == "not recorded":
        remarks.append("the child's own agreement is not recorded: ask, and enter it with: record consent … --assent yes")
    if any(reviewed.measures_version == NO_VERSION or not reviewed.data.get("measured") for reviewed in reviews):
        remarks.append(
            "a review holds no values inside the bands, so that progress cannot be told: review the take again with --force"
        )
    for name in () if book is None else book.names.values():
        for reviewed in reviews:
            where = [word for word in (str(reviewed.folder), str(reviewed.take["file"])) if name.casefold() in word.casefold()]
            where += [
                str(marker["label"])
                for marker in reviewed.data["quality"].get("markers", ())
                if name.casefold() in str(marker.get("label", "")).casefold()
            ]
            if where:
                remarks.append(f"a dancer's name stands in {where[0]!r}: name the file or the markers otherwise")
    return remarks


def added(data: Mapping[str, Any]) -> str:
    """For people."""
    lines = [f"{take['file']}: {take['outcome']} ({data['dancer']}, {data['day']})" for take in data["takes"]]
    return "\n".join([*lines, *(f"note: {remark}" for remark in data["remarks"])])


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


def listed(data: Mapping[str, Any]) -> str:
    """For people."""
    rows = data["dancers"]
    if not rows:
        return f"{data['database']}: nobody is in this record yet."
    width = max(len(row["dancer"]) for row in rows)
    lines = [f"{data['database']}: {len(rows)} dancers"]
    for row in rows:
        span = f"{row['first']} to {row['last']}" if row["takes"] else "no take yet"
        consent = f"consent until {row['consent_until']}" if row["consent_until"] else f"NO CONSENT: {row['consent_problem']}"
        name = f"  ({row['name']})" if row.get("name") else ""
        lines.append(
            f"  {row['dancer'].ljust(width)}  {row['takes']:4d} takes, {span}; {consent}; kept until {row['keep_until']}{name}"
        )
    return "\n".join(lines)


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


def _consent_line(item: Mapping[str, Any]) -> str:
    state = "holds" if item["holds"] else f"does not hold: {item['why_not']}"
    assent = {
        "yes": ", the child agrees",
        "no": ", the child does not agree",
        "not recorded": ", the child's agreement is not recorded",
    }
    note = f" ({item['note']})" if item["note"] else ""
    return (
        f"  consent for {item['purpose']} by {item['by']}{assent.get(item['assent'], '')}, until {item['until']}; {state}{note}"
    )


def shown(data: Mapping[str, Any]) -> str:
    """For people."""
    lines = [f"{data['dancer']}: {len(data['takes'])} takes, kept until {data['keep_until']}"]
    lines += [_consent_line(item) for item in data["consents"]]
    for take in data["takes"]:
        phrase = f" {take['phrase']}," if take["phrase"] else ""
        lines.append(
            f"  {take['day']}  {take['file']},{phrase} {take['verdict']}; {take['outside']} of {take['measured']} measures "
            f"outside their band, {take['decided']} decided; {take['folder']}"
        )
    return "\n".join(lines)


def consented(data: Mapping[str, Any], purpose: str, *, withdrawn: bool) -> str:
    """For people."""
    lines = [
        f"{data['dancer']}: consent for {purpose} {'withdrawn' if withdrawn else 'entered'}; kept until {data['keep_until']}"
    ]
    lines += [_consent_line(item) for item in data["consents"] if item["purpose"] == purpose]
    lines += [f"  deleted, since it was made for {purpose} alone: {path}" for path in data["deleted"]]
    lines += [f"  deleted, since it was made for {purpose} alone: {path}" for path in data["deleted"]]
    if withdrawn:
        lines.append(f"To delete all that is held: in-the-round record delete {data['dancer']}")
    return "\n".join(lines)


def due_data(item: Due) -> dict[str, Any]:
    """One thing that is due."""
    return {**asdict(item), "on": item.on.isoformat()}


def due(data: Mapping[str, Any], days: int) -> str:
    """For people."""
    if not data["due"]:
        return f"Nothing ends within {days} days."
    lines = []
    for item in data["due"]:
        lines.append(f"{item['on']}{'  PAST' if item['late'] else ''}  {item['pseudonym']}: {item['what']}")
        lines.append(f"            {item['do']}")
    return "\n".join(lines)


def exported(data: Mapping[str, Any]) -> str:
    """For people."""
    lines = [f"{data['file']}: {data['rows']} rows and {data['files']} files of {data['dancer']}"]
    return "\n".join([*lines, *(f"  withheld: {line}" for line in data["withheld"])])


def going(what: Going) -> str:
    """What a deletion would take away, for people."""
    lines = [f"{what.pseudonym}: {what.takes} takes and {len(what.files)} files would be deleted"]
    lines += [f"  {path}" for path in what.files[:_LISTED]]
    if len(what.files) > _LISTED:
        lines.append(f"  and {len(what.files) - _LISTED} more")
    lines += [f"  shows others, too, and goes as a whole: {path}" for path in what.with_others]
    return "\n".join([*lines, *(f"  lies elsewhere and stays: {line}" for line in what.elsewhere)])


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


def deleted(data: Mapping[str, Any]) -> str:
    """For people."""
    lines = [f"Deleted: {data['takes']} takes, {data['files']} files. Certificate {data['certificate']}"]
    searched = f"{megabytes(data['bytes_searched'])} searched for {data['patterns']} traces"
    lines.append(f"  {searched}: none left" if data["clean"] else f"  {searched}: STILL FOUND, look at these:")
    lines += [f"  {path}" for path in data["found_in"]]
    lines += [f"  lies elsewhere, delete it yourself: {line}" for line in data["elsewhere"]]
    return "\n".join([*lines, *(f"  {remark}" for remark in data["remarks"])])


def repeatability_data(item: Repeatability) -> dict[str, Any]:
    """How well one measure repeats."""
    found = item.found
    return {
        "fault": item.fault, "side": item.side or None, "title": item.title, "unit": item.unit, "dancers": found.dancers,
        "standard_error": found.sem, "smallest_change": found.smallest_change,
    }  # fmt: skip


def repeatability(data: Mapping[str, Any]) -> str:
    """For people: error and smallest change in the measure's own unit."""
    if not data["measures"]:
        return (
            "No measure was shown twice within two weeks by ten dancers yet: until then the ± of each take is all that is known."
        )
    return "\n".join(
        f"{item['title']}: {number(item['smallest_change'], item['unit'])} is the smallest change that shows "
        f"(standard error {number(item['standard_error'], item['unit'])}, {item['dancers']} dancers)"
        for item in data["measures"]
    )


def mastered(data: Mapping[str, Any]) -> str:
    """What holds, ladder by ladder."""
    return "\n".join(f"{data['dancer']}: {ladder} holds up to rung {rung}" for ladder, rung in data["mastered"].items())


def goals(data: Mapping[str, Any]) -> str:
    """For people."""
    if not data["goals"]:
        return f"{data['dancer']} has no goal now."
    return "\n".join(
        f"{data['dancer']}: {item['fault']} {item['side']}".rstrip() + f", since {item['set_on']}" for item in data["goals"]
    )


def progress_data(name: str, report: Report, charts: Sequence[str]) -> dict[str, Any]:
    """Progress of a dancer."""
    return {
        "dancer": name,
        "measures_version": report.measures_version,
        "review_again": list(report.review_again),
        "series": [series.as_json() for series in report.series],
        "charts": list(charts),
    }


def progress(data: Mapping[str, Any]) -> str:
    """For people: what changed first, then what cannot be claimed."""
    lines = [f"{data['dancer']}: {len(data['series'])} corrections that were measured"]
    for item in data["series"]:
        lines.append(f"  {item['title']}: {item['says']}")
        lines += [f"      {remark}" for remark in item["remarks"]]
    if data["review_again"]:
        lines.append(f"not compared, since other measures were used; review these again: {', '.join(data['review_again'])}")
    return "\n".join([*lines, *(f"written: {path}" for path in data["charts"])])
