"""Runs wanted, for the tests of the store."""

from __future__ import annotations

from typing import Any

from leadline_service.store.port import Store
from leadline_service.store.records import Claim, FileRecord, RunRecord, Submission

__all__ = ["TEXT", "a_file", "claimed", "queued", "wanted"]

TEXT = "leadline: 1\ntitle: Tern – außen\n"


def wanted(store: Store, caller: str = "ann", seed: int = 0, extends: str | None = None) -> Submission:
    """Return a submission of a stored study; its seed makes its identity."""
    study = store.put_study(TEXT, "Tern")
    return Submission(caller, study.content_id, {"seed": seed, "cases": 1000}, f"identity {seed}", 1000, extends)


def queued(store: Store, caller: str = "ann", seed: int = 0) -> RunRecord:
    """Return a run that waits."""
    return store.submit(wanted(store, caller, seed)).run


def claimed(store: Store, owner: str = "one", lease_s: float = 30.0) -> Claim:
    """Return a claim, of a new run where none waits."""
    claim = store.claim(owner, lease_s)
    if claim is None:
        queued(store)
        claim = store.claim(owner, lease_s)
    assert claim is not None
    return claim


def a_file(name: str = "result.json", **changes: Any) -> FileRecord:
    """Return the record of a file."""
    facts = {"path": f"runs/r/1/{name}", "size": 12, "sha256": "0" * 64, "media_type": "application/json", **changes}
    return FileRecord(name=name, **facts)
