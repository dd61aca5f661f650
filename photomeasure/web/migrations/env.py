"""Alembic's own entry: it runs the steps on the connection that `upgraded` hands over."""

from __future__ import annotations

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
with context.begin_transaction():
    context.run_migrations()
