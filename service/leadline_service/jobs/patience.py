"""Waiting for what is out of reach: longer each time, never in step with others."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from typing import TypeVar

from leadline_service.store.errors import StoreUnavailable

__all__ = ["Wait", "backoff", "persist"]

T = TypeVar("T")

Wait = Callable[[float], bool]
"""Waits for so many seconds, or until there is no point in waiting any longer: then it returns True at once."""


def backoff(first_s: float = 0.1, most_s: float = 5.0) -> Iterator[float]:
    """Yield how long to wait, without end: doubling up to `most_s`, each between half of it and the whole."""
    step_s = first_s
    while True:
        yield step_s * random.uniform(0.5, 1.0)  # noqa: S311 - spreads tries in time, is no secret
        step_s = min(2 * step_s, most_s)


def persist(action: Callable[[], T], wait: Wait, told: Callable[[StoreUnavailable], None]) -> T:
    """Do something to the store, again and again while it does not answer.

    Parameters
    ----------
    action
        May be repeated as it is.
    wait
        Between two tries.
    told
        Told of each try that failed.

    Raises
    ------
    StoreUnavailable
        There is no point in waiting any longer.
    """
    for pause_s in backoff():
        try:
            return action()
        except StoreUnavailable as error:
            told(error)
            if wait(pause_s):
                raise
    raise AssertionError("the pauses have no end")
