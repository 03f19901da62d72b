"""What a search for rare failures looks at: the model, its events, its streams of chance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from numpy.random import SFC64, Generator, SeedSequence

__all__ = ["Array", "Event", "Margins", "Model", "Stopped", "Watch", "in_pieces", "stream"]

Array = npt.NDArray[np.float64]

Margins = Callable[[Array], Array]
"""Independent standard normal scores (d, n) to margins (r, n); a case fails where a margin is negative.

It must leave the scores as they are, and may return a view that its next call overwrites.
"""

Watch = Callable[[Array], Array]
"""Scores (d, n) to the distance (n,) of each case from failure: negative where it fails."""

PIECE: Final = 2**14
"""Cases in one call of the model where nothing else decides: rows this long stay in a processor's cache."""

REPORT_EVERY: Final = 2**18
"""Model calls between two reports of progress."""


class Stopped(Exception):
    """The caller asked to stop; never leaves this package."""


def stream(seed: int, *address: int) -> Generator:
    """Return the generator at an address; the same seed and address always give the same draws."""
    return Generator(SFC64(SeedSequence(seed, spawn_key=address)))


def in_pieces(cases: int) -> list[int]:
    """Cut a number of cases into the sizes of the calls that take them."""
    whole, rest = divmod(cases, PIECE)
    return [PIECE] * whole + [rest] * (rest > 0)


@dataclass(frozen=True, slots=True)
class Event:
    """A failure to look for: any of these requirements missed.

    Parameters
    ----------
    place
        Which answer it is for: 0 is the system, then the requirements in order. Part of the address of its draws.
    label
        What it is called.
    rows
        The margins that take part.
    scales
        What one unit of distance is, for each of these rows: its standard deviation in the pilot, so that the levels
        of kilograms and of metres per second are alike.
    """

    place: int
    label: str
    rows: tuple[int, ...]
    scales: tuple[float, ...]

    def distance(self, margins: Array) -> Array:
        """Return the smallest scaled margin of each case, shape (n,).

        Plus infinity where any margin of the case, of this event or not, is not finite: such a case fails nothing,
        and no chain moves there.
        """
        nearest: Array = margins[self.rows[0]] / self.scales[0]
        for row, scale in zip(self.rows[1:], self.scales[1:], strict=True):
            np.minimum(nearest, margins[row] / scale, out=nearest)
        nearest[~np.isfinite(margins).all(axis=0)] = np.inf
        return nearest


class Model:
    """The margins, with what was asked of them counted.

    Parameters
    ----------
    margins
        The function.
    rows
        How many margins it must return.
    progress
        Told the label in work and the model calls so far.
    cancelled
        Asked before every call.
    """

    def __init__(
        self,
        margins: Margins,
        rows: int,
        progress: Callable[[str, int], None] | None = None,
        cancelled: Callable[[], bool] | None = None,
    ) -> None:
        self._margins, self._rows = margins, rows
        self._progress, self._cancelled = progress, cancelled
        self.label = "pilot"
        self.calls = 0
        self.invalid = 0

    def __call__(self, scores: Array) -> Array:
        """Return margins (r, n) for scores (d, n).

        Raises
        ------
        Stopped
            If the caller no longer wants the answer.
        ValueError
            If the function returns another shape.
        """
        if self._cancelled is not None and self._cancelled():
            raise Stopped
        cases = scores.shape[1]
        margins = self._margins(scores)
        if margins.shape != (self._rows, cases):
            raise ValueError(f"margins must have shape {(self._rows, cases)}, not {margins.shape}")
        self._count(cases)
        return margins

    def _count(self, cases: int) -> None:
        before, self.calls = self.calls, self.calls + cases
        if self._progress is not None and before // REPORT_EVERY < self.calls // REPORT_EVERY:
            self._progress(self.label, self.calls)

    def watch(self, event: Event) -> Watch:
        """Return the function from scores to the distance from this event."""

        def distance(scores: Array) -> Array:
            found = event.distance(self(scores))
            self.invalid += int(np.count_nonzero(found == np.inf))
            return found

        return distance
