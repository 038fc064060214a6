"""Triggers by which the store itself refuses to change or drop what was recorded."""

from __future__ import annotations

from sqlalchemy import Connection, text

_SAYS = "the record is append-only: amend or withdraw with a new entry"


def forbid_changes(connection: Connection, table: str) -> None:
    """Make UPDATE and DELETE on `table` fail (and TRUNCATE, where there is one)."""
    if connection.dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            connection.execute(
                text(
                    f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{_SAYS}'); END"
                )
            )
        return
    connection.execute(
        text(
            f"CREATE OR REPLACE FUNCTION {table}_append_only() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{_SAYS}'; END $$"
        )
    )
    connection.execute(
        text(
            f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_append_only()"
        )
    )
