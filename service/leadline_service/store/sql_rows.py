"""Rows turned into records, and the one way in which a run's row is changed."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Table, and_, delete, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from leadline_service.clock import from_microseconds
from leadline_service.identifiers import canonical_json
from leadline_service.states import LEASED, RunState
from leadline_service.store.engine import Database
from leadline_service.store.errors import LeaseLost, NotFound
from leadline_service.store.records import Failure, Json, RunRecord
from leadline_service.store.tables import events, runs

__all__ = ["Part", "change", "held", "insert_or_replace", "locked", "run_record", "seen", "told", "without_lease"]

THIN_EVERY = 64
PROGRESS_LEFT = 256
"""About how many of a run's newest progress events stay for whoever asks for a replay."""

AnyRow = Row[Any]


class Part:
    """One subject of a store, on the database that all its parts share."""

    def __init__(self, database: Database) -> None:
        self.database = database


def run_record(row: AnyRow) -> RunRecord:
    """Make a record of a run's row."""
    failure = None if row.failure_code is None else Failure(row.failure_code, row.failure_message)
    return RunRecord(
        run_id=row.run_id,
        state=RunState(row.state),
        caller=row.caller,
        study_id=row.study_id,
        identity=row.identity,
        cases=row.cases,
        extends=row.extends,
        request_json=row.request,
        progress_json=row.progress,
        outcome_json=row.outcome,
        partial=row.partial,
        failure=failure,
        created=from_microseconds(row.created),
        started=None if row.started is None else from_microseconds(row.started),
        ended=None if row.ended is None else from_microseconds(row.ended),
        attempts=row.attempts,
        fence=row.fence,
        owner=row.owner,
        lease_until=None if row.lease_until is None else from_microseconds(row.lease_until),
        not_before=None if row.not_before is None else from_microseconds(row.not_before),
        revision=row.revision,
    )


def seen(run_id: str) -> ColumnElement[bool]:
    """Return the condition for a run that has not been deleted."""
    return and_(runs.c.run_id == run_id, runs.c.deleted.is_(None))


def locked(connection: Connection, run_id: str) -> AnyRow:
    """Return a run's row, held until the transaction ends.

    Raises
    ------
    NotFound
        There is none.
    """
    row = connection.execute(select(runs).where(seen(run_id)).with_for_update()).one_or_none()
    if row is None:
        raise NotFound("run", run_id)
    return row


def held(connection: Connection, run_id: str, fence: int) -> AnyRow:
    """Return a run's row, held until the transaction ends, if the fencing number is still good.

    Raises
    ------
    LeaseLost
        It is not, or the run has ended, or is gone.
    """
    try:
        row = locked(connection, run_id)
    except NotFound as error:
        raise LeaseLost(run_id, fence) from error
    if row.fence != fence or row.state not in LEASED:
        raise LeaseLost(run_id, fence)
    return row


def change(connection: Connection, run_id: str, now: int, kind: str, body: Json, **values: Any) -> AnyRow:
    """Change a run's row and tell of it in an event whose number is the row's new revision; return the row."""
    statement = update(runs).where(runs.c.run_id == run_id).values(revision=runs.c.revision + 1, **values)
    row = connection.execute(statement.returning(runs)).one()
    told(connection, row, now, kind, body)
    return row


def told(connection: Connection, row: AnyRow, now: int, kind: str, body: Json) -> None:
    """Record an event under a row's revision, and now and then drop progress told long ago."""
    values = {"run_id": row.run_id, "number": row.revision, "kind": kind, "body": canonical_json(body), "at": now}
    connection.execute(insert(events).values(values))
    if kind == "progress" and row.revision % THIN_EVERY == 0:
        old = and_(events.c.run_id == row.run_id, events.c.number <= row.revision - PROGRESS_LEFT)
        connection.execute(delete(events).where(old, events.c.kind == "progress"))


def without_lease(row: AnyRow) -> dict[str, Any]:
    """Return the values of a row whose lease ends now: its fencing number is good no more."""
    return {"fence": row.fence + 1, "owner": None, "lease_until": None}


def insert_or_replace(connection: Connection, table: Table, replaced: set[str], values: dict[str, Any]) -> None:
    """Insert a row; where its primary key is there already, replace some of its columns, or none."""
    dialect = postgresql if connection.dialect.name == "postgresql" else sqlite
    statement = dialect.insert(table).values(values)
    changed = {name: statement.excluded[name] for name in replaced}
    key = [column.name for column in table.primary_key]
    if changed:
        connection.execute(statement.on_conflict_do_update(index_elements=key, set_=changed))
    else:
        connection.execute(statement.on_conflict_do_nothing(index_elements=key))
