"""The store opened as the settings say, and the rule that nobody far away is served without tokens."""

from __future__ import annotations

from leadline.errors import LeadlineError
from leadline_service.clock import Clock
from leadline_service.settings import Settings
from leadline_service.store.migrating import migrate
from leadline_service.store.opening import open_store
from leadline_service.store.port import Store

__all__ = ["Unprotected", "opened_store", "require_protected"]


class Unprotected(LeadlineError):
    """The service would be reached from other machines, and nobody would have to show a token.

    Parameters
    ----------
    host
        The address it was to listen on.
    """

    def __init__(self, host: str) -> None:
        self.host = host
        super().__init__(
            f"There are no access tokens, so Leadline listens on this machine only: {host!r} is refused. "
            "Make a token first (leadline tokens make), or write 127.0.0.1, ::1 or localhost."
        )


def opened_store(settings: Settings, clock: Clock | None = None) -> Store:
    """Open the store with its tables brought up to date.

    Raises
    ------
    StoreUnavailable
        It does not answer, or was made by a newer version.
    """
    migrate(settings.store_url)
    return open_store(settings.store_url, clock)


def require_protected(settings: Settings, store: Store) -> None:
    """Refuse to be reached from other machines as long as no token was made.

    Raises
    ------
    Unprotected
        There is none.
    """
    if not settings.is_loopback and not store.tokens():
        raise Unprotected(settings.host)
