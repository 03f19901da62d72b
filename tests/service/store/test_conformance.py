"""Every store does what the port says."""

from __future__ import annotations

from service.store.conformance_events import EventsConformance
from service.store.conformance_leases import FencingConformance, LeasesConformance
from service.store.conformance_runs import RunsConformance
from service.store.conformance_studies import StudiesConformance, TokensConformance


class StoreConformance(
    StudiesConformance, TokensConformance, RunsConformance, LeasesConformance, FencingConformance, EventsConformance
):
    """What every store does; asks for the fixtures `store` and `clock`."""


class TestSqlStore(StoreConformance):
    """The one store there is, on both kinds of database."""
