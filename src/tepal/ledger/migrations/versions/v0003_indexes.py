"""Ways to the entries of one kind, and to what amends an entry, without reading all others."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.create_index("entry_by_kind", "entry", ["kind", "seq"])
    amending = sa.text("amends IS NOT NULL")
    op.create_index("entry_by_amended", "entry", ["amends"], sqlite_where=amending, postgresql_where=amending)
