"""What is counted and timed, for whoever watches the service."""

from __future__ import annotations

from collections.abc import Iterator

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from leadline_service.store.port import Store

__all__ = ["MEDIA_TYPE", "Metrics"]

MEDIA_TYPE = "text/plain; version=1.0.0; charset=utf-8"
BUCKETS = (0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0)


class Metrics:
    """The metrics of one application; each has a registry of its own, so that two do not add up."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.requests = Counter(
            "leadline_http_requests", "Requests answered.", ["operation", "status"], registry=self.registry
        )
        self.seconds = Histogram(
            "leadline_http_request_seconds",
            "Time to the first byte of the answer.",
            ["operation"],
            buckets=BUCKETS,
            registry=self.registry,
        )
        self.trials = Gauge("leadline_trials", "Trials being computed.", registry=self.registry)
        self._runs: Collector | None = None
        self.streams = Gauge("leadline_event_streams", "Streams of events open.", registry=self.registry)

    def watch(self, store: Store) -> None:
        """Count runs by state whenever the metrics are asked for; in place of another store, when started again."""
        if self._runs is not None:
            self.registry.unregister(self._runs)
        self._runs = _Runs(store)
        self.registry.register(self._runs)

    def text(self) -> bytes:
        """Return everything, as Prometheus reads it."""
        return generate_latest(self.registry)


class _Runs(Collector):
    def __init__(self, store: Store) -> None:
        self._store = store

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """Count."""
        family = GaugeMetricFamily("leadline_runs", "Runs by state.", labels=["state"])
        for state, count in self._store.counts().items():
            family.add_metric([state.value], count)
        yield family

    def describe(self) -> Iterator[GaugeMetricFamily]:
        """Say what will be counted, without asking the store."""
        yield GaugeMetricFamily("leadline_runs", "Runs by state.", labels=["state"])
