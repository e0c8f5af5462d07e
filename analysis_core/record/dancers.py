"""Dancers and their consents: who is in the record, on what ground, and until when."""

from __future__ import annotations

import getpass
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Literal

from sqlalchemy import Connection, Row, delete, insert, select, update

from ..errors import OptionError, RecordError
from ..wording import keeping as words
from . import schema as tables
from .schema import PURPOSES

Assent = Literal["yes", "no", "not recorded", "not needed"]
#: How long the takes of a dancer of age are kept when nothing else is said, years. Proposed default.
KEPT_YEARS = 3
#: Characters of a dancer's name in the record. Proposed default.
_LONGEST_NAME = 80


@dataclass(frozen=True)
class Consent:
    """One consent. Days as dates; withdrawn_on None = it stands. given_by: "dancer", "guardian" or the text that was given."""

    purpose: str
    given_by: str
    assent: Assent
    given_on: date
    ends_on: date
    withdrawn_on: date | None
    note: str

    @property
    def by_guardian(self) -> bool:
        """Whether somebody else than the dancer gave it."""
        return self.given_by != "dancer"

    def why_not(self, today: date, adult_on: date | None) -> str | None:
        """Why this consent does not hold today; None when it does."""
        if self.withdrawn_on is not None and self.withdrawn_on <= today:
            return words.withdrawn_on(self.withdrawn_on)
        if self.given_on > today:
            return words.begins_on(self.given_on)
        if self.ends_on < today:
            return words.ended_on(self.ends_on)
        if self.by_guardian and adult_on is not None and adult_on <= today:
            return words.of_age_since(adult_on)
        if self.assent == "no":
            return words.CHILD_DISAGREES
        return None


@dataclass(frozen=True)
class Dancer:
    """One dancer of the record, without any take."""

    id: int
    pseudonym: str
    level: str | None
    adult_on: date | None
    retain_until: date
    consents: tuple[Consent, ...]


def day_of(text: str, what: str = "The date") -> date:
    """A date from text. Raises OptionError."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise OptionError(f"{what} {text!r} is no date. Write it as year-month-day, for example 2027-07-31.") from error


def _maybe(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def log(connection: Connection, dancer: int | None, what: str, counts: str = "") -> None:
    """Note who did what. A dancer's lines go with the dancer; a line without one must name nobody."""
    now = datetime.now(UTC).isoformat(timespec="seconds")
    try:
        who = getpass.getuser()
    except (OSError, KeyError, ImportError):
        who = words.UNKNOWN_USER
    connection.execute(insert(tables.event).values(dancer=dancer, at=now, who=who, what=what, counts=counts))


def _consent(row: Row[Any]) -> Consent:
    return Consent(
        row.purpose,
        row.given_by,
        row.assent,
        date.fromisoformat(row.given_on),
        date.fromisoformat(row.ends_on),
        _maybe(row.withdrawn_on),
        row.note or "",
    )


def find_dancer(connection: Connection, name: str) -> Dancer | None:
    """A dancer by pseudonym, letters as written; None when there is none."""
    table = tables.dancer
    row = connection.execute(select(table).where(table.c.pseudonym == name)).one_or_none()
    if row is None:
        return None
    given = connection.execute(
        select(tables.consent).where(tables.consent.c.dancer == row.id).order_by(tables.consent.c.given_on, tables.consent.c.id)
    )
    return Dancer(
        row.id,
        row.pseudonym,
        row.level,
        _maybe(row.adult_on),
        date.fromisoformat(row.retain_until),
        tuple(_consent(item) for item in given),
    )


def dancer_of(connection: Connection, name: str) -> Dancer:
    """A dancer by pseudonym. Raises RecordError when there is none; the sentence names no other dancer."""
    found = find_dancer(connection, name)
    if found is None:
        raise RecordError(f"There is no dancer {name!r} in this record. See: in-the-round record list")
    return found


def checked_name(name: str) -> str:
    """A pseudonym that can be kept. Raises OptionError."""
    text = name.strip()
    if not text or len(text) > _LONGEST_NAME or not text.isprintable():
        raise OptionError(f"{name!r} cannot be a dancer's name here: give one line of at most {_LONGEST_NAME} letters.")
    return text


def _new_dancer(connection: Connection, name: str, until: date, today: date) -> None:
    connection.execute(
        insert(tables.dancer).values(pseudonym=checked_name(name), retain_until=until.isoformat(), created_on=today.isoformat())
    )


@dataclass(frozen=True)
class Given:
    """What is said with a consent. until: its last day. assent: of the child herself."""

    until: date
    by: str = "guardian"
    purpose: str = "review"
    assent: Assent = "not recorded"
    note: str = ""
    adult_on: date | None = None
    level: str | None = None


