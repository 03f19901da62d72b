"""The time of day, as something that is handed in."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import Protocol

__all__ = ["Clock", "SystemClock", "from_microseconds", "microseconds"]

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Clock(Protocol):
    """Tells the time; tests hand in one that they step."""

    def now(self) -> datetime:
        """Return the time of day in UTC; it may be set, so it can jump either way."""
        ...

    def monotonic(self) -> float:
        """Return seconds since some moment; never goes back."""
        ...


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """Return the time of day in UTC."""
        return datetime.now(UTC)

    def monotonic(self) -> float:
        """Return seconds since the machine was started, or some such moment."""
        return time.monotonic()


def microseconds(moment: datetime) -> int:
    """Return a moment as whole microseconds since 1970, exactly.

    Raises
    ------
    TypeError
        The moment carries no time zone.
    """
    return (moment - EPOCH) // timedelta(microseconds=1)


def from_microseconds(count: int) -> datetime:
    """Return the moment so many microseconds after 1970, in UTC."""
    return EPOCH + timedelta(microseconds=count)
