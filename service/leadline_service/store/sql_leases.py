"""Leases: who computes which run, and what they may write."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, Row, Select, case, delete, func, or_, select

from leadline_service.identifiers import canonical_json
from leadline_service.states import ENDED, LEASED, RunState, move
from leadline_service.store.errors import Corrupt, LeaseLost, NotFound
from leadline_service.store.port import MOST_ATTEMPTS
from leadline_service.store.records import Claim, Failure, FileRecord, Json, RunRecord
from leadline_service.store.sql_files import put_files
from leadline_service.store.sql_rows import (
    Part,
    change,
    held,
    insert_or_replace,
    locked,
    run_record,
    seen,
    without_lease,
)
from leadline_service.store.tables import kept_blocks, runs

__all__ = ["LeasesPart"]

POISON, LOST = "poison", "lost"
SECOND = 1_000_000


class LeasesPart(Part):
    """Leases in an SQL database."""

    most_attempts = MOST_ATTEMPTS

    def claim(self, owner: str, lease_s: float, running_per_caller: int | None = None) -> Claim | None:
        """Take over a waiting run."""
        now = self.database.now()
        with self.database.write() as connection:
            # One at a time, so that two at once cannot take a caller beyond the limit.
            self.database.one_at_a_time(connection, "claim")
            chosen = connection.execute(_next_to_claim(now, running_per_caller)).one_or_none()
            if chosen is None:
                return None
            stop_asked = chosen.state == RunState.STOPPING
            state = RunState.STOPPING if stop_asked else move(RunState.QUEUED, RunState.RUNNING)
            values = {
                "state": state,
                "fence": chosen.fence + 1,
                "owner": owner,
                "lease_until": now + round(lease_s * SECOND),
                "not_before": None,
                "started": now if chosen.started is None else chosen.started,
            }
            run = run_record(change(connection, chosen.run_id, now, "state", {"state": state}, **values))
            return Claim(run, run.fence, stop_asked)

    def heartbeat(self, run_id: str, fence: int, lease_s: float) -> bool:
        """Extend a lease, and tell whether a stop was asked."""
        until = self.database.now() + round(lease_s * SECOND)
        good = (runs.c.fence == fence) & runs.c.state.in_(LEASED)
        statement = runs.update().where(seen(run_id), good).values(lease_until=until).returning(runs.c.state)
        with self.database.write() as connection:
            state = connection.execute(statement).scalar_one_or_none()
        if state is None:
            raise LeaseLost(run_id, fence)
        return bool(state == RunState.STOPPING)

    def commit_progress(self, run_id: str, fence: int, kept: bytes | None, progress: Json) -> bool:
        """Keep finished blocks, and tell where the run stands."""
        now = self.database.now()
        checksum = None if kept is None else sha256(kept).hexdigest()
        with self.database.write() as connection:
            row = held(connection, run_id, fence)
            values: dict[str, Any] = {"progress": canonical_json(progress)}
            if kept is not None and checksum != _checksum(connection, run_id):
                saved = {"checksum": checksum, "saved": now, "data": kept}
                insert_or_replace(connection, kept_blocks, set(saved), {"run_id": run_id, **saved})
                values |= {"attempts": 0, "failure_code": None, "failure_message": None}
            change(connection, run_id, now, "progress", progress, **values)
            return bool(row.state == RunState.STOPPING)

    def kept(self, run_id: str) -> bytes | None:
        """Return what was kept last."""
        statement = (
            select(kept_blocks.c.data, kept_blocks.c.checksum)
            .select_from(runs.outerjoin(kept_blocks))
            .where(seen(run_id))
        )
        with self.database.read() as connection:
            row = connection.execute(statement).one_or_none()
        if row is None:
            raise NotFound("run", run_id)
        if row.data is None:
            return None
        data = bytes(row.data)
        if sha256(data).hexdigest() != row.checksum:
            raise Corrupt(run_id)
        return data

    def kept_before(self, run_id: str) -> bytes | None:
        """Return what was kept of a run that another extends."""
        try:
            return self.kept(run_id)
        except (NotFound, Corrupt):
            return None

    def forget_kept(self, run_id: str, fence: int) -> None:
        """Drop what was kept."""
        with self.database.write() as connection:
            held(connection, run_id, fence)
            connection.execute(delete(kept_blocks).where(kept_blocks.c.run_id == run_id))
            change(connection, run_id, self.database.now(), "start-over", {}, progress=None)

    def finish(self, run_id: str, fence: int, outcome: Json, files: Sequence[FileRecord] = ()) -> None:
        """End a run that is done."""
        self._end(run_id, fence, RunState.FINISHED, outcome, files)

    def stopped(self, run_id: str, fence: int, outcome: Json | None, files: Sequence[FileRecord] = ()) -> None:
        """End a run that was asked to stop."""
        self._end(run_id, fence, RunState.CANCELLED, outcome, files)

    def fail(self, run_id: str, fence: int, failure: Failure) -> None:
        """End a run that can never be computed."""
        self._end(run_id, fence, RunState.FAILED, None, (), failure=failure)

    def _end(
        self,
        run_id: str,
        fence: int,
        state: RunState,
        outcome: Json | None,
        files: Sequence[FileRecord],
        *,
        failure: Failure | None = None,
    ) -> None:
        """End a run; where this very lease ended it so before, leave it at that."""
        now = self.database.now()
        with self.database.write() as connection:
            if _ended_already(connection, run_id, fence, state):
                return
            row = held(connection, run_id, fence)
            move(RunState(row.state), state)
            values: dict[str, Any] = {"state": state, "ended": now, "owner": None, "lease_until": None}
            values["partial"] = state == RunState.CANCELLED and outcome is not None
            values["outcome"] = None if outcome is None else canonical_json(outcome)
            if state != RunState.FINISHED:
                values["open_identity"] = None
            put_files(connection, run_id, files)
            _tell_state(connection, run_id, now, values, failure)

    def hand_back(self, run_id: str, fence: int, *, error: str | None = None, delay_s: float = 0.0) -> RunState:
        """Give up a lease."""
        now = self.database.now()
        with self.database.write() as connection:
            row = held(connection, run_id, fence)
            values = {"not_before": now + round(delay_s * SECOND) if delay_s > 0 else None}
            return self._release(connection, row, now, error, values).state

    def reap(self, limit: int = 100) -> tuple[RunRecord, ...]:
        """Take runs from owners whose lease has run out."""
        now = self.database.now()
        over = runs.c.state.in_(LEASED) & (runs.c.lease_until <= now)
        statement = select(runs).where(over).order_by(runs.c.lease_until).limit(limit)
        with self.database.read() as connection:  # most often there is none, and then nobody need wait
            if connection.execute(statement.limit(1)).first() is None:
                return ()
        with self.database.write() as connection:
            rows = connection.execute(statement.with_for_update(skip_locked=True)).all()
            return tuple(
                self._release(connection, row, now, f"its owner {row.owner} was not heard of any more", {})
                for row in rows
            )

    def _release(
        self, connection: Connection, row: Row[Any], now: int, error: str | None, values: dict[str, Any]
    ) -> RunRecord:
        """Take a run out of its owner's hands: to be claimed again, or to be given up after too many lost tries."""
        attempts = row.attempts + (error is not None)
        given_up = error is not None and attempts >= self.most_attempts
        before = RunState(row.state)
        stopping = before == RunState.STOPPING
        if given_up:
            after = move(before, RunState.CANCELLED if stopping else RunState.FAILED)
        else:
            after = before if stopping else move(before, RunState.QUEUED)
        values = {**without_lease(row), **values, "state": after, "attempts": attempts}
        if after in ENDED:
            values |= {"ended": now, "open_identity": None}
        failure = None if error is None else _lost(error, attempts, given_up=given_up)
        return run_record(_tell_state(connection, row.run_id, now, values, failure))


