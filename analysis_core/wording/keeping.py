"""Sentences of the dancers' record: who is in it, on what consent and until when; what was added, handed out and deleted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from . import numbers

#: Files and folders listed for people; the rest is counted.
_LISTED = 12

#: Why a consent does not hold.
CHILD_DISAGREES = "the child did not agree"
NO_CONSENT = "there is none"
#: Notes of the record's own log and of consents.
UNKNOWN_USER = "unknown user"
OF_AGE_AGREED = "of age, has agreed"
CONSENT_GIVEN, CONSENT_WITHDRAWN = "consent given", "consent withdrawn"
DELETION_BEGUN = "deletion begun"
DELETED_WITH_ANOTHER = "a file was deleted because another dancer in it was"
#: What stays after a deletion, and what hinders one.
SERVER_KEEPS = (
    "The server's own log, its replicas and its archives keep what was deleted for a while: the administrator has to switch to a "
    "new log, remove the old ones, and treat backups of the server in the same way."
)
STILL_OPEN = (
    "Another program has the record open, and its log keeps traces until that is closed. Close it, then: in-the-round record due"
)
NOT_OURS = "Blocks that a disk keeps after deletion, paper, and what was handed out lie beyond this program."
#: Asked at a terminal.
TYPE_THE_NAME = "Type the dancer's name to delete all of it: "
ASK_PASSPHRASE = "Passphrase of the names book: "
#: Said before anything is done.
DELETION_FINISHED = "A deletion that had been cut off was finished."
PASSWORD_SEEN = "A password in the address can be read by others on this machine: keep it in a file that PGPASSFILE names."
#: What is handed out to a dancer.
NOTHING_WITHHELD = "Nothing was withheld."
NO_TERM_YET = "Its takes name no term: add them with --term."
#: Beside a take that was added.
ASK_THE_CHILD = "the child's own agreement is not recorded: ask, and enter it with: record consent … --assent yes"
NOTHING_INSIDE = "a review holds no values inside the bands, so that progress cannot be told: review the take again with --force"
KEPT_UNTIL, COMES_OF_AGE = "kept until", "comes of age and has to be asked"
_ASSENT = {
    "yes": ", the child agrees",
    "no": ", the child does not agree",
    "not recorded": ", the child's agreement is not recorded",
}


def withdrawn_on(day: date) -> str:
    """A consent that was taken back."""
    return f"it was withdrawn on {day}"


def begins_on(day: date) -> str:
    """A consent that does not hold yet."""
    return f"it begins on {day}"


def ended_on(day: date) -> str:
    """A consent that is over."""
    return f"it ended on {day}"


def of_age_since(day: date) -> str:
    """A guardian's consent for a dancer who is no child any more."""
    return f"the dancer came of age on {day} and has to be asked herself"


def none_for(purpose: str) -> str:
    """A purpose that nobody agreed to."""
    return f"there is none for {purpose!r}"


def consent_ends(purpose: str) -> str:
    """A consent that is due."""
    return f"consent for {purpose} ends"


def consent_was_withdrawn(purpose: str) -> str:
    """A consent that was taken back, and what was made with it is still there."""
    return f"consent for {purpose} was withdrawn"


def ask_again(name: str, *, purpose: str | None = None, by: str | None = None) -> str:
    """The command that enters a consent anew."""
    more = f" --purpose '{purpose}'" if purpose else f" --by {by}" if by else ""
    return f"in-the-round record consent {name} --until DATE{more}"


def delete_command(name: str) -> str:
    """The command that deletes a dancer."""
    return f"in-the-round record delete {name}"


def delete_or_ask(name: str) -> str:
    """What to do when the time is over for which a dancer is kept."""
    return f"{delete_command(name)}, or {ask_again(name)}"


def delete_by_hand(paths: Sequence[str]) -> str:
    """Files that a consent allowed which is no more."""
    return f"delete by hand: {', '.join(paths)}"


def rows_of_archive(ledger: Path) -> str:
    """An archive that still knows a dancer's takes."""
    return f"{ledger} (rows of an archive: move it away with its tables, then run archive again)"


def recording(path: str | None, file: str) -> str:
    """A recording that stays where it is. path: None where that is not known."""
    return f"{path} (the recording)" if path else f"{file} (the recording; where it lies is not known here)"


