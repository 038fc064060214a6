"""The office's own tables: people, their devices, invitations, what each person may see. Never given out."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.create_table(
        "office_person",
        sa.Column("id", sa.String(36), primary_key=True),
        sa.Column("name", sa.String(200), nullable=False, unique=True),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("laboratory", sa.String(200)),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("left_at", sa.String(40)),
    )
    op.create_table(
        "office_device",
        sa.Column("id", sa.String(36), primary_key=True),
        sa.Column("person", sa.String(36), sa.ForeignKey("office_person.id"), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("token_hash", sa.String(64), nullable=False, unique=True),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("used_at", sa.String(40), nullable=False),
        sa.Column("revoked_at", sa.String(40)),
    )
    op.create_table(
        "office_invitation",
        sa.Column("id", sa.String(36), primary_key=True),
        sa.Column("person", sa.String(36), sa.ForeignKey("office_person.id"), nullable=False),
        sa.Column("code_hash", sa.String(64), nullable=False, unique=True),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.Column("expires_at", sa.String(40), nullable=False),
        sa.Column("used_at", sa.String(40)),
        sa.Column("revoked_at", sa.String(40)),
    )
    op.create_table(
        "office_assignment",
        sa.Column("id", sa.String(36), primary_key=True),
        sa.Column("person", sa.String(36), sa.ForeignKey("office_person.id"), nullable=False),
        sa.Column("site", sa.String(200)),
        sa.Column("entry", sa.String(36)),
        sa.Column("made_at", sa.String(40), nullable=False),
        sa.UniqueConstraint("person", "site", name="office_assignment_site"),
        sa.UniqueConstraint("person", "entry", name="office_assignment_entry"),
    )
    op.create_index("office_device_by_person", "office_device", ["person"])
    op.create_index("office_invitation_by_person", "office_invitation", ["person"])
    # What was forgotten is to be forgotten by the devices too: whoever asks for news asks when that was last.
    gone = sa.text("forgotten IS NOT NULL")
    op.create_index("entry_by_forgotten", "entry", ["forgotten"], sqlite_where=gone, postgresql_where=gone)
