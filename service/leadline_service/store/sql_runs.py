"""Runs: submitted, listed, asked to stop, deleted."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, delete, exists, false, func, insert, select, update

from leadline_service.clock import from_microseconds, microseconds
from leadline_service.identifiers import canonical_json, digest_of, is_content_id, new_run_id
from leadline_service.states import ENDED, RunState, move
from leadline_service.store.cursors import cursor_after, position_in
from leadline_service.store.errors import KeyReused, NotEnded, NotFound, TooMany
from leadline_service.store.port import NO_LIMITS
from leadline_service.store.records import Found, Limits, Page, RunFilter, RunRecord, Submission, Submitted
from leadline_service.store.sql_rows import Part, change, insert_or_replace, locked, run_record, seen, told
from leadline_service.store.tables import kept_blocks, keys, runs, studies, study_versions

__all__ = ["RunsPart"]


class RunsPart(Part):
    """Runs in an SQL database."""

    def submit(self, wanted: Submission, key: str | None = None, limits: Limits = NO_LIMITS) -> Submitted:
        """Queue a run, or find the one that is the same."""
        now = self.database.now()
        with self.database.write() as connection:
            # One at a time, so that two at once neither slip under a limit nor queue the same run twice.
            self.database.one_at_a_time(connection, "submit")
            earlier = None if key is None else _by_key(connection, wanted, key)
            if earlier is not None:
                return Submitted(run_record(earlier), Found.SAME_KEY)
            row = connection.execute(select(runs).where(runs.c.open_identity == wanted.identity)).one_or_none()
            how = Found.NEW if row is None else Found.SAME_RUN
            if row is None:
                row = _queue(connection, wanted, limits, now)
            if key is not None:
                _remember(connection, wanted, key, row.run_id, now)
            return Submitted(run_record(row), how)

    def run(self, run_id: str) -> RunRecord:
        """Return a run as it stands."""
        with self.database.read() as connection:
            row = connection.execute(select(runs).where(seen(run_id))).one_or_none()
        if row is None:
            raise NotFound("run", run_id)
        return run_record(row)

    def runs(self, chosen: RunFilter | None = None, cursor: str | None = None, limit: int = 50) -> Page[RunRecord]:
        """List runs, newest first."""
        chosen = chosen or RunFilter()
        listing = ["runs", chosen.state, chosen.caller, chosen.study]
        statement = select(runs).where(runs.c.deleted.is_(None), *_conditions(chosen))
        if cursor is not None:
            statement = statement.where(runs.c.run_id < position_in(listing, cursor))
        with self.database.read() as connection:
            rows = connection.execute(statement.order_by(runs.c.run_id.desc()).limit(limit + 1)).all()
        after = cursor_after(listing, rows[limit - 1].run_id) if len(rows) > limit else None
        return Page(tuple(run_record(row) for row in rows[:limit]), after)

    def counts(self, caller: str | None = None) -> Mapping[RunState, int]:
        """Count runs by state."""
        statement = select(runs.c.state, func.count().label("n")).where(runs.c.deleted.is_(None))
        if caller is not None:
            statement = statement.where(runs.c.caller == caller)
        with self.database.read() as connection:
            found = {row.state: row.n for row in connection.execute(statement.group_by(runs.c.state))}
        return {state: found.get(state, 0) for state in RunState}

    def cancel(self, run_id: str) -> RunRecord:
        """Ask a run to stop."""
        now = self.database.now()
        with self.database.write() as connection:
            row = locked(connection, run_id)
            if row.state in ENDED or row.state == RunState.STOPPING:
                return run_record(row)
            after = move(RunState(row.state), _after_cancelling(connection, row))
            ended = now if after in ENDED else None
            values: dict[str, Any] = {"state": after, "open_identity": None, "not_before": None, "ended": ended}
            return run_record(change(connection, run_id, now, "state", {"state": after}, **values))

    def delete(self, run_id: str) -> None:
        """Take an ended run out of sight."""
        with self.database.write() as connection:
            row = locked(connection, run_id)
            if row.state not in ENDED:
                raise NotEnded(run_id, row.state)
            gone = {"deleted": self.database.now(), "open_identity": None}
            connection.execute(update(runs).where(runs.c.run_id == run_id).values(gone))

    def expire(self, before: datetime) -> int:
        """Delete what ended before a moment."""
        moment, now = microseconds(before), self.database.now()
        with self.database.write() as connection:
            self.database.one_at_a_time(connection, "submit")
            old = runs.c.state.in_(ENDED) & (runs.c.ended < moment) & runs.c.deleted.is_(None)
            condemned = connection.execute(update(runs).where(old).values(deleted=now, open_identity=None))
            connection.execute(delete(keys).where(keys.c.created < moment))
            needed = exists().where(runs.c.study_id == studies.c.content_id)
            named = exists().where(study_versions.c.content_id == studies.c.content_id)
            connection.execute(delete(studies).where(studies.c.used < moment, ~needed, ~named))
            return condemned.rowcount

    def condemned(self, limit: int = 100) -> tuple[str, ...]:
        """Return deleted runs that are still there."""
        statement = select(runs.c.run_id).where(runs.c.deleted.is_not(None)).order_by(runs.c.deleted).limit(limit)
        with self.database.read() as connection:
            return tuple(connection.execute(statement).scalars())

    def purge(self, run_id: str) -> None:
        """Remove a deleted run with all that hangs on it."""
        with self.database.write() as connection:
            connection.execute(delete(runs).where(runs.c.run_id == run_id, runs.c.deleted.is_not(None)))


def _by_key(connection: Connection, wanted: Submission, key: str) -> Row[Any] | None:
    """Return the run that a caller used a key for, if it is still there."""
    this = (keys.c.caller == wanted.caller) & (keys.c.key == key) & runs.c.deleted.is_(None)
    statement = select(runs, keys.c.request_digest).join(keys, keys.c.run_id == runs.c.run_id).where(this)
    row = connection.execute(statement).one_or_none()
    if row is not None and row.request_digest != _request_digest(wanted):
        raise KeyReused(key, row.run_id)
    return row


def _remember(connection: Connection, wanted: Submission, key: str, run_id: str, now: int) -> None:
    use = {"request_digest": _request_digest(wanted), "run_id": run_id, "created": now}
    insert_or_replace(connection, keys, set(use), {"caller": wanted.caller, "key": key, **use})


def _request_digest(wanted: Submission) -> str:
    return digest_of([wanted.study_id, wanted.request, wanted.extends])


def _queue(connection: Connection, wanted: Submission, limits: Limits, now: int) -> Row[Any]:
    """Insert a run."""
    if connection.execute(select(studies.c.content_id).where(studies.c.content_id == wanted.study_id)).first() is None:
        raise NotFound("study", wanted.study_id)
    _make_room(connection, wanted.caller, limits)
    values = {
        "run_id": new_run_id(from_microseconds(now)),
        "state": RunState.QUEUED,
        "caller": wanted.caller,
        "study_id": wanted.study_id,
        "identity": wanted.identity,
        "open_identity": wanted.identity,
        "cases": wanted.cases,
        "extends": wanted.extends,
        "request": canonical_json(wanted.request),
        "partial": False,
        "created": now,
        "attempts": 0,
        "fence": 0,
        "revision": 1,
    }
    row = connection.execute(insert(runs).values(values).returning(runs)).one()
    told(connection, row, now, "state", {"state": RunState.QUEUED})
    return row


def _make_room(connection: Connection, caller: str, limits: Limits) -> None:
    """Raise `TooMany` if there is no room for one more run."""
    waiting = select(func.count()).where(runs.c.state == RunState.QUEUED)
    if limits.queued_per_caller is not None:
        of_caller = connection.execute(waiting.where(runs.c.caller == caller)).scalar_one()
        if of_caller >= limits.queued_per_caller:
            raise TooMany("caller", limits.queued_per_caller, limits.retry_after_s)
    if limits.queued_total is not None and connection.execute(waiting).scalar_one() >= limits.queued_total:
        raise TooMany("service", limits.queued_total, limits.retry_after_s)


def _after_cancelling(connection: Connection, row: Row[Any]) -> RunState:
    """Give what a run becomes: a waiting one has nothing to report on unless an earlier try kept something."""
    if row.state == RunState.RUNNING:
        return RunState.STOPPING
    has_kept = (
        connection.execute(select(kept_blocks.c.run_id).where(kept_blocks.c.run_id == row.run_id)).first() is not None
    )
    return RunState.STOPPING if has_kept else RunState.CANCELLED


def _conditions(chosen: RunFilter) -> list[ColumnElement[bool]]:
    if "\0" in f"{chosen.caller}{chosen.study}":
        return [false()]  # PostgreSQL cannot even be asked for it
    conditions: list[ColumnElement[bool]] = []
    if chosen.state is not None:
        conditions.append(runs.c.state == chosen.state)
    if chosen.caller is not None:
        conditions.append(runs.c.caller == chosen.caller)
    if chosen.study is not None:
        named = select(study_versions.c.content_id).where(study_versions.c.name == chosen.study)
        given = is_content_id(chosen.study)
        conditions.append(runs.c.study_id == chosen.study if given else runs.c.study_id.in_(named))
    return conditions
