"""The tables of a ledger. The migrations under ``migrations/`` make them; this is how the code reads them."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Integer,
    LargeBinary,
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

# Who handed an entry in: `by` in the entry itself is a name, and a file may bring the same name for somebody else.
handed_in = Table(
    "office_entry",
    metadata,
    Column("entry", String(36), primary_key=True),
    Column("person", String(36), ForeignKey("office_person.id"), nullable=False),
)

# What the desk made of the record: one row for a site and a day, the last reading made, with what it was made from.
# All of it may be thrown away at any time.
desk_readings = Table(
    "desk_reading",
    metadata,
    Column("site", String(200), primary_key=True),
    Column("as_of", String(10), primary_key=True),
    Column("position", BigInteger, nullable=False),
    Column("tables", String(80), nullable=False),
    Column("settings", String(80), nullable=False),
    Column("version", String(80), nullable=False),
    Column("made_at", String(40), nullable=False),
    Column("brief", Text, nullable=False),
    # The whole of it, as JSON made small: a list of sites never needs it.
    Column("page", LargeBinary, nullable=False),
)

# Pictures of sites from above, for a phone's map. Not to be thrown away.
aerials = Table(
    "desk_aerial",
    metadata,
    Column("site", String(200), primary_key=True),
    Column("west", Float, nullable=False),
    Column("south", Float, nullable=False),
    Column("east", Float, nullable=False),
    Column("north", Float, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("by", String(200), nullable=False),
    Column("made_at", String(40), nullable=False),
    Column("jpeg", LargeBinary, nullable=False),
)
