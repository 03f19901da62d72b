"""Bearer tokens: made, read and judged; the store keeps only what cannot be used to get in."""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from leadline.errors import LeadlineError
from leadline_service.identifiers import BadIdentifier, new_token_id, parse_token_id, written

__all__ = ["Forbidden", "NewToken", "Role", "TokenRecord", "Unauthenticated", "authenticate", "authorise", "make_token"]

SECRET_BYTES = 32
PREFIX = "leadline"
NO_DIGEST = "0" * 64
"""What an unknown token's secret is compared with, so that it takes as long as a known one's."""


class Role(StrEnum):
    """What a token's bearer may do; each role includes the ones before it."""

    READ = "read"
    RUN = "run"
    ADMIN = "admin"

    def includes(self, needed: Role) -> bool:
        """Tell whether this role may do what `needed` may."""
        order = tuple(Role)
        return order.index(self) >= order.index(needed)


@dataclass(frozen=True, slots=True)
class TokenRecord:
    """What is kept of a token.

    Parameters
    ----------
    token_id
        Its identifier, which is no secret.
    caller
        Whose it is: what fair shares and limits go by.
    role
        What its bearer may do.
    digest
        SHA-256 of the secret in hexadecimal. The secret is 256 random bits, so no slow hash is needed.
    created, expires, revoked
        When it was made, when it ends by itself (None for never) and when it was revoked (None for not).
    """

    token_id: str
    caller: str
    role: Role
    digest: str = field(repr=False)
    created: datetime
    expires: datetime | None = None
    revoked: datetime | None = None

    def is_good(self, now: datetime) -> bool:
        """Tell whether it opens the door at a moment."""
        return self.revoked is None and (self.expires is None or now < self.expires)


@dataclass(frozen=True, slots=True)
class NewToken:
    """A token just made.

    Parameters
    ----------
    text
        What the bearer sends. Shown to them once; kept nowhere, and left out of this record's own text.
    record
        What is kept.
    """

    text: str = field(repr=False)
    record: TokenRecord


class Unauthenticated(LeadlineError):
    """Whoever asks has shown no token that is good."""

    def __init__(self) -> None:
        # The same words for a wrong, an expired and a revoked token: whoever guesses learns nothing.
        super().__init__("no good token was shown; send Authorization: Bearer and a token made by this service")


class Forbidden(LeadlineError):
    """A token's role does not reach.

    Parameters
    ----------
    role, needed
        The role it has, and the one it would take.
    """

    def __init__(self, role: Role, needed: Role) -> None:
        self.role, self.needed = role, needed
        super().__init__(f"this takes a token with the role {needed}; the one shown has the role {role}")


def make_token(caller: str, role: Role, now: datetime, expires: datetime | None = None) -> NewToken:
    """Make a token with a secret of 256 random bits.

    Parameters
    ----------
    caller
        Whose it is.
    role
        What its bearer may do.
    now
        The time of day.
    expires
        When it ends by itself; None for never.
    """
    token_id = new_token_id()
    secret = written(secrets.token_bytes(SECRET_BYTES))
    record = TokenRecord(token_id, caller, role, _digest(secret), now, expires)
    return NewToken(f"{PREFIX}_{token_id}_{secret}", record)


def authenticate(shown: str, find: Callable[[str], TokenRecord | None], now: datetime) -> TokenRecord:
    """Return the record of the token that was shown.

    Parameters
    ----------
    shown
        What came after ``Bearer``.
    find
        Gives the record of a token id, or None.
    now
        The time of day.

    Raises
    ------
    Unauthenticated
        It is none of ours, its secret is wrong, or it is expired or revoked.
    """
    token_id, secret = _parts(shown)
    record = find(token_id)
    digest = NO_DIGEST if record is None else record.digest
    same = hmac.compare_digest(digest, _digest(secret))
    if record is None or not same or not record.is_good(now):
        raise Unauthenticated
    return record


def authorise(record: TokenRecord, needed: Role) -> None:
    """Let a token's bearer pass.

    Raises
    ------
    Forbidden
        Its role does not reach.
    """
    if not record.role.includes(needed):
        raise Forbidden(record.role, needed)


def _parts(shown: str) -> tuple[str, str]:
    prefix, _, rest = shown.partition("_")
    token_id, _, secret = rest.rpartition("_")
    try:
        parsed = parse_token_id(token_id)
    except BadIdentifier as error:
        raise Unauthenticated from error
    if prefix != PREFIX or not secret:
        raise Unauthenticated
    return parsed, secret


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
