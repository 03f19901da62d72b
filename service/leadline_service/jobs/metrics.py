"""What the dispatcher counts, as Prometheus reads it."""

from __future__ import annotations

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram

__all__ = ["JobMetrics"]

COMMIT_BUCKETS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0)
RUN_BUCKETS = (0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 15.0, 60.0, 300.0, 1800.0, 7200.0, 43200.0)


class JobMetrics:
    """The dispatcher's metrics.

    Parameters
    ----------
    registry
        Where they are registered; a registry of their own when None.
    """

    def __init__(self, registry: CollectorRegistry | None = None) -> None:
        self.registry = registry or CollectorRegistry()
        self.computing = Gauge("leadline_runs_computing", "Runs this process computes now.", registry=self.registry)
        self.workers = Gauge(
            "leadline_workers", "Tasks that can be computed at once; 0 while out of reach.", registry=self.registry
        )
        self.claimed = self._counter("leadline_runs_claimed", "Runs taken by this process.")
        self.ended = self._counter("leadline_runs_ended", "Runs brought to an end by this process.", "how")
        self.cases = self._counter("leadline_cases", "Cases computed; its rate is cases per second.")
        self.blocks = self._counter("leadline_blocks_committed", "Blocks of cases whose summary was committed.")
        self.commit_s = self._times("leadline_commit_seconds", "Time to commit progress.", COMMIT_BUCKETS)
        self.run_s = self._times("leadline_run_seconds", "Time from claim to end of a run.", RUN_BUCKETS)
        self.lost = self._counter("leadline_leases_lost", "Runs that others took over.")
        self.handed_back = self._counter("leadline_runs_handed_back", "Runs given up for another try.", "why")
        self.reaped = self._counter("leadline_runs_reaped", "Runs taken from owners not heard of any more.")
        self.store_away = self._counter("leadline_store_unavailable", "Times the store did not answer.")
        self.workplace_away = self._counter("leadline_workers_unreachable", "Times workers were out of reach.")
        self.purged = self._counter("leadline_runs_purged", "Deleted runs whose files were removed.")

    def _counter(self, name: str, about: str, *labels: str) -> Counter:
        return Counter(name, about, labels, registry=self.registry)

    def _times(self, name: str, about: str, buckets: tuple[float, ...]) -> Histogram:
        return Histogram(name, about, buckets=buckets, registry=self.registry)
