"""Studies kept warm for trying changes: their draws, within a bound on memory and on time."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field

from leadline.run.trying import Trying
from leadline_service.clock import Clock

__all__ = ["WarmStudies"]


@dataclass(slots=True)
class _Kept:
    """One study, made once however many ask for it at a time."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    trying: Trying | None = None
    used_s: float = 0.0

    @property
    def nbytes(self) -> int:
        return 0 if self.trying is None else self.trying.nbytes


class WarmStudies:
    """Keeps the studies last tried.

    Parameters
    ----------
    limit_bytes
        Most memory they may hold together; the one just asked for is kept whatever its size.
    keep_s
        How long one is kept that nobody asks for, s.
    clock
        Tells the time.
    """

    def __init__(self, limit_bytes: int, keep_s: float, clock: Clock) -> None:
        self._limit_bytes, self._keep_s, self._clock = limit_bytes, keep_s, clock
        self._kept: OrderedDict[str, _Kept] = OrderedDict()
        self._lock = threading.Lock()

    @property
    def nbytes(self) -> int:
        """Memory held, bytes."""
        with self._lock:
            return sum(kept.nbytes for kept in self._kept.values())

    def __len__(self) -> int:
        return len(self._kept)

    def get(self, key: str, make: Callable[[], Trying]) -> Trying:
        """Return the study kept under a key, made first where it is not there."""
        with self._lock:
            kept = self._kept.setdefault(key, _Kept())
            self._kept.move_to_end(key)
            kept.used_s = self._clock.monotonic()
        with kept.lock:
            if kept.trying is None:
                try:
                    kept.trying = make()
                except BaseException:
                    with self._lock:
                        self._kept.pop(key, None)
                    raise
        self._tidy(key)
        return kept.trying

    def _tidy(self, key: str) -> None:
        """Let go of what nobody has asked for lately, then of the least recent beyond the bound."""
        with self._lock:
            oldest_s = self._clock.monotonic() - self._keep_s
            for name in [name for name, kept in self._kept.items() if kept.used_s < oldest_s and name != key]:
                del self._kept[name]
            while len(self._kept) > 1 and sum(kept.nbytes for kept in self._kept.values()) > self._limit_bytes:
                name = next(iter(self._kept))
                if name == key:
                    self._kept.move_to_end(name)
                    name = next(iter(self._kept))
                del self._kept[name]
