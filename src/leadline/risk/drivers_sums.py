"""Sums over pairs of cases that differ in one input, for every output in one pass.

A page is two independent samples of scores, A and B. For each input, A is evaluated once more with that input's rows
taken from B; in the names below `a`, `b` and `c` are the outputs of A, of B and of A with the rows swapped. All that
the indices need are sums of these, of their squares and of their products. They are kept apart for `GROUPS` groups of
cases, so that the scatter between groups tells how sure an index is; their size does not grow with the cases.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["GROUPS", "Array", "Margins", "PairSums"]

Array = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

Margins = Callable[[Array], Array]
"""Standard normal scores, shape (d, n), to the margins of requirements, shape (r, n).

It must leave the scores as they are, and treat every case by itself. What it returns may be overwritten by its next
call. A case with a margin that is not finite is invalid; one whose margins are all at least 0 succeeds.
"""

GROUPS: Final = 64
"""Into how many groups cases are dealt: enough for a t quantile near the normal one (63 degrees of freedom), few enough
for groups that are nearly normal. Chosen from the coverage measured in this package's tests, no source."""

SHARED: Final = slice(0, 6)
"""The sums that do not depend on the swapped sample: n, a, b, aa, bb, ab."""

SWAPPED: Final = slice(6, 10)
"""The sums that do: c, cc, ac, bc."""


class OutputRows:
    """The outputs of one sample: margins about a centre, failures as 0 and 1, failure of the whole.

    Cases that are left out hold 0 in every row, so they add nothing to any sum.

    Parameters
    ----------
    requirements
        How many margins, r.
    cases
        How many cases, m; a multiple of `GROUPS`.
    """

    def __init__(self, requirements: int, cases: int) -> None:
        self.rows = np.empty((2 * requirements + 1, cases))
        self.grouped = self.rows.reshape(len(self.rows), GROUPS, -1)
        self.valid = np.empty(cases, dtype=np.bool_)
        self._flags = np.empty((requirements, cases), dtype=np.bool_)

    def take(self, margins: Array, centre: Array) -> None:
        """Copy margins (r, m) about their centre (r, 1), and leave out the invalid cases."""
        count = len(margins)
        np.isfinite(margins, out=self._flags).all(axis=0, out=self.valid)
        np.subtract(margins, centre, out=self.rows[:count])
        np.less(margins, 0.0, out=self._flags)
        self.rows[count:-1] = self._flags
        self.rows[-1] = self._flags.any(axis=0)
        self.keep(self.valid)

    def keep(self, kept: Flags) -> None:
        """Leave out all but the cases flagged (m,)."""
        if not kept.all():
            self.rows[:, ~kept] = 0.0

    @contextmanager
    def without(self, lost: Flags) -> Iterator[None]:
        """Leave out the cases flagged (m,) for a while."""
        held = self.rows[:, lost]
        self.rows[:, lost] = 0.0
        yield
        self.rows[:, lost] = held


