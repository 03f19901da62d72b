"""Two things timed in turn."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

__all__ = ["ratio", "seconds"]


def seconds(run: Callable[[], object]) -> float:
    """Time one call."""
    began = time.perf_counter()
    run()
    return time.perf_counter() - began


def ratio(first: Callable[[], object], second: Callable[[], object], rounds: int = 7) -> tuple[float, float, float]:
    """Time two things in turn: median seconds of each, median of second over first."""
    first()
    second()
    pairs = [(seconds(first), seconds(second)) for _ in range(rounds)]
    one, two = (statistics.median(times) for times in zip(*pairs, strict=True))
    return one, two, statistics.median(b / a for a, b in pairs)
