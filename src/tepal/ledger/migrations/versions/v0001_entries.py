"""The log of entries, append-only."""

import sqlalchemy as sa
from alembic import op

from tepal.ledger._append_only import forbid_changes

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "entry",
        sa.Column("seq", sa.BigInteger, primary_key=True, autoincrement=False),
        sa.Column("id", sa.String(36), nullable=False, unique=True),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("site", sa.String(200)),
        sa.Column("by", sa.String(200), nullable=False),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("got_at", sa.String(40), nullable=False),
        sa.Column("amends", sa.String(36)),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
    )
    op.create_index("entry_by_site", "entry", ["site", "seq"])
    forbid_changes(op.get_bind(), "entry")
