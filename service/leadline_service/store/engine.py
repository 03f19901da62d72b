"""A database opened by its URL, and transactions on it whose failures carry names of ours."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

from sqlalchemy import Connection, Engine, create_engine, event, func, make_url, select
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError, ProgrammingError
from sqlalchemy.exc import TimeoutError as NoConnectionFree

from leadline_service.clock import Clock, SystemClock, microseconds
from leadline_service.store.errors import StoreUnavailable

__all__ = ["BUSY_S", "Database", "open_database"]

BUSY_S = 5.0
"""How long to wait for a database that somebody else has locked, s."""
CONNECTIONS = 20
WAL_TRIES = 100
UNDEFINED_TABLE = "42P01"  # PostgreSQL's documentation, appendix A, error codes

Lock = Literal["submit", "claim", "migrate"]
LOCKS: dict[Lock, int] = {"submit": 0x1EAD_0001, "claim": 0x1EAD_0002, "migrate": 0x1EAD_0003}
"""Numbers of the locks that PostgreSQL keeps for whoever asks; any will do as long as all processes use the same."""


class Database:
    """An open database with the clock that its times come from.

    Parameters
    ----------
    engine
        Connections to it.
    clock
        Tells the time.
    busy_s
        How long to wait for somebody else's lock, s.
    """

    def __init__(self, engine: Engine, clock: Clock, busy_s: float) -> None:
        self.engine, self.clock = engine, clock
        self._busy_s = busy_s
        # SQLite lets one write at a time and makes others poll, which is not fair; threads of one process queue here.
        self._writing = threading.Lock() if engine.dialect.name == "sqlite" else None

    def now(self) -> int:
        """Return the time of day, in microseconds since 1970."""
        return microseconds(self.clock.now())

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Open a transaction that only reads.

        Raises
        ------
        StoreUnavailable
            The database does not answer.
        """
        with _named_failures(), self.engine.connect() as connection:
            yield connection.execution_options(leadline_reads=True)

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Open a transaction that writes: all of it is there afterwards, or nothing.

        Raises
        ------
        StoreUnavailable
            The database does not answer, or is locked for longer than is waited.
        """
        with _named_failures(), self._turn(), self.engine.begin() as connection:
            yield connection

    def one_at_a_time(self, connection: Connection, lock: Lock) -> None:
        """Hold up other transactions that ask for the same lock until this one ends.

        SQLite lets only one transaction write at any time, so there is nothing left to do.
        """
        if connection.dialect.name == "postgresql":
            connection.execute(select(func.pg_advisory_xact_lock(LOCKS[lock])))

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()

    @contextmanager
    def _turn(self) -> Iterator[None]:
        if self._writing is None:
            yield
            return
        if not self._writing.acquire(timeout=self._busy_s):
            raise StoreUnavailable(f"the database was busy for {self._busy_s:g} s; try again")
        try:
            yield
        finally:
            self._writing.release()


def open_database(url: str, clock: Clock | None = None, *, busy_s: float = BUSY_S) -> Database:
    """Open a database; its tables are looked at only when they are used.

    Parameters
    ----------
    url
        ``sqlite:///relative.db``, ``sqlite:////absolute.db`` or ``postgresql://user@host/name``.
    clock
        Tells the time; the machine's when None.
    busy_s
        How long to wait for a database that somebody else has locked, s.

    Raises
    ------
    StoreUnavailable
        The URL names no database of the two kinds.
    """
    try:
        address = make_url(url)
        kind = address.get_backend_name()
    except (ArgumentError, NoSuchModuleError) as error:
        raise StoreUnavailable(f"the store's URL cannot be read; {URL_REMEDY}") from error
    if kind == "sqlite":
        engine = _sqlite(address, busy_s)
    elif kind == "postgresql":
        engine = _postgresql(address, busy_s)
    else:
        raise StoreUnavailable(f"the store cannot be {kind}; {URL_REMEDY}")
    return Database(engine, clock or SystemClock(), busy_s)


URL_REMEDY = "write sqlite:///leadline.db, or postgresql://user@host/name"


def _sqlite(address: URL, busy_s: float) -> Engine:
    if address.database in {None, "", ":memory:"}:
        raise StoreUnavailable(f"a database in memory would lose everything; {URL_REMEDY}")
    folder = Path(str(address.database)).parent
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreUnavailable(f"the folder {folder} cannot be made: {error.strerror}") from error
    engine = create_engine(address, pool_size=CONNECTIONS, pool_timeout=busy_s, connect_args={"timeout": busy_s})
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _record: object) -> None:
    """Set up a new connection, before the first transaction on it."""
    connection.isolation_level = None  # transactions begin below, not where the driver thinks best
    _write_ahead(connection)
    # Whoever was told that a run is accepted finds it after a power cut as well.
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")


def _write_ahead(connection: Any) -> None:
    """Turn on the write-ahead log; while another process does so, SQLite says locked without waiting."""
    for attempt in range(WAL_TRIES):
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError:
            if attempt == WAL_TRIES - 1:
                raise
            time.sleep(BUSY_S / WAL_TRIES)
        else:
            return


def _begin_sqlite(connection: Connection) -> None:
    """Begin a transaction; one that writes takes the lock now, while it can still wait for it."""
    reads = connection.get_execution_options().get("leadline_reads", False)
    connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")


def _postgresql(address: URL, busy_s: float) -> Engine:
    milliseconds = round(busy_s * 1000)
    # A process that hangs or is cut off inside a transaction must not hold its locks for ever.
    settings = {
        "lock_timeout": milliseconds,
        "statement_timeout": 6 * milliseconds,
        "idle_in_transaction_session_timeout": 6 * milliseconds,
    }
    options = " ".join(f"-c {name}={value}" for name, value in settings.items())
    reach = {"connect_timeout": max(2, round(busy_s)), "tcp_user_timeout": 2 * milliseconds, "keepalives_idle": 30}
    return create_engine(
        address,
        pool_size=CONNECTIONS,
        pool_timeout=busy_s,
        pool_pre_ping=True,
        connect_args={**reach, "options": options, "application_name": "leadline"},
    )


@contextmanager
def _named_failures() -> Iterator[None]:
    try:
        yield
    except NoConnectionFree as error:
        raise StoreUnavailable("every connection to the database is in use; try again") from error
    except ProgrammingError as error:
        if getattr(error.orig, "sqlstate", None) != UNDEFINED_TABLE:
            raise
        raise StoreUnavailable("the database lacks its tables; migrate it first") from error
    except IntegrityError:
        raise  # a mistake of ours, or a race that the caller knows how to settle
    except DBAPIError as error:
        # The driver's own words, without the statement: its parameters may be somebody's study.
        raise StoreUnavailable(f"the database does not answer: {str(error.orig).strip()}") from error
