"""A clock that stands still until a test steps it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

__all__ = ["NOON", "SteppedClock"]

NOON = datetime(2033, 4, 5, 12, 0, tzinfo=UTC)


class SteppedClock:
    """A clock for tests.

    Parameters
    ----------
    at
        What it shows at first.
    """

    def __init__(self, at: datetime = NOON) -> None:
        self._at, self._passed_s = at, 0.0

    def now(self) -> datetime:
        """Return what it shows."""
        return self._at

    def monotonic(self) -> float:
        """Return the seconds let pass so far."""
        return self._passed_s

    def step(self, seconds: float) -> None:
        """Let time pass."""
        self._passed_s += seconds
        self._at += timedelta(seconds=seconds)

    def set_by(self, seconds: float) -> None:
        """Set the time of day forward or back, as an administrator would; no time passes."""
        self._at += timedelta(seconds=seconds)
