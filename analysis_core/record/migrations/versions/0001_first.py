"""The tables as they were first."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def _about() -> None:
    op.create_table(
        "about",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_about")),
        sqlite_strict=True,
    )


def _artefact() -> None:
    op.create_table(
        "artefact",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=True),
        sa.Column("purpose", sa.Text(), nullable=True),
        sa.Column("made_on", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_artefact")),
        sa.UniqueConstraint("path", name=op.f("uq_artefact_path")),
        sqlite_strict=True,
    )


def _dancer() -> None:
    op.create_table(
        "dancer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pseudonym", sa.Text(), nullable=False),
        sa.Column("level", sa.Text(), nullable=True),
        sa.Column("adult_on", sa.Text(), nullable=True),
        sa.Column("retain_until", sa.Text(), nullable=False),
        sa.Column("created_on", sa.Text(), nullable=False),
        sa.CheckConstraint("adult_on IS NULL OR adult_on LIKE '____-__-__'", name=op.f("ck_dancer_adult_on_is_a_date")),
        sa.CheckConstraint(
            "retain_until IS NULL OR retain_until LIKE '____-__-__'", name=op.f("ck_dancer_retain_until_is_a_date")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dancer")),
        sa.UniqueConstraint("pseudonym", name=op.f("uq_dancer_pseudonym")),
        sqlite_strict=True,
    )


def _erased() -> None:
    op.create_table(
        "erased",
        sa.Column("certificate", sa.Text(), nullable=False),
        sa.Column("day", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("takes", sa.Integer(), nullable=False),
        sa.Column("files", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("certificate", name=op.f("pk_erased")),
        sqlite_strict=True,
    )


def _session() -> None:
    op.create_table(
        "session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), server_default="", nullable=False),
        sa.Column("term", sa.Text(), server_default="", nullable=False),
        sa.CheckConstraint("day IS NULL OR day LIKE '____-__-__'", name=op.f("ck_session_day_is_a_date")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_session")),
        sa.UniqueConstraint("day", "room", "term", name=op.f("uq_session_day_room_term")),
        sqlite_strict=True,
    )


def _tombstone() -> None:
    op.create_table(
        "tombstone",
        sa.Column("mark", sa.Text(), nullable=False),
        sa.Column("until", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("mark", name=op.f("pk_tombstone")),
        sqlite_strict=True,
    )


def _consent() -> None:
    op.create_table(
        "consent",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("dancer", sa.Integer(), nullable=False),
        sa.Column("purpose", sa.Text(), nullable=False),
        sa.Column("given_by", sa.Text(), nullable=False),
        sa.Column("assent", sa.Text(), nullable=False),
        sa.Column("given_on", sa.Text(), nullable=False),
        sa.Column("ends_on", sa.Text(), nullable=False),
        sa.Column("withdrawn_on", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.CheckConstraint("assent IN ('yes', 'no', 'not recorded', 'not needed')", name=op.f("ck_consent_assent_is_known")),
        sa.CheckConstraint("ends_on IS NULL OR ends_on LIKE '____-__-__'", name=op.f("ck_consent_ends_on_is_a_date")),
        sa.CheckConstraint("given_on IS NULL OR given_on LIKE '____-__-__'", name=op.f("ck_consent_given_on_is_a_date")),
        sa.CheckConstraint(
            "withdrawn_on IS NULL OR withdrawn_on LIKE '____-__-__'", name=op.f("ck_consent_withdrawn_on_is_a_date")
        ),
        sa.ForeignKeyConstraint(["dancer"], ["dancer.id"], name=op.f("fk_consent_dancer_dancer"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consent")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_consent_dancer"), "consent", ["dancer"], unique=False)


def _event() -> None:
    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("dancer", sa.Integer(), nullable=True),
        sa.Column("at", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("counts", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(["dancer"], ["dancer.id"], name=op.f("fk_event_dancer_dancer"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_event_dancer"), "event", ["dancer"], unique=False)


def _goal() -> None:
    op.create_table(
        "goal",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("dancer", sa.Integer(), nullable=False),
        sa.Column("fault", sa.Text(), nullable=False),
        sa.Column("side", sa.Text(), server_default="", nullable=False),
        sa.Column("set_on", sa.Text(), nullable=False),
        sa.Column("ended_on", sa.Text(), nullable=True),
        sa.Column("outcome", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["dancer"], ["dancer.id"], name=op.f("fk_goal_dancer_dancer"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_goal")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_goal_dancer"), "goal", ["dancer"], unique=False)


def _shown() -> None:
    op.create_table(
        "shown",
        sa.Column("artefact", sa.Integer(), nullable=False),
        sa.Column("dancer", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["artefact"], ["artefact.id"], name=op.f("fk_shown_artefact_artefact"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["dancer"], ["dancer.id"], name=op.f("fk_shown_dancer_dancer"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("artefact", "dancer", name=op.f("pk_shown")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_shown_dancer"), "shown", ["dancer"], unique=False)


def _take() -> None:
    op.create_table(
        "take",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("dancer", sa.Integer(), nullable=False),
        sa.Column("session", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("phrase", sa.Text(), server_default="", nullable=False),
        sa.Column("placement", sa.Text(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("rate_hz", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("frames", sa.Integer(), nullable=True),
        sa.Column("duration_s", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["dancer"], ["dancer.id"], name=op.f("fk_take_dancer_dancer"), ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["session"], ["session.id"], name=op.f("fk_take_session_session")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_take")),
        sa.UniqueConstraint("sha256", name=op.f("uq_take_sha256")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_take_dancer"), "take", ["dancer"], unique=False)
    op.create_index(op.f("ix_take_session"), "take", ["session"], unique=False)


def _decision() -> None:
    op.create_table(
        "decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("take", sa.Integer(), nullable=False),
        sa.Column("fault", sa.Text(), nullable=False),
        sa.Column("side", sa.Text(), server_default="", nullable=False),
        sa.Column("decision", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("day", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["take"], ["take.id"], name=op.f("fk_decision_take_take"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_decision_take"), "decision", ["take"], unique=False)


def _review() -> None:
    op.create_table(
        "review",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("take", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("measures_version", sa.Text(), nullable=False),
        sa.Column("level", sa.Text(), nullable=False),
        sa.Column("folder", sa.Text(), nullable=False),
        sa.Column("made_on", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["take"], ["take.id"], name=op.f("fk_review_take_take"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review")),
        sa.UniqueConstraint("take", "measures_version", name=op.f("uq_review_take_measures_version")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_review_take"), "review", ["take"], unique=False)


def _measured() -> None:
    op.create_table(
        "measured",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("review", sa.Integer(), nullable=False),
        sa.Column("fault", sa.Text(), nullable=False),
        sa.Column("measure", sa.Text(), nullable=False),
        sa.Column("side", sa.Text(), server_default="", nullable=False),
        sa.Column("step", sa.Text(), server_default="", nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("value", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("worst", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("sd", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("plus_minus", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("plus_minus_within_take", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("low", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("high", sa.Float(precision=53).with_variant(sa.REAL(), "sqlite"), nullable=True),
        sa.Column("outside", sa.Integer(), nullable=False),
        sa.Column("as_fault", sa.Integer(), server_default="0", nullable=False),
        sa.Column("cannot_tell", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["review"], ["review.id"], name=op.f("fk_measured_review_review"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measured")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_measured_review"), "measured", ["review"], unique=False)


#: Each after those that it refers to.
_TABLES = (
    _about,
    _artefact,
    _dancer,
    _erased,
    _session,
    _tombstone,
    _consent,
    _event,
    _goal,
    _shown,
    _take,
    _decision,
    _review,
    _measured,
)


def upgrade() -> None:
    """Make all tables."""
    for make in _TABLES:
        make()
