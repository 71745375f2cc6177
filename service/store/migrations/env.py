"""How alembic reaches the database: over the connection that `upgrade` hands in."""

from alembic import context

from service.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True, transactional_ddl=False
)
context.run_migrations()
