"""Bringing a database's tables up to date, by Alembic."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from leadline_service.store.engine import Database, open_database
from leadline_service.store.errors import StoreUnavailable

__all__ = ["migrate", "pending"]

FOLDER = Path(__file__).parent / "migrations"
PATIENCE_S = 60.0
"""How long to wait for another process that is migrating just now, s."""


def migrate(url: str) -> tuple[str, ...]:
    """Make whatever migrations a database lacks, and return them; safe however many processes do so at once.

    All are made in one transaction: a process that dies meanwhile leaves the database as it was.

    Parameters
    ----------
    url
        As `leadline_service.store.engine.open_database` takes it.

    Raises
    ------
    StoreUnavailable
        The database does not answer, or was made by a newer version.
    """
    database = open_database(url, busy_s=PATIENCE_S)
    try:
        with database.write() as connection:
            database.one_at_a_time(connection, "migrate")
            lacking = _lacking(connection)
            if lacking:
                config = _config()
                config.attributes["connection"] = connection
                command.upgrade(config, "head")
            return lacking
    finally:
        database.close()


def pending(database: Database) -> tuple[str, ...]:
    """Return the migrations that a database lacks, oldest first.

    Raises
    ------
    StoreUnavailable
        It does not answer, or was made by a newer version.
    """
    with database.read() as connection:
        return _lacking(connection)


def _config() -> Config:
    config = Config()
    config.set_main_option("path_separator", "os")
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    return config


def _lacking(connection: Connection) -> tuple[str, ...]:
    scripts = ScriptDirectory.from_config(_config()).walk_revisions()
    every = [script.revision for script in scripts][::-1]
    at = MigrationContext.configure(connection).get_current_revision()
    if at is None:
        return tuple(every)
    if at not in every:
        raise StoreUnavailable(f"the database was made by a newer version of Leadline (its tables are at {at})")
    return tuple(every[every.index(at) + 1 :])
