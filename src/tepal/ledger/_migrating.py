"""Which version a store has, and bringing it to this program's."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, inspect, text

from tepal.ledger._schema import metadata
from tepal.tables import Refused

if TYPE_CHECKING:
    from alembic.config import Config

HEAD = "0007"  # the newest migration; a test compares it with the folder


def migrate(connection: Connection, revision: str = "head") -> None:
    """Bring the tables to a version, within the connection's transaction.

    Raises
    ------
    Refused
        If this program does not know the version.
    """
    from alembic import command

    if revision != "head":
        check_known(revision, "ledger")
    config = _migrations()
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


def version_of(connection: Connection) -> str | None:
    """The version of the tables; None where there are none of a ledger."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def check_known(version: str | None, shown: str) -> None:
    """Refuse a version that this program does not know."""
    from alembic.script import ScriptDirectory

    known = {script.revision for script in ScriptDirectory.from_config(_migrations()).walk_revisions()}
    if version not in known:
        raise Refused(
            f"the ledger has version {version}",
            where=shown,
            rule=f"This program knows versions up to {HEAD}.",
            step="Use the newer Tepal that made it; nothing was changed.",
        )


def check_empty(connection: Connection, shown: str) -> None:
    """Refuse a store that has a ledger, or a table that a ledger would have."""
    there = {"alembic_version", *metadata.tables} & set(inspect(connection).get_table_names())
    if there:
        raise Refused(
            f"a table named {sorted(there)[0]} is there",
            where=shown,
            rule="Nothing is overwritten.",
            step="Use an empty database.",
        )


def check_free(connection: Connection, shown: str, *, create: bool) -> None:
    """Refuse a store without a version where another's tables stand, or where none are to be made."""
    if {"entry", "weather_batch"} & set(inspect(connection).get_table_names()):
        raise Refused(
            "tables named entry or weather_batch", where=shown, rule="They are another's.", step="Use another database."
        )
    if not create:
        raise Refused("no ledger in it yet", where=shown, rule="It has no tables.", step="`take` makes them.")


def _migrations() -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    return config
