"""The desk's tables: readings that were made, which may be thrown away, and pictures from above, which may not."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    op.create_table(
        "desk_reading",
        sa.Column("site", sa.String(200), primary_key=True),
        sa.Column("as_of", sa.String(10), primary_key=True),
        sa.Column("position", sa.BigInteger, nullable=False),
        sa.Column("tables", sa.String(80), nullable=False),
        sa.Column("settings", sa.String(80), nullable=False),
        sa.Column("version", sa.String(80), nullable=False),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("brief", sa.Text, nullable=False),
        sa.Column("page", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "desk_aerial",
        sa.Column("site", sa.String(200), primary_key=True),
        sa.Column("west", sa.Float(53), nullable=False),
        sa.Column("south", sa.Float(53), nullable=False),
        sa.Column("east", sa.Float(53), nullable=False),
        sa.Column("north", sa.Float(53), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("jpeg", sa.LargeBinary, nullable=False),
    )
