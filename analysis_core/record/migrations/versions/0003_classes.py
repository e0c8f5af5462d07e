"""What a dancer has mastered on the ladders of the lesson, and how many jumps the classes had."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add two tables, each of whose rows goes with its dancer."""
    op.create_table(
        "mastered",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("dancer", sa.Integer(), nullable=False),
        sa.Column("ladder", sa.Text(), nullable=False),
        sa.Column("rung", sa.Integer(), nullable=False),
        sa.Column("noted_on", sa.Text(), nullable=False),
        sa.CheckConstraint("noted_on IS NULL OR noted_on LIKE '____-__-__'", name=op.f("ck_mastered_noted_on_is_a_date")),
        sa.ForeignKeyConstraint(["dancer"], ["dancer.id"], name=op.f("fk_mastered_dancer_dancer"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mastered")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_mastered_dancer"), "mastered", ["dancer"], unique=False)
    op.create_table(
        "lesson",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("dancer", sa.Integer(), nullable=False),
        sa.Column("day", sa.Text(), nullable=False),
        sa.Column("jumps", sa.Integer(), nullable=False),
        sa.CheckConstraint("day IS NULL OR day LIKE '____-__-__'", name=op.f("ck_lesson_day_is_a_date")),
        sa.ForeignKeyConstraint(["dancer"], ["dancer.id"], name=op.f("fk_lesson_dancer_dancer"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lesson")),
        sa.UniqueConstraint("dancer", "day", name=op.f("uq_lesson_dancer_day")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_lesson_dancer"), "lesson", ["dancer"], unique=False)
