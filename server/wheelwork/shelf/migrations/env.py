"""Alembic's door: the steps run on the connection that `migrating` hands over, in its transaction."""

from alembic import context

from wheelwork.shelf.tables import METADATA

context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA)
context.run_migrations()
