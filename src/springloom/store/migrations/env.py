"""Alembic's way in: runs the steps on the connection it is handed, in its transaction."""

from __future__ import annotations

from alembic import context

from springloom.store.schema import METADATA

context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA,
                  transactional_ddl=True)
context.run_migrations()