class PairSums:
    """Sums over pairs of cases, for each input, output and group of cases.

    Parameters
    ----------
    margins
        The function whose drivers are looked for.
    requirements
        How many margins it gives, r; the outputs are those, their failures, and the failure of the whole: 2 r + 1.
    inputs
        For each input, the rows of the scores that are swapped together.

    Attributes
    ----------
    sums
        Shape (10, inputs, 2 r + 1, `GROUPS`): the number of valid pairs, then the sums of a, b, aa, bb, ab, c, cc,
        ac, bc. Margins are taken about their mean over the first sample, so that squares do not cancel.
    centre
        That mean, shape (r, 1); zero before the first page.
    cases
        Pairs of cases drawn, valid or not.
    evaluations, invalid
        How many cases were evaluated, and how many of them were invalid.
    """

    def __init__(self, margins: Margins, requirements: int, inputs: Sequence[Sequence[int]]) -> None:
        self.sums = np.zeros((10, len(inputs), 2 * requirements + 1, GROUPS))
        self.centre = np.zeros((requirements, 1))
        self.cases = self.evaluations = self.invalid = 0
        self._margins = margins
        self._inputs = [np.array(rows, dtype=np.intp) for rows in inputs]
        self._buffers: tuple[OutputRows, OutputRows, OutputRows] | None = None

    def add(self, first: Array, second: Array) -> None:
        """Evaluate and add up a page.

        Parameters
        ----------
        first, second
            Two independent samples of scores, each (d, m), m a multiple of `GROUPS` and the same for every page.
            Rows of `first` are replaced for a while and put back.

        Raises
        ------
        ValueError
            If the shapes are not so, or the function gives another number of margins.
        """
        self._refuse(first, second)
        a, b, c = self._rows(first)
        self._evaluate(first, a)
        self._evaluate(second, b)
        valid = a.valid & b.valid
        a.keep(valid)
        b.keep(valid)
        shared = _shared(a, b, valid)
        for place, rows in enumerate(self._inputs):
            with _swapped(first, second, rows):
                self._evaluate(first, c)
            self._add_input(place, (a, b, c), valid, shared)
        self.cases += first.shape[1]

    def _add_input(
        self, place: int, rows: tuple[OutputRows, OutputRows, OutputRows], valid: Flags, shared: Array
    ) -> None:
        a, b, c = rows
        lost = valid & ~c.valid
        c.keep(valid)
        if not lost.any():
            self.sums[SHARED, place] += shared
            self.sums[SWAPPED, place] += _with_swapped(a, b, c)
            return
        with a.without(lost), b.without(lost):
            self.sums[SHARED, place] += _shared(a, b, valid & c.valid)
            self.sums[SWAPPED, place] += _with_swapped(a, b, c)

    def _evaluate(self, scores: Array, into: OutputRows) -> None:
        margins = self._margins(scores)
        if margins.shape != (len(self.centre), scores.shape[1]):
            raise ValueError(f"expected margins of shape {(len(self.centre), scores.shape[1])}, not {margins.shape}")
        if not self.evaluations:
            self.centre = _centre(margins)
        into.take(margins, self.centre)
        self.evaluations += scores.shape[1]
        self.invalid += scores.shape[1] - int(np.count_nonzero(into.valid))

    def _rows(self, scores: Array) -> tuple[OutputRows, OutputRows, OutputRows]:
        if self._buffers is None:
            size = len(self.centre), scores.shape[1]
            self._buffers = OutputRows(*size), OutputRows(*size), OutputRows(*size)
        return self._buffers

    def _refuse(self, first: Array, second: Array) -> None:
        if first.shape != second.shape or first.ndim != 2:
            raise ValueError(f"a page is two samples of one shape (d, m), not {first.shape} and {second.shape}")
        rows, cases = first.shape
        if not cases or cases % GROUPS:
            raise ValueError(f"a page must hold a multiple of {GROUPS} cases, not {cases}")
        if self._buffers is not None and self._buffers[0].rows.shape[1] != cases:
            raise ValueError(f"pages must be of one size: {self._buffers[0].rows.shape[1]} cases, not {cases}")
        if sorted(row for group in self._inputs for row in group.tolist()) != list(range(rows)):
            raise ValueError(f"each of the {rows} rows of scores must belong to exactly one input")


@contextmanager
def _swapped(first: Array, second: Array, rows: npt.NDArray[np.intp]) -> Iterator[None]:
    """Put rows of the second sample into the first, and take them out again whatever happens."""
    held = first[rows]
    first[rows] = second[rows]
    try:
        yield
    finally:
        first[rows] = held


def _centre(margins: Array) -> Array:
    """Return the mean over the valid cases, shape (r, 1); 0 where there are none."""
    valid = np.isfinite(margins).all(axis=0)
    kept = margins[:, valid]
    centre: Array = kept.sum(axis=1, keepdims=True) / max(kept.shape[1], 1)
    return centre


def _shared(a: OutputRows, b: OutputRows, valid: Flags) -> Array:
    """Return the number of valid pairs and the sums a, b, aa, bb, ab, shape (6, outputs, `GROUPS`)."""
    x, y = a.grouped, b.grouped
    counts = np.count_nonzero(valid.reshape(GROUPS, -1), axis=1)
    pairs = np.broadcast_to(counts.astype(np.float64), x.shape[:2])
    return np.stack([pairs, x.sum(axis=-1), y.sum(axis=-1), np.vecdot(x, x), np.vecdot(y, y), np.vecdot(x, y)])


def _with_swapped(a: OutputRows, b: OutputRows, c: OutputRows) -> Array:
    """Return the sums c, cc, ac, bc, shape (4, outputs, `GROUPS`)."""
    x = c.grouped
    return np.stack([x.sum(axis=-1), np.vecdot(x, x), np.vecdot(a.grouped, x), np.vecdot(b.grouped, x)])
