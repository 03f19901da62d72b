"""What a store refuses, as a tree.

StoreError
├── StoreUnavailable    the database did not answer, is locked, full, or not migrated; nothing half-done stays
├── NotFound            there is no such study, run, file or token
├── LeaseLost           the run belongs to somebody else by now; whatever was to be written was not
├── KeyReused           an idempotency key came back with another request
├── TooMany             a limit on runs is reached; try again later
├── NotEnded            only ended runs can be deleted or given files
├── BadCursor           a page cursor that was not made here, or for another listing
└── Corrupt             kept bytes are not what was stored; the run has to start over
"""

from __future__ import annotations

from typing import Literal

from leadline.errors import LeadlineError

__all__ = [
    "BadCursor",
    "Corrupt",
    "KeyReused",
    "LeaseLost",
    "NotEnded",
    "NotFound",
    "StoreError",
    "StoreUnavailable",
    "TooMany",
]


class StoreError(LeadlineError):
    """Anything that a store refuses."""


class StoreUnavailable(StoreError):
    """The database did not answer in time, is locked, full, or not migrated.

    Nothing half-done stays. Where the database went away while it was committing, the change may be there after all:
    every write of the port may therefore be repeated with the same arguments.
    """


class NotFound(StoreError):
    """There is no such thing.

    Parameters
    ----------
    kind
        What was looked for: ``study``, ``run`` or ``token``.
    identifier
        By which name.
    """

    def __init__(self, kind: str, identifier: str) -> None:
        self.kind, self.identifier = kind, identifier
        super().__init__(f"there is no {kind} {identifier}")


class LeaseLost(StoreError):
    """A run belongs to somebody else by now, or has ended, or is gone.

    Parameters
    ----------
    run_id
        Which run.
    fence
        The fencing number that is no longer good.
    """

    def __init__(self, run_id: str, fence: int) -> None:
        self.run_id, self.fence = run_id, fence
        super().__init__(f"the lease on {run_id} with fencing number {fence} is lost; nothing was written")


class KeyReused(StoreError):
    """An idempotency key came back with another request.

    Parameters
    ----------
    key
        The key.
    run_id
        The run it was first used for.
    """

    def __init__(self, key: str, run_id: str) -> None:
        self.key, self.run_id = key, run_id
        super().__init__(f"the idempotency key {key!r} was used before, with another request, for {run_id}")


class TooMany(StoreError):
    """A limit on runs is reached.

    Parameters
    ----------
    scope
        Whose limit: ``caller`` or ``service``.
    limit
        How many runs may wait.
    retry_after_s
        When to try again, s.
    """

    def __init__(self, scope: Literal["caller", "service"], limit: int, retry_after_s: int) -> None:
        self.scope, self.limit, self.retry_after_s = scope, limit, retry_after_s
        whose = "this caller has" if scope == "caller" else "the service has"
        super().__init__(f"{whose} {limit} runs waiting already; try again in {retry_after_s} s")


class NotEnded(StoreError):
    """Only ended runs can be deleted or given files.

    Parameters
    ----------
    run_id
        Which run.
    state
        Where it stands.
    """

    def __init__(self, run_id: str, state: str) -> None:
        self.run_id, self.state = run_id, state
        super().__init__(f"{run_id} is {state}; cancel it or wait for its end first")


class BadCursor(StoreError):
    """A page cursor that was not made here, or for another listing."""

    def __init__(self) -> None:
        super().__init__("the cursor does not belong to this listing; start again without one")


class Corrupt(StoreError):
    """Kept bytes are not what was stored; the run has to start over.

    Parameters
    ----------
    run_id
        Which run.
    """

    def __init__(self, run_id: str) -> None:
        self.run_id = run_id
        super().__init__(f"what was kept of {run_id} is not what was stored (checksums differ)")
