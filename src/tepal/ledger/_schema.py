"""The tables of a ledger. The migrations under ``migrations/`` make them; this is how the code reads them."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData()

# `seq` is one counter for entries and weather alike: one cursor over a ledger misses neither.
entries = Table(
    "entry",
    metadata,
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    Column("id", String(36), nullable=False, unique=True),
    Column("kind", String(20), nullable=False),
    Column("site", String(200)),
    Column("by", String(200), nullable=False),
    # Text, not a timestamp type: the offset of the clock that made it is part of what was said.
    Column("made_at", String(40), nullable=False),
    Column("got_at", String(40), nullable=False),
    Column("amends", String(36)),
    Column("body", Text, nullable=False),
    Column("hash", String(64), nullable=False),
    # When a person's data in it were forgotten; `hash` is of what it said before.
    Column("forgotten", String(40)),
)

batches = Table(
    "weather_batch",
    metadata,
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    Column("id", String(36), nullable=False, unique=True),
    Column("station", String(200), nullable=False),
    Column("lon", Float),
    Column("lat", Float),
    Column("corrects", Boolean, nullable=False),
    Column("days", Integer, nullable=False),
    Column("got_at", String(40), nullable=False),
    # The days themselves as canonical text: a batch is immutable and is always read whole.
    Column("rows", Text, nullable=False),
)

# The office's own: who works with the record, on which devices, and what each may see. Never given out.
people = Table(
    "office_person",
    metadata,
    Column("id", String(36), primary_key=True),
    Column("name", String(200), nullable=False, unique=True),
    Column("role", String(20), nullable=False),
    # As samples name it, for who works in one.
    Column("laboratory", String(200)),
    Column("made_at", String(40), nullable=False),
    Column("left_at", String(40)),
)

devices = Table(
    "office_device",
    metadata,
    Column("id", String(36), primary_key=True),
    Column("person", String(36), ForeignKey("office_person.id"), nullable=False),
    Column("name", String(200), nullable=False),
    # SHA-256 of the token: whoever reads the store cannot speak for a device.
    Column("token_hash", String(64), nullable=False, unique=True),
    Column("made_at", String(40), nullable=False),
    Column("used_at", String(40), nullable=False),
    Column("revoked_at", String(40)),
)

invitations = Table(
    "office_invitation",
    metadata,
    Column("id", String(36), primary_key=True),
    Column("person", String(36), ForeignKey("office_person.id"), nullable=False),
    Column("code_hash", String(64), nullable=False, unique=True),
    Column("made_at", String(40), nullable=False),
    Column("expires_at", String(40), nullable=False),
    Column("used_at", String(40)),
    Column("revoked_at", String(40)),
)

# One row a grant: a site, or one entry (a call handed to somebody).
assignments = Table(
    "office_assignment",
    metadata,
    Column("id", String(36), primary_key=True),
    Column("person", String(36), ForeignKey("office_person.id"), nullable=False),
    Column("site", String(200)),
    Column("entry", String(36)),
    Column("made_at", String(40), nullable=False),
    UniqueConstraint("person", "site", name="office_assignment_site"),
    UniqueConstraint("person", "entry", name="office_assignment_entry"),
)
