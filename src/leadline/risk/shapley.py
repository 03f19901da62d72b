"""Shapley effects: the variance of an output split fairly among inputs that may be correlated.

Plain Sobol' indices need independent inputs; with correlated ones the parts overlap. The Shapley
effect of a group of inputs is the mean, over all orders in which groups could become known, of
the share of variance explained by knowing it in addition. Effects are never negative and always
sum to one. What correlated groups explain in common is split evenly among them.

All 2**g subsets of g groups are evaluated, so the effects follow exactly from the costs of the
subsets, and all costs come from the same first members of pairs: case j of subset u has the same
X_u as case j, and the rest redrawn given X_u. That takes 2**g - 1 evaluations for each case.

References
----------
A. B. Owen, "Sobol' indices and Shapley value", SIAM/ASA J. Uncertainty Quantification 2 (2014) 245.
E. Song, B. L. Nelson, J. Staum, "Shapley effects for global sensitivity analysis: theory and
computation", the same 4 (2016) 1060. B. Iooss, C. Prieur, "Shapley effects for sensitivity
analysis with correlated inputs", Int. J. Uncertainty Quantification 9 (2019) 493. All cited from
memory.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.risk import words
from leadline.risk.conditional_scores import ConditionalScores
from leadline.risk.drivers import ROUNDING, Margins, OutputKind
from leadline.risk.jackknife import GROUPS, jackknife_method, jackknife_reach
from leadline.risk.proportion import Interval, require_confidence
from leadline.risk.subset_costs import PairSums
from leadline.risk.validity import Array, Mask, valid_cases

__all__ = [
    "FEWEST_FAILURES",
    "MOST_GROUPS",
    "OutputShapley",
    "ShapleyEffect",
    "plain_indices_refusal",
    "shapley_effects",
]

MOST_GROUPS: Final = 10
"""Ten groups take 1 023 evaluations for each case."""

FEWEST_FAILURES: Final = 50
"""With fewer failing (or fewer succeeding) cases a failure's effects are not given."""


@dataclass(frozen=True, slots=True)
class ShapleyEffect:
    """The share of an output's variance that falls to one group.

    Parameters
    ----------
    group
        Its name.
    effect
        The share. True effects are never negative; an estimate a little below zero is scatter and
        is left so, since only then do the effects sum to one.
    distinguishable
        Whether the interval lies above zero.
    """

    group: str
    effect: Interval
    distinguishable: bool


@dataclass(frozen=True, slots=True)
class OutputShapley:
    """The effects on one output, largest first.

    Parameters
    ----------
    label
        The requirement's name, or what was said to stand for the whole.
    kind
        Whether the output is the margin, or 1 where it fails and 0 where it is met.
    effects
        One for each group, summing to one; empty where there are none.
    cases
        Valid cases, each of which was redrawn for every subset of groups.
    evaluations, invalid
        Cases evaluated in all, and those of them with a margin of no sensible size; pairs with
        such a case are left out.
    reason
        Why there are no effects, as a sentence; None where there are.
    """

    label: str
    kind: OutputKind
    effects: tuple[ShapleyEffect, ...]
    cases: int
    evaluations: int
    invalid: int
    reason: str | None


def plain_indices_refusal(correlations: Sequence[tuple[str, str, float]]) -> str:
    """Say why plain Sobol' indices are refused for dependent inputs, and what to do instead.

    Parameters
    ----------
    correlations
        Pairs of input names with their correlation; only those other than zero count.

    Returns
    -------
    Sentences; empty if nothing is correlated.
    """
    pairs = [f"{first} with {second} ({value:g})" for first, second, value in correlations if value != 0.0]
    if not pairs:
        return ""
    named = ", ".join(pairs[:3]) + (f" and {len(pairs) - 3} more" if len(pairs) > 3 else "")
    return (
        f"Plain Sobol' indices are refused: inputs are correlated, {named}. These indices split the variance "
        "among inputs that vary independently of one another; of correlated inputs the parts overlap, and do not "
        "sum to the whole. Ask for Shapley effects, or put the inputs that are correlated with one another into "
        "one group and ask for the indices of groups."
    )


