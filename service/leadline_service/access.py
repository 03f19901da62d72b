"""Who asks, and may they: bearer tokens, and the one case in which none is needed.

A service that only this machine reaches, and for which no token was ever made, is open to whoever sits at it. Browsers
sit there too, and show pages of strangers: an open service therefore answers only requests that were meant for this
machine by name, and none that a page from elsewhere made. The same holds for a token in the cookie that the pages'
sign-in leaves with a browser, which the browser sends along whoever asks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

from leadline_service.clock import Clock
from leadline_service.refusals import Refusal
from leadline_service.settings import is_loopback
from leadline_service.store.port import Store
from leadline_service.tokens import Role, Unauthenticated, authenticate, authorise

__all__ = ["COOKIE", "LOCAL", "Access", "Caller", "require_own_page"]

COOKIE = "leadline-token"
"""The cookie in which the pages' sign-in keeps a token. It is good only for requests that pages of ours make."""

LOCAL = "local"
"""The caller's name where no token is needed."""


@dataclass(frozen=True, slots=True)
class Caller:
    """Who asks: what fair shares and limits go by, and what they may do."""

    name: str
    role: Role

    def may_change(self, owner: str) -> bool:
        """Tell whether this caller may stop or delete what belongs to `owner`."""
        return self.name == owner or self.role is Role.ADMIN


class Access:
    """Judges who asks.

    Parameters
    ----------
    store
        Keeps the tokens.
    clock
        Tells the time.
    loopback
        Whether only this machine reaches the service.
    """

    def __init__(self, store: Store, clock: Clock, *, loopback: bool) -> None:
        self._store, self._clock = store, clock
        self._may_be_open = loopback

    @property
    def is_open(self) -> bool:
        """Whether no token is needed: on a loopback address, as long as none was ever made."""
        # Records of tokens stay when they are revoked, so the door, once shut, is not opened by revoking the last one.
        if self._may_be_open and self._store.tokens():
            self._may_be_open = False
        return self._may_be_open

    def caller(self, headers: Mapping[str, str], needed: Role) -> Caller:
        """Return who asks.

        Parameters
        ----------
        headers
            The request's, names in lower case.
        needed
            The role it takes.

        Raises
        ------
        Unauthenticated
            No good token is shown, and one is needed.
        Forbidden
            The token's role does not reach.
        Refusal
            A page from elsewhere asks, of an open service or with a cookie.
        """
        shown = _bearer(headers.get("authorization"))
        if shown is None and self.is_open:
            _require_near(headers)
            return Caller(LOCAL, Role.ADMIN)
        if shown is None:
            shown = _cookie(headers.get("cookie"))
            require_own_page(headers)
        if shown is None:
            raise Unauthenticated
        record = authenticate(shown, self._store.token, self._clock.now())
        authorise(record, needed)
        return Caller(record.caller, record.role)


def _bearer(header: str | None) -> str | None:
    """Return the token of an Authorization header; None where there is no header.

    Raises
    ------
    Unauthenticated
        It is of another kind.
    """
    if header is None:
        return None
    scheme, _, shown = header.partition(" ")
    if scheme.lower() != "bearer" or not shown.strip():
        raise Unauthenticated
    return shown.strip()


def _cookie(header: str | None) -> str | None:
    """Return the token in a Cookie header; None where there is none."""
    pairs = (part.strip().partition("=") for part in (header or "").split(";"))
    return next((value.strip('"') for name, _, value in pairs if name == COOKIE and value), None)


def require_own_page(headers: Mapping[str, str]) -> None:
    """Refuse what a page from elsewhere asks with the help of a browser's cookie.

    Raises
    ------
    Refusal
        It was made from elsewhere; 403.
    """
    origin = headers.get("origin")
    own = origin is None or _place_of(origin) == headers.get("host", "").lower()
    if not own or headers.get("sec-fetch-site", "none") not in {"none", "same-origin"}:
        raise Refusal(403, "This was asked from a page that is not this service's.")


def _place_of(address: str) -> str | None:
    """Return the host and port of an address; None where it is none."""
    try:
        return urlsplit(address).netloc.lower()
    except ValueError:
        return None


def _require_near(headers: Mapping[str, str]) -> None:
    """Refuse what was not meant for this machine, or was made by a page from elsewhere."""
    host = _host_of(f"//{headers.get('host', '')}")
    origin = headers.get("origin")
    near = host is not None and is_loopback(host) and (origin is None or _host_of(origin) == host)
    if not near or headers.get("sec-fetch-site", "none") not in {"none", "same-origin"}:
        raise Refusal(403, "Without access tokens this service answers requests from this machine only.")


def _host_of(address: str) -> str | None:
    try:
        return urlsplit(address).hostname
    except ValueError:
        return None