def moved_away(path: str) -> str:
    """A file that is no longer where it was made."""
    return f"{path} (moved or handed out)"


def unreadable(path: Path) -> str:
    """A file in which nothing can be looked for."""
    return f"{path} (cannot be read)"


def files(count: int) -> str:
    """How many files, for the log."""
    return f"{count} files"


def takes(count: int) -> str:
    """How many takes, for the log."""
    return f"{count} takes"


def files_made_deleted(purpose: str) -> str:
    """That a consent's files went with it."""
    return f"files made for {purpose} deleted"


def shows_another(name: str) -> str:
    """A file that is not handed out."""
    return f"{name}: it shows another dancer, too"


def not_there(name: str) -> str:
    """A file that is gone."""
    return f"{name}: it is not where it was made any more"


def letter(name: str, day: str) -> str:
    """What lies on top of all that is handed out to a dancer."""
    return f"""\
This is everything that the record “in the round” of your studio holds of {name}, as of {day}.

record.json      all of it in one file
tables/          the same as tables, which any table program opens; datapackage.json says what each column is
files/           what the program made: reviews, joint angles (as tables, too), films and pages that show nobody else
withheld.txt     what was not put in, and why

{name} is a pseudonym. It does not make the recordings anonymous: people can be recognised by how they move.
Every measured value has a ±; a value is a help for the next class, not a medical finding.
You may ask the studio to correct what is wrong, to delete all of this, or to take back a consent at any time.
"""


def terms_there(terms: Sequence[str]) -> str:
    """The terms of which a dancer has takes."""
    return f"It has: {', '.join(terms)}." if terms else NO_TERM_YET


def name_stands_in(place: str) -> str:
    """A dancer's real name in a file name or a label."""
    return f"a dancer's name stands in {place!r}: name the file or the markers otherwise"


def added(data: Mapping[str, Any]) -> str:
    """Takes that were added, each with its outcome, and what should be said beside them."""
    lines = [f"{take['file']}: {take['outcome']} ({data['dancer']}, {data['day']})" for take in data["takes"]]
    return "\n".join([*lines, *(f"note: {remark}" for remark in data["remarks"])])


def listed(data: Mapping[str, Any]) -> str:
    """The list of dancers."""
    rows = data["dancers"]
    if not rows:
        return f"{data['database']}: nobody is in this record yet."
    width = max(len(row["dancer"]) for row in rows)
    lines = [f"{data['database']}: {numbers.counted(len(rows), 'dancer', 'dancers')}"]
    for row in rows:
        span = f"{row['first']} to {row['last']}" if row["takes"] else "no take yet"
        consent = f"consent until {row['consent_until']}" if row["consent_until"] else f"NO CONSENT: {row['consent_problem']}"
        name = f"  ({row['name']})" if row.get("name") else ""
        lines.append(
            f"  {row['dancer'].ljust(width)}  {row['takes']:4d} takes, {span}; {consent}; kept until {row['keep_until']}{name}"
        )
    return "\n".join(lines)


def _consent_line(item: Mapping[str, Any]) -> str:
    state = "holds" if item["holds"] else f"does not hold: {item['why_not']}"
    note = f" ({item['note']})" if item["note"] else ""
    return (
        f"  consent for {item['purpose']} by {item['by']}{_ASSENT.get(item['assent'], '')}, until {item['until']}; {state}{note}"
    )


def shown(data: Mapping[str, Any]) -> str:
    """One dancer with consents and takes."""
    lines = [f"{data['dancer']}: {numbers.counted(len(data['takes']), 'take', 'takes')}, kept until {data['keep_until']}"]
    lines += [_consent_line(item) for item in data["consents"]]
    for take in data["takes"]:
        phrase = f" {take['phrase']}," if take["phrase"] else ""
        lines.append(
            f"  {take['day']}  {take['file']},{phrase} {take['verdict']}; {take['outside']} of {take['measured']} measures "
            f"outside their band, {take['decided']} decided; {take['folder']}"
        )
    return "\n".join(lines)


