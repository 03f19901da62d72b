"""What Alembic runs: the migrations, inside the transaction that `leadline_service.store.migrating` has opened."""

from __future__ import annotations

from alembic import context

from leadline_service.store.tables import METADATA

context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA)
context.run_migrations()
