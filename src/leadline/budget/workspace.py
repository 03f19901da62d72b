"""Memory that one evaluation after another reuses.

A block of cases needs a few dozen arrays of the block's length. Taking them from here
instead of the allocator keeps them in cache and spares a page fault for every 4 KiB on
allocators told to give memory back at once.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["Workspace"]

Array = npt.NDArray[np.float64]


class Workspace:
    """Buffers of one length, in two stacks.

    ``keep`` gives a buffer that is valid until the next evaluation begins, ``temporary``
    one that is valid until the current leg or margin is done. A workspace serves one
    thread at a time.

    Parameters
    ----------
    n
        Number of cases, the length of every buffer.
    """

    def __init__(self, n: int) -> None:
        self.n = n
        self._kept: list[Array] = []
        self._temporary: list[Array] = []
        self._kept_in_use = 0
        self._temporary_in_use = 0
        self._table = np.empty((0, n))

    def restart(self) -> None:
        """Begin an evaluation: every buffer may be handed out anew."""
        self._kept_in_use = 0
        self._temporary_in_use = 0

    def end_step(self) -> None:
        """End a leg or margin: its temporary buffers may be handed out anew."""
        self._temporary_in_use = 0

    def table(self, rows: int) -> Array:
        """Give one two-dimensional buffer, contents undefined, valid until the next evaluation.

        Parameters
        ----------
        rows
            Number of rows; the only call of an evaluation decides.

        Returns
        -------
        (rows, n)
        """
        if len(self._table) != rows:
            self._table = np.empty((rows, self.n))
        return self._table

    def keep(self) -> Array:
        """Give a buffer, contents undefined, valid until the next evaluation.

        Returns
        -------
        (n,)
        """
        if self._kept_in_use == len(self._kept):
            self._kept.append(np.empty(self.n))
        self._kept_in_use += 1
        return self._kept[self._kept_in_use - 1]

    def temporary(self) -> Array:
        """Give a buffer, contents undefined, valid until the step ends.

        Returns
        -------
        (n,)
        """
        if self._temporary_in_use == len(self._temporary):
            self._temporary.append(np.empty(self.n))
        self._temporary_in_use += 1
        return self._temporary[self._temporary_in_use - 1]
