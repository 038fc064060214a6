"""Which entry which person handed in. Until now that was told by the name, which may be another's as well."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    op.create_table(
        "office_entry",
        sa.Column("entry", sa.String(36), primary_key=True),
        sa.Column("person", sa.String(36), sa.ForeignKey("office_person.id"), nullable=False),
    )
    op.create_index("office_entry_by_person", "office_entry", ["person"])
    # What came in under somebody's name before they were in the office's book was not handed in by their device.
    op.execute(
        "INSERT INTO office_entry (entry, person) SELECT entry.id, office_person.id FROM entry "
        'JOIN office_person ON office_person.name = entry."by" '
        "WHERE substr(entry.got_at, 1, 19) >= substr(office_person.made_at, 1, 19)"
    )
