"""The tables of a ledger. The migrations under ``migrations/`` make them; this is how the code reads them."""

from __future__ import annotations

from sqlalchemy import BigInteger, Boolean, Column, Float, Integer, MetaData, String, Table, Text

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
