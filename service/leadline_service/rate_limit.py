"""How often one may ask: a bucket of tokens for each caller."""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from typing import Final

from leadline_service.clock import Clock
from leadline_service.refusals import Refusal

__all__ = ["RateLimit"]

MOST_BUCKETS: Final = 10_000
"""Buckets remembered; the one unused for longest goes first, and would have filled up again."""


class RateLimit:
    """Lets everybody ask so often in the long run, and so often at once.

    Parameters
    ----------
    rate_per_s
        How fast a bucket fills.
    burst
        How much it holds.
    clock
        Tells the time.
    """

    def __init__(self, rate_per_s: float, burst: int, clock: Clock) -> None:
        self._rate_per_s, self._burst, self._clock = rate_per_s, burst, clock
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def take(self, who: str) -> None:
        """Take one from a bucket.

        Raises
        ------
        Refusal
            It is empty; 429 with Retry-After.
        """
        now = self._clock.monotonic()
        with self._lock:
            level, at = self._buckets.pop(who, (float(self._burst), now))
            level = min(self._burst, level + (now - at) * self._rate_per_s)
            left = level - 1 if level >= 1 else level
            self._buckets[who] = (left, now)
            if len(self._buckets) > MOST_BUCKETS:
                self._buckets.popitem(last=False)
        if level < 1:
            wait = max(1, math.ceil((1 - level) / self._rate_per_s))
            raise Refusal(429, "Too many requests in too short a time.", headers={"Retry-After": str(wait)})