def shapley_effects(
    margins: Margins,
    correlation: Array,
    groups: Sequence[Sequence[int]],
    names: Sequence[str],
    labels: Sequence[str],
    *,
    pages: Iterable[tuple[Array, Array]],
    whole: str = "At least one requirement",
    confidence: float = 0.95,
    progress: Callable[[int], None] | None = None,
) -> tuple[OutputShapley, ...]:
    """Estimate the Shapley effects of groups of inputs on every margin and every failure.

    Parameters
    ----------
    margins
        The model, from correlated scores (d, n) to margins (r, n); see `leadline.risk.drivers.Margins`.
    correlation
        Correlation of the scores, shape (d, d).
    groups
        Rows of each group, each row in one of them; at most `MOST_GROUPS` groups.
    names, labels
        Names of the groups and of the r requirements.
    pages
        Pairs of independent standard normal draws, both (d, n) with n of `GROUPS` or more, all
        cases independent of one another. One pair is held in memory at a time.
    whole
        What failing one or more requirements is called.
    confidence
        Of the two-sided intervals.
    progress
        Told the cases evaluated so far, after each page.

    Returns
    -------
    The r margins, then the r failures, then failing in any way.

    Raises
    ------
    ValueError
        If there are too many groups, no pages, pages too short, or numbers that do not fit.
    """
    require_confidence(confidence)
    _require_groups(groups, names)
    tally = _Tally(margins, ConditionalScores(correlation, groups), len(labels))
    for draws, others in pages:
        tally.add(draws, others)
        if progress is not None:
            progress(tally.evaluations)
    return tally.outputs(names, [*labels, *labels, whole], confidence)


def _require_groups(groups: Sequence[Sequence[int]], names: Sequence[str]) -> None:
    if len(groups) > MOST_GROUPS:
        raise ValueError(
            f"Shapley effects are given for at most {MOST_GROUPS} groups, not {len(groups)}: "
            "merge inputs into groups, those that belong together first"
        )
    if len(groups) == 0 or len(groups) != len(names):
        raise ValueError(f"{len(groups)} groups need as many names, at least one, not {len(names)}")


