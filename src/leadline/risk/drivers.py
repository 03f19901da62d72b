"""Which uncertainty drives which margin, and which drives failure: variance-based indices.

The first-order index of an input is the share of an output's variance that would go if that input were known; the total
index is the share that would stay if all the others were. The estimators and their intervals are described in
`leadline.risk.drivers_intervals`, the pairs of cases they rest on in `leadline.risk.drivers_sums`.

References
----------
I. M. Sobol', "Global sensitivity indices for nonlinear mathematical models and their Monte Carlo estimates",
Mathematics and Computers in Simulation 55 (2001) 271.
T. Homma, A. Saltelli, "Importance measures in global sensitivity analysis of nonlinear models", Reliability Engineering
& System Safety 52 (1996) 1 (the total index; cited from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from leadline.risk import drivers_words as say
from leadline.risk.drivers_intervals import Bounds, Indices, estimate, pooled_variance
from leadline.risk.drivers_sums import Array, Margins, PairSums
from leadline.risk.proportion import Interval, require_confidence

__all__ = ["LEAST_FAILURES", "Driver", "Drivers", "Margins", "OutputDrivers", "OutputKind", "find_drivers"]

LEAST_FAILURES: Final = 10
"""With fewer failures (or successes) among the cases of both samples, failure indices are not given.

Below it the intervals still hold, but leave open nearly the whole range. Common practice, no source."""

ROUNDING: Final = 1e-12
"""What arithmetic alone may leave behind: an index no larger is no effect, and neither is a scatter no larger in
proportion to the mean."""


class OutputKind(StrEnum):
    """Whether an output is a requirement's margin, or 1 where it fails and 0 where it is met."""

    MARGIN = "margin"
    FAILURE = "failure"


@dataclass(frozen=True, slots=True)
class Driver:
    """What one input, or group of inputs, does to one output.

    Parameters
    ----------
    name
        The input's name.
    first, total
        The first-order and the total index. Value and bounds lie in 0 to 1.
    rank
        Its place by total index, 1 for the largest: at best, as estimated, at worst. The bounds hold the true place
        with the confidence of the intervals; inputs of equal index share all of their places.
    distinguishable
        Whether the interval of the total index leaves out zero.
    clipped
        Whether an index came out below 0 or above 1 and is given as the nearest of the two.
    cases
        Valid pairs of cases behind it.
    remark
        For an input not distinguishable from zero, a sentence that says so; else empty.
    """

    name: str
    first: Interval
    total: Interval
    rank: tuple[int, int, int]
    distinguishable: bool
    clipped: bool
    cases: int
    remark: str


@dataclass(frozen=True, slots=True)
class OutputDrivers:
    """The drivers of one output.

    Parameters
    ----------
    output
        The requirement's name, or what was said to stand for the whole.
    kind
        Whether the output is a margin or a failure. Never rank inputs by the first-order index of a failure: as
        failures grow rare it goes to 0 for every input that matters and total indices go to 1, since rare failures take
        several inputs at once.
    drivers
        By total index, largest first, equal ones by name; empty where there is a reason.
    cases
        Valid pairs of cases behind each index, at least.
    failures
        For a failure, how often it was seen in the two samples of these pairs, at least; None for a margin.
    reason
        Why there are no indices; None where there are.
    """

    output: str
    kind: OutputKind
    drivers: tuple[Driver, ...]
    cases: int
    failures: int | None
    reason: str | None


@dataclass(frozen=True, slots=True)
class Drivers:
    """The drivers of every margin, of every requirement's failure, and of failure of the whole, in this order.

    Parameters
    ----------
    outputs
        One for each output.
    cases
        Pairs of cases drawn.
    evaluations, invalid
        How many cases were evaluated, and how many of them had a margin that is not finite.
    confidence
        Of each interval and of each rank's bounds.
    notes
        What the reader has to know besides; sentences.
    """

    outputs: tuple[OutputDrivers, ...]
    cases: int
    evaluations: int
    invalid: int
    confidence: float
    notes: tuple[str, ...]


def find_drivers(
    margins: Margins,
    pages: Iterable[tuple[Array, Array]],
    *,
    inputs: Sequence[str],
    requirements: Sequence[str],
    groups: Sequence[Sequence[int]] | None = None,
    whole: str = "At least one requirement",
    confidence: float = 0.95,
    progress: Callable[[int], None] | None = None,
) -> Drivers:
    """Find what drives the margins and failures of a function of arrays.

    All outputs are treated at once, and memory does not grow with the number of pages. The result depends on nothing
    but the arguments: there is no resampling.

    Parameters
    ----------
    margins
        Scores (d, n) to margins (r, n); see `Margins`.
    pages
        Pairs of independent samples of independent standard normal scores, each (d, m); m a multiple of 64 and the same
        for all pages. Evaluated are ``(len(inputs) + 2) m`` cases a page. The rows of the first sample are replaced for
        a while and put back. May end whenever it likes: the result is that of the pages given.
    inputs
        Names of the inputs, all different.
    requirements
        Names of the r requirements.
    groups
        For each input, the rows of the scores that belong to it: dependent ones must be kept together. Left out, each
        row is an input.
    whole
        What the failure of one or more requirements is called.
    confidence
        Of the intervals and of the bounds on ranks.
    progress
        Called after each page with the number of cases evaluated so far.

    Raises
    ------
    ValueError
        If names, groups, confidence or the shapes of pages and margins are not as said.
    """
    require_confidence(confidence)
    rows = [[row] for row in range(len(inputs))] if groups is None else groups
    _refuse_names(inputs, rows)
    sums = PairSums(margins, len(requirements), rows)
    for first, second in pages:
        sums.add(first, second)
        if progress is not None:
            progress(sums.evaluations)
    outputs = _Outputs(sums, tuple(inputs), (*requirements, *requirements, whole), confidence)
    return Drivers(outputs.all(), sums.cases, sums.evaluations, sums.invalid, confidence, outputs.notes())


