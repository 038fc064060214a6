"""Weather in immutable batches, beside the entries and under the same counter."""

import sqlalchemy as sa
from alembic import op

from tepal.ledger._append_only import forbid_changes

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "weather_batch",
        sa.Column("seq", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("id", sa.String(36), nullable=False, unique=True),
        sa.Column("station", sa.String(200), nullable=False),
        sa.Column("lon", sa.Float(53)),
        sa.Column("lat", sa.Float(53)),
        sa.Column("corrects", sa.Boolean, nullable=False),
        sa.Column("days", sa.Integer, nullable=False),
        sa.Column("got_at", sa.String(40), nullable=False),
        sa.Column("rows", sa.Text, nullable=False),
    )
    op.create_index("batch_by_station", "weather_batch", ["station", "seq"])
    forbid_changes(op.get_bind(), "weather_batch")