def give_consent(connection: Connection, name: str, given: Given, today: date) -> Dancer:
    """Enter a consent; a dancer who is not in the record yet is entered, to be kept until the consent ends.

    Raises OptionError for an unknown purpose or a day that is past.
    """
    if given.purpose not in PURPOSES:
        raise OptionError(f"There is no purpose {given.purpose!r}. Give one of: {', '.join(PURPOSES)}.")
    if given.until < today:
        raise OptionError(f"A consent until {given.until} has ended already. Give a day that is still to come.")
    if find_dancer(connection, name) is None:
        _new_dancer(connection, name, given.until, today)
    dancer = dancer_of(connection, name)
    adult_on = given.adult_on or dancer.adult_on
    if given.by == "dancer" and adult_on is not None and adult_on > today:
        raise RecordError(f"{name} comes of age on {adult_on}: until then a guardian has to consent, and the dancer to agree.")
    connection.execute(
        insert(tables.consent).values(
            dancer=dancer.id,
            purpose=given.purpose,
            given_by=given.by,
            assent="not needed" if given.by == "dancer" else given.assent,
            given_on=today.isoformat(),
            ends_on=given.until.isoformat(),
            note=given.note or None,
        )
    )
    _set_kept_until(connection, dancer.id)
    changed = {"adult_on": given.adult_on.isoformat()} if given.adult_on else {}
    changed |= {"level": given.level} if given.level else {}
    if changed:
        connection.execute(update(tables.dancer).where(tables.dancer.c.id == dancer.id).values(**changed))
    log(connection, dancer.id, words.CONSENT_GIVEN, given.purpose)
    return dancer_of(connection, name)


#: Consents that allow keeping takes; the others only allow showing them.
KEEPING = ("review", "keep after leaving")


def _set_kept_until(connection: Connection, dancer: int) -> None:
    """A dancer is kept no longer than the last consent that allows it."""
    table = tables.consent
    ends = connection.execute(
        select(table.c.ends_on).where(table.c.dancer == dancer, table.c.withdrawn_on.is_(None), table.c.purpose.in_(KEEPING))
    ).scalars()
    last = max(ends, default=None)
    if last is not None:
        connection.execute(update(tables.dancer).where(tables.dancer.c.id == dancer).values(retain_until=last))


def withdraw(connection: Connection, name: str, purpose: str, today: date) -> Dancer:
    """End all consents for one purpose today. Raises RecordError when none stands."""
    dancer = dancer_of(connection, name)
    table = tables.consent
    changed = connection.execute(
        update(table)
        .where(table.c.dancer == dancer.id, table.c.purpose == purpose, table.c.withdrawn_on.is_(None))
        .values(withdrawn_on=today.isoformat())
    )
    if changed.rowcount == 0:
        raise RecordError(f"No consent of {name} for {purpose!r} stands, so none can be withdrawn.")
    log(connection, dancer.id, words.CONSENT_WITHDRAWN, purpose)
    still = any(
        item.purpose in KEEPING and item.why_not(today, dancer.adult_on) is None for item in dancer_of(connection, name).consents
    )
    if not still:
        # Nothing is deleted unasked, and nothing kept in silence: it is due from today.
        connection.execute(update(tables.dancer).where(tables.dancer.c.id == dancer.id).values(retain_until=today.isoformat()))
    return dancer_of(connection, name)


def standing_consent(dancer: Dancer, purpose: str, today: date) -> Consent:
    """The consent that allows something today. Raises RecordError that says why there is none and what to do."""
    of_purpose = [item for item in dancer.consents if item.purpose == purpose]
    reasons = [item.why_not(today, dancer.adult_on) for item in of_purpose]
    for item, reason in zip(of_purpose, reasons, strict=True):
        if reason is None:
            return item
    why = words.none_for(purpose) if not reasons else str(reasons[-1])
    raise RecordError(
        f"No consent of {dancer.pseudonym} holds today: {why}. Enter it with: in-the-round record consent {dancer.pseudonym} "
        "--until DATE --by guardian --assent yes"
    )


def enter_adult(connection: Connection, name: str, today: date, until: date | None) -> Dancer:
    """Enter a dancer of age who has agreed herself; what stands already is not changed. Raises RecordError for a minor."""
    dancer = find_dancer(connection, name)
    if dancer is not None and any(
        item.purpose == "review" and item.why_not(today, dancer.adult_on) is None for item in dancer.consents
    ):
        return dancer
    last = until or _years_on(today, KEPT_YEARS)
    return give_consent(connection, name, Given(until=last, by="dancer", note=words.OF_AGE_AGREED), today)


def _years_on(day: date, years: int) -> date:
    try:
        return day.replace(year=day.year + years)
    except ValueError:  # 29 February
        return day.replace(year=day.year + years, day=28)


def remove_dancer(connection: Connection, dancer: int) -> None:
    """Delete a dancer's rows, all of them."""
    connection.execute(delete(tables.dancer).where(tables.dancer.c.id == dancer))