class _Tally:
    """Evaluates pages and keeps their sums."""

    def __init__(self, margins: Margins, scores: ConditionalScores, requirements: int) -> None:
        self.margins = margins
        self.scores = scores
        self.requirements = requirements
        self.sums = PairSums(len(scores.groups), 2 * requirements + 1)
        self.failures = np.zeros(requirements + 1)
        self.evaluations = 0
        self.invalid = 0
        self.centre = np.zeros(requirements)

    def add(self, draws: Array, others: Array) -> None:
        """Evaluate all subsets for one page."""
        self._require_page(draws, others)
        scores, fresh = self.scores.correlate(draws), self.scores.correlate(others)
        first, valid = self._evaluate(scores)
        self.failures += first[self.requirements :].sum(axis=1)
        everything = 2 ** len(self.scores.groups) - 1
        self.sums.add(everything, first, first, valid)
        redrawn = np.empty_like(scores)
        for held in range(1, everything):
            self.scores.redraw(held, scores, others, fresh, redrawn)
            second, valid_too = self._evaluate(redrawn)
            self.sums.add(held, first, second, valid & valid_too)

    def _require_page(self, draws: Array, others: Array) -> None:
        d = len(self.scores.correlation)
        if draws.shape != others.shape or draws.ndim != 2 or len(draws) != d or not draws.shape[1] >= GROUPS:
            raise ValueError(
                f"a page must be two arrays ({d}, n) with n of {GROUPS} or more, not {draws.shape} and {others.shape}"
            )

    def _evaluate(self, scores: Array) -> tuple[Array, Mask]:
        """Give outputs (2 r + 1, n), zero for invalid cases, and which cases are valid."""
        margins = self.margins(scores)
        if margins.shape != (self.requirements, scores.shape[1]):
            raise ValueError(f"margins must be ({self.requirements}, {scores.shape[1]}), not {margins.shape}")
        valid = valid_cases(margins)
        margins = np.where(valid, margins, 0.0)
        missed = margins < 0.0
        if self.evaluations == 0:
            # A value amid each margin, the same for all pages, so that little is lost to rounding.
            self.centre = margins.sum(axis=1) / max(np.count_nonzero(valid), 1)
        self.evaluations += valid.size
        self.invalid += valid.size - int(np.count_nonzero(valid))
        deviations = np.where(valid, margins - self.centre[:, np.newaxis], 0.0)
        return np.vstack([deviations, missed, missed.any(axis=0)]), valid

    def outputs(self, names: Sequence[str], labels: Sequence[str], confidence: float) -> tuple[OutputShapley, ...]:
        """Turn the sums into effects on outputs, labelled in order."""
        if self.evaluations == 0:
            raise ValueError("Shapley effects need at least one page of draws")
        values, left_out = self.sums.values()
        reaches = jackknife_reach(values, left_out, np.maximum(self.sums.sizes, 1.0), confidence)
        rule = (confidence, jackknife_method(GROUPS, confidence))
        kinds = [OutputKind.MARGIN] * self.requirements + [OutputKind.FAILURE] * (self.requirements + 1)
        rows = zip(labels, kinds, self._reasons(values), values, reaches, strict=True)
        return tuple(
            self._output(label, kind, reason, () if reason else _ranked(names, value, reach, *rule))
            for label, kind, reason, value, reach in rows
        )

    def _output(
        self, label: str, kind: OutputKind, reason: str | None, effects: tuple[ShapleyEffect, ...]
    ) -> OutputShapley:
        cases = int(self.sums.sizes.sum())
        return OutputShapley(label, kind, effects, cases, self.evaluations, self.invalid, reason)

    def _reasons(self, values: Array) -> list[str | None]:
        """Say for each output why it has no effects, if it has none."""
        cases = int(self.sums.sizes.sum())
        if not self.sums.sizes.all():
            return ["Too few cases are valid."] * (2 * self.requirements + 1)
        varied = self.sums.variances[: self.requirements] > (ROUNDING * self.centre) ** 2
        reasons = [None if each else "The margin did not vary." for each in varied]
        reasons += [_few(int(failures), cases) for failures in self.failures]
        sums = values.sum(axis=-1)
        return [
            reason or (None if np.isfinite(total) else "Too few pairs of cases are valid.")
            for reason, total in zip(reasons, sums, strict=True)
        ]


def _few(failures: int, cases: int) -> str | None:
    if min(failures, cases - failures) >= FEWEST_FAILURES:
        return None
    return (
        f"The effects on failing are given from {FEWEST_FAILURES} failing and as many succeeding cases on; "
        f"there are {words.count(failures)} failing of {words.count(cases)}."
    )


def _ranked(
    names: Sequence[str], values: Array, reaches: Array, confidence: float, method: str
) -> tuple[ShapleyEffect, ...]:
    order: npt.NDArray[np.intp] = np.argsort(-values, kind="stable")
    return tuple(_effect(names[at], float(values[at]), float(reaches[at]), confidence, method) for at in order)


def _effect(name: str, value: float, reach: float, confidence: float, method: str) -> ShapleyEffect:
    """Bound an effect; no bound lies beyond 0 or 1 unless the estimate itself does."""
    low = max(value - reach, min(value, 0.0))
    high = min(value + reach, max(value, 1.0))
    return ShapleyEffect(name, Interval(value, low, high, confidence, method), low > 0.0)
