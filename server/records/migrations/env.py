"""What Alembic runs for every command: migrate on the connection that the record has open, in its transaction."""

from alembic import context

context.configure(connection=context.config.attributes["connection"])
with context.begin_transaction():
    context.run_migrations()
