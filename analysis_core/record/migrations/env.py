"""Called by the migration library; runs on the connection that the record has opened."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], render_as_batch=True, transactional_ddl=False)
context.run_migrations()
