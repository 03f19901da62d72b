"""The store in an SQL database, put together from its parts, and how it is opened."""

from __future__ import annotations

from sqlalchemy import select

from leadline_service.clock import Clock
from leadline_service.store.engine import BUSY_S, Database, open_database
from leadline_service.store.errors import StoreUnavailable
from leadline_service.store.migrating import pending
from leadline_service.store.port import MOST_ATTEMPTS, Store
from leadline_service.store.sql_files import FilesPart
from leadline_service.store.sql_leases import LeasesPart
from leadline_service.store.sql_runs import RunsPart
from leadline_service.store.sql_studies import StudiesPart
from leadline_service.store.sql_tokens import TokensPart

__all__ = ["SqlStore", "open_store"]


class SqlStore(StudiesPart, RunsPart, LeasesPart, FilesPart, TokensPart, Store):
    """A store in SQLite or PostgreSQL.

    Parameters
    ----------
    database
        Where it is.
    most_attempts
        Tries a run may lose without getting on before it counts as poison.
    """

    def __init__(self, database: Database, most_attempts: int = MOST_ATTEMPTS) -> None:
        super().__init__(database)
        self.most_attempts = most_attempts

    def ping(self) -> None:
        """Ask the database for an answer."""
        with self.database.read() as connection:
            connection.execute(select(1)).scalar_one()

    def pending(self) -> tuple[str, ...]:
        """Return the migrations that have still to be made."""
        return pending(self.database)

    def close(self) -> None:
        """Let go of every connection."""
        self.database.close()


def open_store(
    url: str, clock: Clock | None = None, *, most_attempts: int = MOST_ATTEMPTS, busy_s: float = BUSY_S
) -> Store:
    """Open a store whose tables are there; `migrate` makes them.

    Parameters
    ----------
    url
        As `open_database` takes it.
    clock
        Tells the time; the machine's when None.
    most_attempts
        Tries a run may lose without getting on before it counts as poison.
    busy_s
        How long to wait for a database that somebody else has locked, s.

    Raises
    ------
    StoreUnavailable
        The URL is none, the database does not answer, or its tables are not those of this version.
    """
    store = SqlStore(open_database(url, clock, busy_s=busy_s), most_attempts)
    try:
        _must_be_current(store)
    except StoreUnavailable:
        store.close()
        raise
    return store


def _must_be_current(store: Store) -> None:
    lacking = store.pending()
    if lacking:
        raise StoreUnavailable(f"the database lacks {len(lacking)} migrations (first: {lacking[0]}); migrate it first")
