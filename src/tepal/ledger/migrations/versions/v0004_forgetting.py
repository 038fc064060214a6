"""A person's data can be forgotten: the one change of an entry that the store allows, and marks."""

import sqlalchemy as sa
from alembic import op

from tepal.ledger._append_only import allow_forgetting

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.add_column("entry", sa.Column("forgotten", sa.String(40)))
    allow_forgetting(op.get_bind())
