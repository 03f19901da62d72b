"""The tables made by the migrations are the tables described, however often and by however many they are made."""

from __future__ import annotations

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import inspect, text

from leadline_service.store.engine import open_database
from leadline_service.store.errors import StoreUnavailable
from leadline_service.store.migrating import migrate, pending
from leadline_service.store.opening import open_store
from leadline_service.store.tables import METADATA
from service.store.rivals import in_processes, migrate_once

EVERY = ("r0001",)


def test_migrating_once_is_enough(empty_url: str) -> None:
    assert migrate(empty_url) == EVERY
    assert migrate(empty_url) == ()
    store = open_store(empty_url)
    assert store.pending() == ()
    store.close()


def test_processes_that_start_together_migrate_once(empty_url: str) -> None:
    assert sorted(in_processes(migrate_once, 2, empty_url)) == [(), EVERY]


def test_the_tables_are_those_described(store_url: str) -> None:
    database = open_database(store_url)
    with database.read() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, METADATA) == []
        found = inspect(connection)
        for table in METADATA.tables.values():  # what the comparison does not look at
            deletes = {key["name"]: key["options"].get("ondelete") for key in found.get_foreign_keys(table.name)}
            assert deletes == {key.name: key.ondelete for key in table.foreign_key_constraints}
            assert found.get_pk_constraint(table.name)["name"] == table.primary_key.name
    database.close()


def test_a_database_without_tables_is_not_opened(empty_url: str) -> None:
    with pytest.raises(StoreUnavailable, match="lacks 1 migrations \\(first: r0001\\)"):
        open_store(empty_url)
    database = open_database(empty_url)
    assert pending(database) == EVERY
    database.close()


def test_a_database_of_a_newer_version_is_left_alone(empty_url: str) -> None:
    migrate(empty_url)
    database = open_database(empty_url)
    with database.write() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'r9999'"))
    database.close()
    for attempt in (open_store, migrate):
        with pytest.raises(StoreUnavailable, match="newer version of Leadline \\(its tables are at r9999\\)"):
            attempt(empty_url)


def test_a_migration_that_fails_leaves_nothing(empty_url: str) -> None:
    database = open_database(empty_url)
    with database.write() as connection:
        connection.execute(text("CREATE TABLE tokens (in_the_way INTEGER)"))  # the last table of the first migration
    with pytest.raises(Exception, match="already exists"):
        migrate(empty_url)
    with database.read() as connection:
        assert inspect(connection).get_table_names() == ["tokens"]
    database.close()