def consented(data: Mapping[str, Any], purpose: str, *, withdrawn: bool) -> str:
    """A consent that was entered or taken back."""
    lines = [
        f"{data['dancer']}: consent for {purpose} {'withdrawn' if withdrawn else 'entered'}; kept until {data['keep_until']}"
    ]
    lines += [_consent_line(item) for item in data["consents"] if item["purpose"] == purpose]
    lines += [f"  deleted, since it was made for {purpose} alone: {path}" for path in data["deleted"]]
    if withdrawn:
        lines.append(f"To delete all that is held: {delete_command(data['dancer'])}")
    return "\n".join(lines)


def due(data: Mapping[str, Any], days: int) -> str:
    """What ends within some days."""
    if not data["due"]:
        return f"Nothing ends within {days} days."
    lines = []
    for item in data["due"]:
        lines.append(f"{item['on']}{'  PAST' if item['late'] else ''}  {item['pseudonym']}: {item['what']}")
        lines.append(f"            {item['do']}")
    return "\n".join(lines)


def exported(data: Mapping[str, Any]) -> str:
    """What was handed out."""
    lines = [f"{data['file']}: {data['rows']} rows and {data['files']} files of {data['dancer']}"]
    return "\n".join([*lines, *(f"  withheld: {line}" for line in data["withheld"])])


def going(name: str, takes: int, paths: Sequence[Path], with_others: Sequence[Path], elsewhere: Sequence[str]) -> str:
    """What deleting a dancer would take away. with_others: files of ``paths`` that show others, too; elsewhere: what stays."""
    lines = [
        f"{name}: {numbers.counted(takes, 'take', 'takes')} and {numbers.counted(len(paths), 'file', 'files')} would be deleted"
    ]
    lines += [f"  {path}" for path in paths[:_LISTED]]
    if len(paths) > _LISTED:
        lines.append(f"  and {len(paths) - _LISTED} more")
    lines += [f"  shows others, too, and goes as a whole: {path}" for path in with_others]
    return "\n".join([*lines, *(f"  lies elsewhere and stays: {line}" for line in elsewhere)])


def deleted(data: Mapping[str, Any]) -> str:
    """What was deleted, and whether anything is left."""
    takes, gone = numbers.counted(data["takes"], "take", "takes"), numbers.counted(data["files"], "file", "files")
    lines = [f"Deleted: {takes}, {gone}. Certificate {data['certificate']}"]
    searched = f"{numbers.megabytes(data['bytes_searched'])} searched for {data['patterns']} traces"
    lines.append(f"  {searched}: none left" if data["clean"] else f"  {searched}: STILL FOUND, look at these:")
    lines += [f"  {path}" for path in data["found_in"]]
    lines += [f"  lies elsewhere, delete it yourself: {line}" for line in data["elsewhere"]]
    return "\n".join([*lines, *(f"  {remark}" for remark in data["remarks"])])


def noted(new: int, names: Sequence[str]) -> str:
    """Films and pages that go with a dancer."""
    return f"{new} files noted; they go when one of {', '.join(names)} is deleted."


def copied(path: Path) -> str:
    """A safety copy."""
    return f"{path}: a whole copy. Never copy the database file itself while it is in use."


def repeatability(data: Mapping[str, Any]) -> str:
    """How well measures repeat: error and smallest change in the measure's own unit."""
    if not data["measures"]:
        return (
            "No measure was shown twice within two weeks by ten dancers yet: until then the ± of each take is all that is known."
        )
    return "\n".join(
        f"{item['title']}: {numbers.number(item['smallest_change'], item['unit'])} is the smallest change that shows "
        f"(standard error {numbers.number(item['standard_error'], item['unit'])}, {item['dancers']} dancers)"
        for item in data["measures"]
    )


def mastered(data: Mapping[str, Any]) -> str:
    """What holds, ladder by ladder."""
    return "\n".join(f"{data['dancer']}: {ladder} holds up to rung {rung}" for ladder, rung in data["mastered"].items())


def goals(data: Mapping[str, Any]) -> str:
    """The goals of a dancer."""
    if not data["goals"]:
        return f"{data['dancer']} has no goal now."
    return "\n".join(
        f"{data['dancer']}: {item['fault']} {item['side']}".rstrip() + f", since {item['set_on']}" for item in data["goals"]
    )
