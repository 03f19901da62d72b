"""What every request is answered with: the store, the files, and who guards and computes."""

from __future__ import annotations

from dataclasses import dataclass
from threading import BoundedSemaphore, Event
from typing import Protocol

from leadline_service.access import Access
from leadline_service.clock import Clock
from leadline_service.files import Files
from leadline_service.metrics import Metrics
from leadline_service.rate_limit import RateLimit
from leadline_service.settings import Settings
from leadline_service.store.port import Store
from leadline_service.trials import Trials
from leadline_service.warm import WarmStudies

__all__ = ["Computing", "Service"]


class Computing(Protocol):
    """Whoever computes queued runs beside this server."""

    @property
    def alive(self) -> bool:
        """Whether it still looks for runs."""
        ...

    @property
    def trouble(self) -> str | None:
        """Why nothing can be computed now; None where it can."""
        ...

    def start(self) -> None:
        """Begin to look for runs."""
        ...

    def wake(self) -> None:
        """Look at once: a run was submitted, or asked to stop."""
        ...

    def close(self) -> None:
        """Hand back what is under way and end."""
        ...


@dataclass(frozen=True, slots=True)
class Service:
    """What is open while the server runs.

    Parameters
    ----------
    settings, clock
        What it was told, and its time.
    store, files
        What outlives it.
    access, rate, failures
        Who may ask, how often, and how often one without a good token may try.
    trials, warm, streams
        Computes while the caller waits; studies kept warm for that; places for streams of events.
    metrics
        What is counted.
    computing
        Who computes queued runs here; None where another process does.
    leaving
        Set once the server ends, so that streams end.
    """

    settings: Settings
    clock: Clock
    store: Store
    files: Files
    access: Access
    rate: RateLimit
    failures: RateLimit
    trials: Trials
    warm: WarmStudies
    streams: BoundedSemaphore
    metrics: Metrics
    computing: Computing | None
    leaving: Event

    def wake(self) -> None:
        """Have whoever computes here look at once for what is new."""
        if self.computing is not None:
            self.computing.wake()

    @classmethod
    def of(
        cls,
        settings: Settings,
        clock: Clock,
        store: Store,
        files: Files,
        *,
        metrics: Metrics,
        computing: Computing | None,
        leaving: Event,
    ) -> Service:
        """Put a service together from what is open."""
        return cls(
            settings=settings,
            clock=clock,
            store=store,
            files=files,
            access=Access(store, clock, loopback=settings.is_loopback),
            rate=RateLimit(settings.rate_per_s, settings.rate_burst, clock),
            failures=RateLimit(rate_per_s=1.0, burst=20, clock=clock),
            trials=Trials(settings, metrics.trials),
            warm=WarmStudies(settings.warm_bytes, settings.warm_s, clock),
            streams=BoundedSemaphore(settings.streams),
            metrics=metrics,
            computing=computing,
            leaving=leaving,
        )
