"""Studies: texts by their content, and names with versions."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, Select, delete, func, insert, select

from leadline_service.clock import from_microseconds
from leadline_service.identifiers import content_id as content_id_of
from leadline_service.store.cursors import cursor_after, position_in
from leadline_service.store.errors import BadCursor, NotFound
from leadline_service.store.records import Page, StudyRecord, StudyVersion
from leadline_service.store.sql_rows import Part, insert_or_replace
from leadline_service.store.tables import studies, study_versions

__all__ = ["StudiesPart"]


MOST_VERSIONS = 2**31 - 1


class StudiesPart(Part):
    """Studies in an SQL database."""

    def put_study(self, text: str, title: str) -> StudyRecord:
        """Store a text, or find it."""
        with self.database.write() as connection:
            return _put(connection, text, title, self.database.now())

    def study(self, content_id: str) -> StudyRecord:
        """Return a text."""
        with self.database.read() as connection:
            return _study(connection, content_id)

    def name_study(self, name: str, text: str, title: str, caller: str) -> StudyVersion:
        """Make a text the newest version of a name."""
        now = self.database.now()
        with self.database.write() as connection:
            self.database.one_at_a_time(connection, "submit")
            study = _put(connection, text, title, now)
            newest = connection.execute(_newest_first(name).limit(1)).one_or_none()
            if newest is not None and newest.content_id == study.content_id:
                return _version_record(newest)
            number = 1 if newest is None else newest.version + 1
            values = {"name": name, "version": number, "content_id": study.content_id, "caller": caller, "created": now}
            connection.execute(insert(study_versions).values(values))
            return StudyVersion(name, number, study.content_id, study.title, caller, from_microseconds(now))

    def version(self, name: str, version: int | None = None) -> StudyVersion:
        """Return one version of a name."""
        statement = _newest_first(name).limit(1)
        if version is not None:
            number = version if 0 < version <= MOST_VERSIONS else 0  # there is none, and none that a column could hold
            statement = statement.where(study_versions.c.version == number)
        with self.database.read() as connection:
            row = connection.execute(statement).one_or_none()
        if row is None:
            raise NotFound("study", name if version is None else f"{name}, version {version}")
        return _version_record(row)

    def versions(self, name: str, cursor: str | None = None, limit: int = 50) -> Page[StudyVersion]:
        """List a name's versions, newest first."""
        listing = ["versions", name]
        statement = _newest_first(name).limit(limit + 1)
        if cursor is not None:
            statement = statement.where(study_versions.c.version < _number(position_in(listing, cursor)))
        with self.database.read() as connection:
            rows = connection.execute(statement).all()
        if not rows and cursor is None:
            raise NotFound("study", name)
        after = cursor_after(listing, str(rows[limit - 1].version)) if len(rows) > limit else None
        return Page(tuple(_version_record(row) for row in rows[:limit]), after)

    def studies(self, cursor: str | None = None, limit: int = 50) -> Page[StudyVersion]:
        """List the newest version of every name."""
        listing = "studies"
        newest = select(study_versions.c.name, func.max(study_versions.c.version).label("version"))
        if cursor is not None:
            newest = newest.where(study_versions.c.name > position_in(listing, cursor))
        newest_part = newest.group_by(study_versions.c.name).order_by(study_versions.c.name).limit(limit + 1).subquery()
        same = (study_versions.c.name == newest_part.c.name) & (study_versions.c.version == newest_part.c.version)
        statement = _titled().join(newest_part, same).order_by(study_versions.c.name)
        with self.database.read() as connection:
            rows = connection.execute(statement).all()
        after = cursor_after(listing, rows[limit - 1].name) if len(rows) > limit else None
        return Page(tuple(_version_record(row) for row in rows[:limit]), after)

    def forget_name(self, name: str) -> None:
        """Remove a name and its versions."""
        with self.database.write() as connection:
            removed = connection.execute(delete(study_versions).where(study_versions.c.name == name))
            if not removed.rowcount:
                raise NotFound("study", name)


def _put(connection: Connection, text: str, title: str, now: int) -> StudyRecord:
    content_id = content_id_of(text)
    values = {"content_id": content_id, "title": _storable(title), "text": text, "created": now, "used": now}
    insert_or_replace(connection, studies, {"used"}, values)
    return _study(connection, content_id)


def _study(connection: Connection, content_id: str) -> StudyRecord:
    row = connection.execute(select(studies).where(studies.c.content_id == content_id)).one_or_none()
    if row is None:
        raise NotFound("study", content_id)
    return StudyRecord(row.content_id, row.title, row.text, from_microseconds(row.created))


def _storable(title: str) -> str:
    """Replace what a JSON text can hold and a database cannot: zero characters and halves of pairs."""
    return title.encode(errors="replace").decode().replace("\0", "?")


def _titled() -> Select[Any]:
    return select(study_versions, studies.c.title).join(studies, studies.c.content_id == study_versions.c.content_id)


def _newest_first(name: str) -> Select[Any]:
    return _titled().where(study_versions.c.name == name).order_by(study_versions.c.version.desc())


def _version_record(row: Row[Any]) -> StudyVersion:
    created = from_microseconds(row.created)
    return StudyVersion(row.name, row.version, row.content_id, row.title, row.caller, created)


def _number(position: str) -> int:
    if not position.isdecimal() or int(position[:11]) > MOST_VERSIONS:
        raise BadCursor
    return int(position)
