"""A typed client of the service: what a study is asked there, and the same documents as from a local run."""

from __future__ import annotations

from leadline.client.asked import CompareFields, Drivers, Rare, RunFields, Sizing, Span, Sweep, TrialFields
from leadline.client.async_client import AsyncClient, AsyncRunHandle
from leadline.client.client import Client, RunHandle
from leadline.client.errors import Busy, Refused, RequestFlaw, RunFailed
from leadline.client.wire import Event, Run, RunProgress, RunState, StoredStudy, StudyVersion, Trial

__all__ = [
    "AsyncClient",
    "AsyncRunHandle",
    "Busy",
    "Client",
    "CompareFields",
    "Drivers",
    "Event",
    "Rare",
    "Refused",
    "RequestFlaw",
    "Run",
    "RunFailed",
    "RunFields",
    "RunHandle",
    "RunProgress",
    "RunState",
    "Sizing",
    "Span",
    "StoredStudy",
    "StudyVersion",
    "Sweep",
    "Trial",
    "TrialFields",
]
