"""The tables of the record, alike on an embedded database and on a server.

Dates are ISO text (YYYY-MM-DD) with a check, whole numbers stand for yes and no, and every row of a dancer hangs on
``dancer.id``, directly or through ``take``, so that deleting the dancer deletes all of them.
"""

from __future__ import annotations

from sqlalchemy import REAL, CheckConstraint, Column, Float, ForeignKey, Integer, MetaData, Table, Text, UniqueConstraint

#: What a consent may be for. ``review`` is needed to add a take; nothing else follows from it.
PURPOSES = ("review", "share with dancer", "show in class", "keep after leaving", "publish")

_NAMES = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
metadata = MetaData(naming_convention=_NAMES)

#: A plain REAL has 32 bits on a server; SQLite's strict tables know no other name for 64.
NUMBER = Float(53).with_variant(REAL(), "sqlite")


def _key() -> Column[int]:
    return Column("id", Integer, primary_key=True)


def _day(name: str, *, required: bool = False) -> Column[str]:
    return Column(name, Text, nullable=not required)


def _date_check(name: str) -> CheckConstraint:
    return CheckConstraint(f"{name} IS NULL OR {name} LIKE '____-__-__'", name=f"{name}_is_a_date")


def _belongs(to: str, *, required: bool = True) -> Column[int]:
    return Column(to, Integer, ForeignKey(f"{to}.id", ondelete="CASCADE"), nullable=not required, index=True)


about = Table(
    "about",
    metadata,
    Column("key", Text, primary_key=True),
    Column("value", Text, nullable=False),
    sqlite_strict=True,
)
dancer = Table(
    "dancer",
    metadata,
    _key(),
    Column("pseudonym", Text, nullable=False, unique=True),
    Column("level", Text),
    _day("adult_on"),
    _day("retain_until", required=True),
    _day("created_on", required=True),
    _date_check("adult_on"),
    _date_check("retain_until"),
    sqlite_strict=True,
)
consent = Table(
    "consent",
    metadata,
    _key(),
    _belongs("dancer"),
    Column("purpose", Text, nullable=False),
    Column("given_by", Text, nullable=False),
    Column("assent", Text, nullable=False),
    _day("given_on", required=True),
    _day("ends_on", required=True),
    _day("withdrawn_on"),
    Column("note", Text),
    CheckConstraint("assent IN ('yes', 'no', 'not recorded', 'not needed')", name="assent_is_known"),
    _date_check("given_on"),
    _date_check("ends_on"),
    _date_check("withdrawn_on"),
    sqlite_strict=True,
)
session = Table(
    "session",
    metadata,
    _key(),
    _day("day", required=True),
    Column("room", Text, nullable=False, server_default=""),
    Column("term", Text, nullable=False, server_default=""),
    UniqueConstraint("day", "room", "term"),
    _date_check("day"),
    sqlite_strict=True,
)
take = Table(
    "take",
    metadata,
    _key(),
    _belongs("dancer"),
    Column("session", Integer, ForeignKey("session.id"), nullable=False, index=True),
    Column("sha256", Text, nullable=False),
    Column("file", Text, nullable=False),
    Column("phrase", Text, nullable=False, server_default=""),
    Column("placement", Text),
    Column("kind", Text, nullable=False),
    Column("rate_hz", NUMBER),
    Column("frames", Integer),
    Column("duration_s", NUMBER),
    Column("verdict", Text, nullable=False),
    Column("recording", Text),
    UniqueConstraint("dancer", "sha256"),
    sqlite_strict=True,
)
review = Table(
    "review",
    metadata,
    _key(),
    _belongs("take"),
    Column("sha256", Text, nullable=False),
    Column("measures_version", Text, nullable=False),
    Column("level", Text, nullable=False),
    Column("folder", Text, nullable=False),
    _day("made_on", required=True),
    UniqueConstraint("take", "measures_version"),
    sqlite_strict=True,
)
measured = Table(
    "measured",
    metadata,
    _key(),
    _belongs("review"),
    Column("fault", Text, nullable=False),
    Column("measure", Text, nullable=False),
    Column("side", Text, nullable=False, server_default=""),
    Column("step", Text, nullable=False, server_default=""),
    Column("n", Integer, nullable=False),
    Column("value", NUMBER),
    Column("worst", NUMBER),
    Column("sd", NUMBER),
    Column("unit", Text, nullable=False),
    Column("plus_minus", NUMBER),
    Column("plus_minus_within_take", NUMBER),
    Column("low", NUMBER),
    Column("high", NUMBER),
    Column("outside", Integer, nullable=False),
    Column("as_fault", Integer, nullable=False, server_default="0"),
    Column("cannot_tell", Text),
    sqlite_strict=True,
)
decision = Table(
    "decision",
    metadata,
    _key(),
    _belongs("take"),
    Column("fault", Text, nullable=False),
    Column("side", Text, nullable=False, server_default=""),
    Column("decision", Text, nullable=False),
    Column("words", Text, nullable=False, server_default=""),
    Column("note", Text, nullable=False, server_default=""),
    _day("day", required=True),
    sqlite_strict=True,
)
goal = Table(
    "goal",
    metadata,
    _key(),
    _belongs("dancer"),
    Column("fault", Text, nullable=False),
    Column("side", Text, nullable=False, server_default=""),
    _day("set_on", required=True),
    _day("ended_on"),
    Column("outcome", Text),
    sqlite_strict=True,
)
mastered = Table(
    "mastered",
    metadata,
    _key(),
    _belongs("dancer"),
    Column("ladder", Text, nullable=False),
    Column("rung", Integer, nullable=False),
    _day("noted_on", required=True),
    _date_check("noted_on"),
    sqlite_strict=True,
)
lesson = Table(
    "lesson",
    metadata,
    _key(),
    _belongs("dancer"),
    _day("day", required=True),
    Column("jumps", Integer, nullable=False),
    UniqueConstraint("dancer", "day"),
    _date_check("day"),
    sqlite_strict=True,
)
artefact = Table(
    "artefact",
    metadata,
    _key(),
    Column("path", Text, nullable=False, unique=True),
    Column("kind", Text, nullable=False),
    Column("sha256", Text),
    Column("purpose", Text),
    _day("made_on", required=True),
    sqlite_strict=True,
)
shown = Table(
    "shown",
    metadata,
    Column("artefact", Integer, ForeignKey("artefact.id", ondelete="CASCADE"), primary_key=True),
    Column("dancer", Integer, ForeignKey("dancer.id", ondelete="CASCADE"), primary_key=True, index=True),
    sqlite_strict=True,
)
event = Table(
    "event",
    metadata,
    _key(),
    _belongs("dancer", required=False),
    Column("at", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("counts", Text, nullable=False, server_default=""),
    sqlite_strict=True,
)
erased = Table(
    "erased",
    metadata,
    Column("certificate", Text, primary_key=True),
    _day("day", required=True),
    Column("reason", Text, nullable=False),
    Column("takes", Integer, nullable=False),
    Column("files", Integer, nullable=False),
    sqlite_strict=True,
)
tombstone = Table(
    "tombstone",
    metadata,
    Column("mark", Text, primary_key=True),
    _day("until", required=True),
    sqlite_strict=True,
)
