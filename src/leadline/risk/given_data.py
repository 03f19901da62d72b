"""How much of a margin's variance each input explains by itself, from cases already run.

The first-order index of input i is S_i = Var(E[Y | Z_i]) / Var(Y). Cases are sorted into bins that
the score Z_i is equally likely to fall in; the scatter of the bins' mean margins, less the scatter
they would show by chance (pooled variance within bins), estimates the share. No model is called.

What bins hide, the variation of E[Y | Z_i] inside a bin, falls about as 1 / bins (0.17 % of a
straight line's effect and 2.8 % of a parabola's at 128 bins), so the estimate is carried to
infinitely many bins from two numbers of them: 2 S(K) - S(K / 2) overdoes a line by 0.05 % and leaves
0.16 % of a parabola. `HIDDEN` of the step from S(K) is added to the interval for this.

With dependent inputs the index still has its meaning, the share explained by knowing input i, but
part of that may be carried by inputs it is correlated with; indices then need not sum to one.

References
----------
K. Pearson, "On the general theory of skew correlation and non-linear regression" (1905): the
correlation ratio. Its correction for chance: T. L. Kelley, "An unbiased correlation ratio measure",
PNAS 21 (1935) 554. Both cited from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.risk.drivers import ROUNDING
from leadline.risk.jackknife import GROUPS, jackknife_method, jackknife_reach
from leadline.risk.proportion import Interval, require_confidence
from leadline.risk.score_bins import BINS, BinSums, explained_share, joined
from leadline.risk.validity import Array, valid_part

__all__ = ["FEWEST_CASES", "FirstOrder", "GivenData", "OutputFirstOrder"]

Counts = npt.NDArray[np.int64]

FEWEST_CASES: Final = 512
"""With fewer valid cases no index is given: 32 bins of 16 cases each are the least."""

HIDDEN: Final = 0.3
"""Largest part of the last step to infinitely many bins by which it overdoes a straight line.

