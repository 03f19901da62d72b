"""Ctrl-C: the first asks the run to stop and hand in what is finished, the second ends at once."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from leadline.cli.exits import talk

__all__ = ["stoppable"]


@contextmanager
def stoppable() -> Iterator[threading.Event]:
    """Give an event that the first Ctrl-C (or a request to terminate) sets.

    A second one raises KeyboardInterrupt. Outside the main thread signals are left alone.
    """
    stop = threading.Event()

    def asked(_number: int, _frame: FrameType | None) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()
        talk("Stopping; what is finished is kept. Once more ends at once.")

    if threading.current_thread() is not threading.main_thread():
        yield stop
        return
    before = {number: signal.signal(number, asked) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
