"""Alembic's entry: the connection comes from the ledger that is being opened, inside its transaction."""

from alembic import context

connection = context.config.attributes["connection"]
context.configure(connection=connection, transactional_ddl=True)
context.run_migrations()