Computed for normal scores: 0.29 at 32 bins, 0.24 at 128.
"""

_CASES_PER_BIN: Final = 64
_FEWEST_BINS: Final = 32


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """What one input explains of one margin.

    Parameters
    ----------
    input
        Its name.
    index
        First-order index, 0 to 1; an estimate below zero is scatter and given as zero.
    distinguishable
        Whether the interval lies above zero. Each input is judged by itself: of many inputs that
        explain nothing, up to one in forty may look as if it did at 95 % confidence.
    """

    input: str
    index: Interval
    distinguishable: bool


@dataclass(frozen=True, slots=True)
class OutputFirstOrder:
    """Inputs ranked by what each explains of one margin.

    Parameters
    ----------
    label
        The margin's name.
    indices
        One for each input, largest first; empty where there are none.
    cases, invalid
        Valid cases used, and invalid cases left out.
    bins
        Bins each score was sorted into; 0 where there are no indices.
    reason
        Why there are no indices, as a sentence; None where there are.
    """

    label: str
    indices: tuple[FirstOrder, ...]
    cases: int
    invalid: int
    bins: int
    reason: str | None


@dataclass(frozen=True, eq=False, slots=True)
class GivenData:
    """What is kept of cases to rank inputs by: sums by bin, in memory that does not grow.

    Parameters
    ----------
    counts : (GROUPS, d, BINS)
        Cases by group, input and bin of its score.
    sums : (GROUPS, r, d, BINS)
        Sums of margins less `centre`.
    squares : (GROUPS, r)
        Sums of squares of margins less `centre`.
    centre : (r,)
        A value amid each margin, so that little is lost to rounding.
    invalid
        Cases left out because a margin was no number of sensible size.
    """

    counts: Counts
    sums: Array
    squares: Array
    centre: Array
    invalid: int

    @classmethod
    def of(cls, scores: Array, margins: Array, *, block: int | None = None) -> GivenData:
        """Sum up cases.

        Parameters
        ----------
        scores
            Standard normal scores, shape (d, n); they may be correlated.
        margins
            Shape (r, n).
        block
            Index of the block the cases are, where they were drawn so that only whole blocks are
            independent; they stay in one group. None: independent cases, dealt to all groups.
        """
        data = cls._empty(scores, margins)
        return data._with(scores, margins, block)  # noqa: SLF001 - its own kind

    @classmethod
    def over(cls, blocks: Iterable[tuple[Array, Array]]) -> GivenData:
        """Sum up blocks (scores, margins), one after another, each kept in one group.

        Raises
        ------
        ValueError
            If there is no block.
        """
        data: GivenData | None = None
        for block, (scores, margins) in enumerate(blocks):
            data = cls._empty(scores, margins) if data is None else data
            data = data._with(scores, margins, block)  # noqa: SLF001 - its own kind
        if data is None:
            raise ValueError("inputs are ranked from at least one block of cases")
        return data

    @classmethod
    def _empty(cls, scores: Array, margins: Array) -> GivenData:
        d, r = len(scores), len(margins)
        valid = valid_part(scores, margins)[1]
        centre = valid.mean(axis=1) if valid.size else np.zeros(r)
        counts = np.zeros((GROUPS, d, BINS), dtype=np.int64)
        return cls(counts, np.zeros((GROUPS, r, d, BINS)), np.zeros((GROUPS, r)), centre, 0)

    def _with(self, scores: Array, margins: Array, block: int | None) -> GivenData:
        """Add cases to the tables in place, and give them with the new count of invalid cases."""
        scores, margins, invalid = valid_part(scores, margins)
        adder = BinSums()
        for group, part in _deal(scores.shape[1], block):
            deviations = margins[:, part] - self.centre[:, np.newaxis]
            adder.add(scores[:, part], deviations, self.counts[group], self.sums[group])
            self.squares[group] += np.einsum("rn,rn->r", deviations, deviations)
        return GivenData(self.counts, self.sums, self.squares, self.centre, self.invalid + invalid)

    def merge(self, other: GivenData) -> GivenData:
        """Give the sums of both; the order of merging moves last digits only.

        Raises
        ------
        ValueError
            If they are of different numbers of inputs or margins.
        """
        if self.sums.shape != other.sums.shape:
            raise ValueError("sums over different inputs or margins cannot be merged")
        moved = other._about(self.centre)
        return GivenData(
            self.counts + moved.counts,
            self.sums + moved.sums,
            self.squares + moved.squares,
            self.centre,
            self.invalid + moved.invalid,
        )

    def _about(self, centre: Array) -> GivenData:
        """Give the same sums of margins less another centre."""
        step = self.centre - centre
        sums = self.sums + self.counts[:, np.newaxis] * step[:, np.newaxis, np.newaxis]
        totals = self.sums[:, :, 0].sum(axis=-1)
        squares = self.squares + 2.0 * step * totals + step**2 * self.cases[:, np.newaxis]
        return GivenData(self.counts, sums, squares, centre, self.invalid)

    @property
    def cases(self) -> Counts:
        """Valid cases in each group, shape (GROUPS,)."""
        cases: Counts = self.counts[:, 0].sum(axis=-1)
        return cases

    def ranking(
        self, names: Sequence[str], labels: Sequence[str], confidence: float = 0.95
    ) -> tuple[OutputFirstOrder, ...]:
        """Rank the inputs for every margin.

        Parameters
        ----------
        names, labels
            Names of the d inputs and the r margins.
        confidence
            Of the two-sided intervals.

        Raises
        ------
        ValueError
            If the names are not as many as the rows, or the confidence is impossible.
        """
        require_confidence(confidence)
        _, r, d, _ = self.sums.shape
        if (len(names), len(labels)) != (d, r):
            raise ValueError(f"{d} inputs and {r} margins need as many names, not {len(names)} and {len(labels)}")
        cases, bins = int(self.cases.sum()), self._bins()
        if not cases >= FEWEST_CASES:
            reason = f"Inputs are ranked from {FEWEST_CASES} valid cases or more; there are {cases}."
            return tuple(OutputFirstOrder(label, (), cases, self.invalid, 0, reason) for label in labels)
        method = f"{bins} bins of the score; {jackknife_method(int(np.count_nonzero(self.cases)), confidence)}"
        rows = zip(labels, self._varied(), *self._estimates(bins, confidence), strict=True)
        return tuple(
            OutputFirstOrder(label, _ranked(names, value, reach, confidence, method), cases, self.invalid, bins, None)
            if varied
            else OutputFirstOrder(label, (), cases, self.invalid, 0, "The margin did not vary.")
            for label, varied, value, reach in rows
        )

    def _bins(self) -> int:
        """Choose the bins: as many as hold enough cases each, by powers of two."""
        wanted = int(self.cases.sum()) // _CASES_PER_BIN
        return BINS if wanted >= BINS else max(_FEWEST_BINS, 1 << wanted.bit_length() >> 1)

    def _varied(self) -> npt.NDArray[np.bool_]:
        total = self.sums[:, :, 0].sum(axis=(0, -1))
        cases = self.cases.sum()
        scatter = self.squares.sum(axis=0) - total**2 / cases
        varied: npt.NDArray[np.bool_] = scatter > cases * (ROUNDING * self.centre) ** 2
        return varied

    def _estimates(self, bins: int, confidence: float) -> tuple[Array, Array]:
        """Give indices (r, d) and half the lengths of their intervals."""
        used = np.flatnonzero(self.cases)
        counts, sums, squares = (_whole_and_left_out(table[used]) for table in (self.counts, self.sums, self.squares))
        fine = explained_share(joined(counts, bins), joined(sums, bins), squares)
        coarse = explained_share(joined(counts, bins // 2), joined(sums, bins // 2), squares)
        step = fine - coarse
        share = fine + step
        reach = jackknife_reach(share[0], share[1:], self.cases[used], confidence)
        return share[0], reach + HIDDEN * np.abs(step[0])


def _deal(cases: int, block: int | None) -> list[tuple[int, slice]]:
    if block is not None:
        return [(block % GROUPS, slice(0, cases))]
    bounds = [cases * group // GROUPS for group in range(GROUPS + 1)]
    return [(group, slice(*pair)) for group, pair in enumerate(pairwise(bounds))]


def _whole_and_left_out(table: npt.NDArray[np.generic]) -> Array:
    """Give the sum over groups, then the sums with each group left out; shape (1 + groups, ...)."""
    groups = table.astype(np.float64)
    whole = groups.sum(axis=0)
    return np.concatenate([whole[np.newaxis], whole - groups]) if len(groups) > 1 else whole[np.newaxis]


def _ranked(
    names: Sequence[str], values: Array, reaches: Array, confidence: float, method: str
) -> tuple[FirstOrder, ...]:
    order = np.argsort(-values, kind="stable")
    return tuple(_first_order(names[at], values[at], reaches[at], confidence, method) for at in order)


def _first_order(name: str, value: float, reach: float, confidence: float, method: str) -> FirstOrder:
    low, middle, high = (float(np.clip(end, 0.0, 1.0)) for end in (value - reach, value, value + reach))
    return FirstOrder(name, Interval(middle, low, high, confidence, method), low > 0.0)
