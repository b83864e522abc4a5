"""Run by Alembic: the steps are done on the connection that `upgrade` hands over.

The transaction is that connection's own; both SQLite and PostgreSQL take back changes of tables
with it.
"""

from alembic import context

from replanner.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
)
context.run_migrations()
