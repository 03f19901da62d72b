"""Deleted runs removed for good: first their files, then what the store holds of them."""

from __future__ import annotations

from leadline_service.files import Files, run_folder
from leadline_service.store.port import Store

__all__ = ["sweep"]


def sweep(store: Store, files: Files, limit: int = 100) -> int:
    """Remove deleted runs, and count them; after a crash the next sweep goes on where this one ended.

    Raises
    ------
    leadline.errors.OutputError
        Files cannot be removed now.
    StoreUnavailable
        The database does not answer.
    """
    condemned = store.condemned(limit)
    for run_id in condemned:
        files.delete(run_folder(run_id))
        store.purge(run_id)
    return len(condemned)
