"""A dispatcher as a process of its own, beside servers on the same store."""

from __future__ import annotations

import signal
import threading
from contextlib import closing
from types import FrameType

from leadline_service.files import open_files
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.settings import Settings
from leadline_service.store.port import Store

__all__ = ["dispatch_until_told"]

POLL_S = 0.5


def dispatch_until_told(settings: Settings, store: Store) -> bool:
    """Compute the runs of a store until SIGTERM or Ctrl-C; runs under way are then given back with what is done.

    Parameters
    ----------
    settings
        Where files are, how many runs at a time, and where they are computed.
    store
        Where runs are; closed at the end.

    Returns
    -------
    bool
        Whether it was told to end; False when it ended by itself, which it should not.

    Raises
    ------
    FilesUnavailable
        There is no place for files.
    """
    told = threading.Event()

    def tell(_number: int, _frame: FrameType | None) -> None:
        told.set()

    before = {number: signal.signal(number, tell) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        with closing(store), Dispatcher(settings, store, open_files(settings.files_place)) as dispatcher:
            while dispatcher.alive and not told.wait(POLL_S):
                pass
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    return told.is_set()
