"""Triggers by which the store itself refuses to change or drop what was recorded."""

from __future__ import annotations

from sqlalchemy import Connection, text

FORGOTTEN = "(forgotten)"
"""What stands in the place of a person's name or words."""
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


def allow_forgetting(connection: Connection) -> None:
    """Let an entry be changed in one way: a person's data go, and the change says that they went.

    Place, id, site, clocks, amended entry and hash stay; a kind can only become ``forgotten``, with no more than the
    kind it was; other bodies and names change only to where `FORGOTTEN` stands in them. Nothing can be brought back,
    for the mark cannot be taken away, and nothing is dropped.
    """
    sqlite = connection.dialect.name == "sqlite"
    same = "IS" if sqlite else "IS NOT DISTINCT FROM"
    kept = " AND ".join(
        f"NEW.{name} {same} OLD.{name}" for name in ("seq", "id", "site", "made_at", "got_at", "amends", "hash")
    )
    holds = f"instr(NEW.body, '{FORGOTTEN}')" if sqlite else f"strpos(NEW.body, '{FORGOTTEN}')"
    allowed = (
        f'NEW.forgotten IS NOT NULL AND {kept} AND NEW."by" IN (OLD."by", \'{FORGOTTEN}\') AND ('
        "(NEW.kind = 'forgotten' AND NEW.body = '{\"was\":\"' || OLD.kind || '\"}')"
        f" OR (NEW.kind = OLD.kind AND (NEW.body = OLD.body OR {holds} > 0)))"
    )
    if sqlite:
        connection.exec_driver_sql("DROP TRIGGER entry_no_update")
        connection.exec_driver_sql(
            f"CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry WHEN NOT ({allowed}) "
            f"BEGIN SELECT RAISE(ABORT, '{_SAYS}'); END"
        )
        return
    connection.exec_driver_sql("DROP TRIGGER entry_no_change ON entry")
    connection.exec_driver_sql(
        "CREATE FUNCTION entry_only_forgets() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN IF NOT ({allowed}) THEN RAISE EXCEPTION '{_SAYS}'; END IF; RETURN NEW; END $$"
    )
    connection.exec_driver_sql(
        "CREATE TRIGGER entry_no_change BEFORE DELETE OR TRUNCATE ON entry "
        "FOR EACH STATEMENT EXECUTE FUNCTION entry_append_only()"
    )
    connection.exec_driver_sql(
        "CREATE TRIGGER entry_only_forgets BEFORE UPDATE ON entry FOR EACH ROW EXECUTE FUNCTION entry_only_forgets()"
    )