def _refuse_names(inputs: Sequence[str], groups: Sequence[Sequence[int]]) -> None:
    if len(set(inputs)) != len(inputs):
        raise ValueError(f"each input needs a name of its own, not {list(inputs)}")
    if len(groups) != len(inputs):
        raise ValueError(f"{len(inputs)} names were given for {len(groups)} groups of rows")


class _Outputs:
    """Turns sums into the drivers of each output."""

    def __init__(self, sums: PairSums, inputs: tuple[str, ...], labels: tuple[str, ...], confidence: float) -> None:
        self._sums, self._inputs, self._labels, self._confidence = sums, inputs, labels, confidence
        self._margins = len(labels) // 2
        self._totals = sums.sums.sum(axis=-1)
        self._pairs = [int(count) for count in self._totals[0, :, 0]]
        self._indices = estimate(sums.sums, slice(self._margins, None), confidence)

    def notes(self) -> tuple[str, ...]:
        """Say what was left out."""
        sums = self._sums
        if not sums.invalid:
            return ()
        return (say.left_out(sums.invalid, sums.evaluations, sums.cases - min(self._pairs, default=0)),)

    def all(self) -> tuple[OutputDrivers, ...]:
        """Return every output's drivers, in the order of the labels."""
        return tuple(self._of(place) for place in range(len(self._labels)))

    def _of(self, place: int) -> OutputDrivers:
        kind = OutputKind.MARGIN if place < self._margins else OutputKind.FAILURE
        failures = self._failures(place) if kind is OutputKind.FAILURE else None
        reason = self._reason(place, failures)
        drivers = () if reason else self._drivers(place)
        return OutputDrivers(self._labels[place], kind, drivers, min(self._pairs, default=0), failures, reason)

    def _failures(self, place: int) -> int:
        """Count the failures in both samples, for the input that leaves fewest."""
        return int((self._totals[1] + self._totals[2])[:, place].min(initial=2.0 * self._sums.cases))

    def _reason(self, place: int, failures: int | None) -> str | None:
        """Say why an output has no indices, if it has none."""
        label, cases = self._labels[place], min(self._pairs, default=0)
        if not self._sums.cases:
            return say.no_cases()
        if not (self._sums.sums[0] >= 1.0).all():
            return say.too_few_valid(cases, self._sums.cases)
        if failures is not None and min(failures, 2 * cases - failures) < LEAST_FAILURES:
            return say.rare(label, failures, 2 * cases, LEAST_FAILURES)
        if failures is None and self._is_constant(place):
            return say.constant(label)
        return None if self._varies_in_more_than_one_group(place) else say.seldom_varies(label)

    def _is_constant(self, place: int) -> bool:
        """Say whether a margin's scatter is no more than rounding leaves."""
        least = (ROUNDING * self._sums.centre[place, 0]) ** 2
        return not bool((pooled_variance(self._totals[:, :, place]) > least).all())

    def _varies_in_more_than_one_group(self, place: int) -> bool:
        """Say whether what is left varies too, whichever group of cases is left out."""
        whole = self._totals[:, :, place, np.newaxis]
        rest = pooled_variance(whole - self._sums.sums[:, :, place])
        bounds = [each[:, place] for of in (self._indices.first, self._indices.total) for each in (of.low, of.high)]
        return bool((rest > ROUNDING * pooled_variance(whole)).all() and np.isfinite(bounds).all())

    def _drivers(self, place: int) -> tuple[Driver, ...]:
        """Return an output's drivers, the largest total index first, equal ones by name."""
        value = self._indices.total.value[:, place]
        order = sorted(range(len(self._inputs)), key=lambda row: (-value[row], self._inputs[row]))
        return tuple(self._driver(place, row, rank) for rank, row in enumerate(order, 1))

    def _driver(self, place: int, row: int, rank: int) -> Driver:
        found: Indices = self._indices
        first = _interval(found.first, (row, place), self._confidence)
        total = _interval(found.total, (row, place), self._confidence)
        estimates = found.first.value[row, place], found.total.value[row, place]
        sure = total.low > ROUNDING
        name, label, pairs = self._inputs[row], self._labels[place], self._pairs[row]
        return Driver(
            name,
            first,
            total,
            (int(found.best_rank[row, place]), rank, int(found.worst_rank[row, place])),
            sure,
            estimates != (first.value, total.value),
            pairs,
            "" if sure else say.unsure(name, label, total.value > ROUNDING, pairs),
        )


def _interval(bounds: Bounds, place: tuple[int, int], confidence: float) -> Interval:
    """Return one index with its bounds, all moved into 0 to 1, where the true index lies."""
    value, low, high = (min(max(float(each[place]), 0.0), 1.0) for each in (bounds.value, bounds.low, bounds.high))
    return Interval(value, low, high, confidence, say.method(confidence, widened=bool(bounds.widened[place])))
