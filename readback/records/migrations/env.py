"""Runs the migrations on the connection that `readback.records.database` gives."""

from alembic import context

from readback.records.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    # SQLite changes tables by copying them.
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