def _next_to_claim(now: int, running_per_caller: int | None) -> Select[Any]:
    """Return the statement that chooses and locks the run whose turn it is."""
    under_way = (
        select(runs.c.caller, func.count().label("n"))
        .where(runs.c.state.in_(LEASED), runs.c.owner.is_not(None))
        .group_by(runs.c.caller)
        .subquery()
    )
    running = func.coalesce(under_way.c.n, 0)
    waits = runs.c.state == RunState.QUEUED
    to_stop = (runs.c.state == RunState.STOPPING) & runs.c.owner.is_(None)
    ripe = or_(runs.c.not_before.is_(None), runs.c.not_before <= now)
    if running_per_caller is not None:
        waits &= running < running_per_caller
    return (
        select(runs)
        .outerjoin(under_way, under_way.c.caller == runs.c.caller)
        .where(or_(waits, to_stop), ripe)
        .order_by(case((to_stop, 0), else_=1), running, runs.c.created, runs.c.run_id)
        .limit(1)
        .with_for_update(of=runs, skip_locked=True)
    )


def _checksum(connection: Connection, run_id: str) -> str | None:
    return connection.execute(select(kept_blocks.c.checksum).where(kept_blocks.c.run_id == run_id)).scalar_one_or_none()


def _ended_already(connection: Connection, run_id: str, fence: int, state: RunState) -> bool:
    """Tell whether this lease ended the run so before, and only the answer was lost."""
    try:
        row = locked(connection, run_id)
    except NotFound:
        return False
    return bool(row.fence == fence and row.state == state)


def _tell_state(
    connection: Connection, run_id: str, now: int, values: dict[str, Any], failure: Failure | None
) -> Row[Any]:
    """Change a run's row with what went wrong, if anything, and tell of its state."""
    body: dict[str, Any] = {"state": values["state"]}
    if failure is not None:
        body["failure"] = {"code": failure.code, "message": failure.message}
        values = {**values, "failure_code": failure.code, "failure_message": failure.message}
    elif values["state"] == RunState.FINISHED:
        values = {**values, "failure_code": None, "failure_message": None}
    return change(connection, run_id, now, "state", body, **values)


def _lost(error: str, attempts: int, *, given_up: bool) -> Failure:
    if given_up:
        return Failure(POISON, f"{attempts} tries were lost without getting on; the last error: {error}")
    return Failure(LOST, error)
