"""Tokens: what is kept of them."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Row, func, select, update

from leadline_service.clock import from_microseconds, microseconds
from leadline_service.store.errors import NotFound
from leadline_service.store.sql_rows import Part, insert_or_replace
from leadline_service.store.tables import tokens
from leadline_service.tokens import Role, TokenRecord

__all__ = ["TokensPart"]


class TokensPart(Part):
    """Tokens in an SQL database."""

    def add_token(self, record: TokenRecord) -> None:
        """Keep a token's record."""
        values = {
            "token_id": record.token_id,
            "caller": record.caller,
            "role": record.role,
            "digest": record.digest,
            "created": microseconds(record.created),
            "expires": None if record.expires is None else microseconds(record.expires),
            "revoked": None if record.revoked is None else microseconds(record.revoked),
        }
        with self.database.write() as connection:
            insert_or_replace(connection, tokens, set(), values)

    def token(self, token_id: str) -> TokenRecord | None:
        """Return a token's record."""
        with self.database.read() as connection:
            row = connection.execute(select(tokens).where(tokens.c.token_id == token_id)).one_or_none()
        return None if row is None else _token_record(row)

    def tokens(self) -> tuple[TokenRecord, ...]:
        """Return every token's record."""
        with self.database.read() as connection:
            rows = connection.execute(select(tokens).order_by(tokens.c.created, tokens.c.token_id)).all()
        return tuple(_token_record(row) for row in rows)

    def revoke_token(self, token_id: str) -> TokenRecord:
        """Make a token worthless; one that is revoked already keeps its time."""
        revoked = func.coalesce(tokens.c.revoked, self.database.now())
        statement = update(tokens).where(tokens.c.token_id == token_id).values(revoked=revoked).returning(tokens)
        with self.database.write() as connection:
            row = connection.execute(statement).one_or_none()
        if row is None:
            raise NotFound("token", token_id)
        return _token_record(row)


def _token_record(row: Row[Any]) -> TokenRecord:
    return TokenRecord(
        token_id=row.token_id,
        caller=row.caller,
        role=Role(row.role),
        digest=row.digest,
        created=from_microseconds(row.created),
        expires=None if row.expires is None else from_microseconds(row.expires),
        revoked=None if row.revoked is None else from_microseconds(row.revoked),
    )
