"""One recording may hold two dancers, each with a take of her own; where the recording itself lies is kept."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Rebuild ``take``: foreign keys must be off meanwhile, since reviews and decisions hang on it (``migrate.py``)."""
    with op.batch_alter_table("take", table_kwargs={"sqlite_strict": True}) as table:
        table.add_column(sa.Column("recording", sa.Text()))
        table.drop_constraint("uq_take_sha256", type_="unique")
        table.create_unique_constraint("uq_take_dancer_sha256", ["dancer", "sha256"])
