"""What files and events a run has."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, select

from leadline_service.clock import from_microseconds
from leadline_service.states import ENDED
from leadline_service.store.errors import NotEnded, NotFound
from leadline_service.store.records import EventRecord, FileRecord
from leadline_service.store.sql_rows import Part, change, insert_or_replace, locked, seen
from leadline_service.store.tables import events, run_files, runs

__all__ = ["FilesPart", "put_files"]


class FilesPart(Part):
    """Records of files, and events, in an SQL database."""

    def files(self, run_id: str) -> tuple[FileRecord, ...]:
        """Return the files of a run."""
        statement = select(run_files).where(run_files.c.run_id == run_id).order_by(run_files.c.name)
        with self.database.read() as connection:
            _must_be_seen(connection, run_id)
            rows = connection.execute(statement).all()
        return tuple(FileRecord(row.name, row.path, row.size, row.sha256, row.media_type) for row in rows)

    def add_files(self, run_id: str, files: Sequence[FileRecord]) -> None:
        """Record files made after a run's end."""
        with self.database.write() as connection:
            row = locked(connection, run_id)
            if row.state not in ENDED:
                raise NotEnded(run_id, row.state)
            put_files(connection, run_id, files)
            names = {"names": sorted(file.name for file in files)}
            change(connection, run_id, self.database.now(), "files", names)

    def events(self, run_id: str, after: int = 0, limit: int = 100) -> tuple[EventRecord, ...]:
        """Return a run's events beyond a number."""
        later = (events.c.run_id == run_id) & (events.c.number > after)
        statement = select(events).where(later).order_by(events.c.number).limit(limit)
        with self.database.read() as connection:
            _must_be_seen(connection, run_id)
            rows = connection.execute(statement).all()
        return tuple(EventRecord(row.run_id, row.number, row.kind, row.body, from_microseconds(row.at)) for row in rows)


def put_files(connection: Connection, run_id: str, files: Sequence[FileRecord]) -> None:
    """Record files in place of those of the same name."""
    for file in files:
        facts: dict[str, Any] = {
            "path": file.path,
            "size": file.size,
            "sha256": file.sha256,
            "media_type": file.media_type,
        }
        insert_or_replace(connection, run_files, set(facts), {"run_id": run_id, "name": file.name, **facts})


def _must_be_seen(connection: Connection, run_id: str) -> None:
    if connection.execute(select(runs.c.run_id).where(seen(run_id))).first() is None:
        raise NotFound("run", run_id)
