"""Has the wanted chance been shown? Sample sizes, allowed failures, and the judgement of a run.

Two rules are in use, one case apart; each function names its own. The *classical* rule asks that a
system just short of the wanted chance would do as well as the one seen with probability at most
``1 - confidence``: the smallest n with ``P(at most k failures in n) <= 1 - confidence`` (S. S.
Wilks, "Determination of sample sizes for setting tolerance limits", Annals of Mathematical
Statistics 12 (1941) 91). The *uniform prior* rule asks the same of the chance given the cases seen,
all chances being equally likely beforehand; its n is always one less. Judgements follow the
classical rule.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from scipy.special import betainc, betaincc

from leadline.risk import words
from leadline.risk.proportion import (
    Replicates,
    exact_lower_bound,
    exact_upper_bound,
    require_confidence,
    require_counts,
)
from leadline.risk.words import Rounding

__all__ = [
    "FURTHEST",
    "MOST_CASES",
    "Judgement",
    "Verdict",
    "allowed_failures",
    "allowed_failures_uniform_prior",
    "judge",
    "judge_replicates",
    "smallest_sample",
    "smallest_sample_uniform_prior",
]

FURTHEST: Final = 100
"""How many times the cases already run an estimate of further cases may reach (or `MOST_CASES`).

Needing more than that, the observed rate lies within about an eighth of its standard error of the
wanted chance: it could as well lie on the other side, and a number would mislead.
"""

MOST_CASES: Final = 10_000_000
"""Below this total an estimate of further cases is given in any event."""


def _require_chance(chance: float) -> None:
    if not 0.0 < chance < 1.0:
        raise ValueError(f"the wanted chance must lie between 0 and 1, not {chance!r}")


def _shown(failures: float, trials: float, chance: float, confidence: float) -> bool:
    """Whether as few failures would be too lucky for any lesser chance (classical rule).

    Takes real counts too, so that an expected number of failures can be judged.
    """
    if not failures < trials:
        return False
    return float(betainc(trials - failures, failures + 1.0, chance)) <= 1.0 - confidence


def _refuted(failures: float, trials: float, chance: float, confidence: float) -> bool:
    """Whether as many failures would be too unlucky for the wanted chance (classical rule)."""
    if not failures > 0:
        return False
    return float(betaincc(trials - failures + 1.0, failures, chance)) < 1.0 - confidence


def _first_true(holds: Callable[[int], bool], low: int) -> int:
    """Find the smallest whole number from `low` on for which a monotone condition holds."""
    top, step = low, 1
    while not holds(top):
        low, top, step = top + 1, top + step, 2 * step
    while low < top:
        middle = (low + top) // 2
        low, top = (low, middle) if holds(middle) else (middle + 1, top)
    return low


def smallest_sample(coverage: float, confidence: float, failures: int = 0, sides: int = 1) -> int:
    """Find the smallest sample that shows a coverage at a confidence (Wilks; classical rule).

    Parameters
    ----------
    coverage
        Chance of success to be shown; for tolerance limits, the share of the population that the
        limit has on its good side (one side) or the two limits hold between them (two sides).
    confidence
        That it is shown with.
    failures
        Failures allowed; for tolerance limits, how many values lie beyond the limit on each side,
        one less than the order r.
    sides
        1 or 2. Two-sided limits cut ``failures + 1`` values on either side.

    Returns
    -------
    int
        The smallest n.

    Raises
    ------
    ValueError
        If coverage, confidence, failures or sides are impossible.
    """
    _require_chance(coverage)
    require_confidence(confidence)
    if sides not in {1, 2} or not failures >= 0:
        raise ValueError(f"sides must be 1 or 2 and failures 0 or more: {sides!r}, {failures!r}")
    lost = failures if sides == 1 else 2 * failures + 1
    return _first_true(lambda n: _shown(lost, n, coverage, confidence), lost + 1)


def smallest_sample_uniform_prior(coverage: float, confidence: float, failures: int = 0) -> int:
    """Find the smallest sample by the uniform prior rule: one less than `smallest_sample`.

    The posterior Beta(n - k + 1, k + 1) after k failures puts at least `confidence` on chances
    above `coverage`. This is the rule of ECSS-E-ST-60-20C Rev. 1, annex E (second-hand).
    """
    return smallest_sample(coverage, confidence, failures) - 1


def allowed_failures(trials: int, chance: float, confidence: float) -> int | None:
    """Find the most failures in a sample that still show a chance (classical rule).

    Returns
    -------
    int or None
        None when the sample is too small even without any failure.

    Raises
    ------
    ValueError
        If there are no trials, or chance or confidence are impossible.
    """
    require_counts(0, trials)
    _require_chance(chance)
    require_confidence(confidence)
    too_many = _first_true(lambda k: not _shown(k, trials, chance, confidence), 0)
    return None if too_many == 0 else too_many - 1


def allowed_failures_uniform_prior(trials: int, chance: float, confidence: float) -> int | None:
    """Find the most failures by the uniform prior rule: those of one case more by the classical.

    Errors and result as `allowed_failures`.
    """
    require_counts(0, trials)
    return allowed_failures(trials + 1, chance, confidence)


class Verdict(StrEnum):
    """What a run says about the wanted chance."""

    YES = "yes"
    NO = "no"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Judgement:
    """Whether a chance is shown, refuted, or neither.

    Parameters
    ----------
    asked, confidence
        The wanted chance and the confidence it is to be shown with.
    verdict
        ``yes`` when the one-sided lower bound reaches `asked`, ``no`` when the one-sided upper
        bound stays below it.
    low, high
        Those two bounds, each with `confidence` on its own.
    more_cases
        About how many further cases would settle it if the observed rate kept up; None when it is
        settled or when no sensible number can be given.
    reason
        Why there is no number though it is undecided; empty otherwise.
    sentence
        All of it in words.
    """

    asked: float
    confidence: float
    verdict: Verdict
    low: float
    high: float
    more_cases: int | None
    reason: str
    sentence: str


def judge(successes: int, trials: int, chance: float, confidence: float) -> Judgement:
    """Judge independent cases against a wanted chance, by exact one-sided bounds.

    The confidence holds for one look at a number of cases fixed beforehand; adding cases until
    the verdict pleases lowers it.

    Parameters
    ----------
    successes, trials
        Cases that succeeded, and all cases.
    chance, confidence
        The wanted chance, and how surely it is to be shown.

    Raises
    ------
    ValueError
        If counts, chance or confidence are impossible.
    """
    require_counts(successes, trials)
    _require_chance(chance)
    require_confidence(confidence)
    failures = trials - successes
    bounds = (
        exact_lower_bound(successes, trials, confidence),
        exact_upper_bound(successes, trials, confidence),
    )
    if _shown(failures, trials, chance, confidence):
        verdict, total = Verdict.YES, None
    elif _refuted(failures, trials, chance, confidence):
        verdict, total = Verdict.NO, None
    else:
        verdict, total = Verdict.UNDECIDED, _settling(failures, trials, chance, confidence)
    more = None if total is None else total - trials
    return _judgement((chance, confidence), verdict, bounds, more, (successes / trials, trials))


def _furthest(trials: int) -> int:
    return max(FURTHEST * trials, MOST_CASES)


def _settling(failures: int, trials: int, chance: float, confidence: float) -> int | None:
    """Find how many cases in all would settle it, failing at the rate seen so far."""
    rate = failures / trials
    settled = _shown if rate < 1.0 - chance else _refuted

    def holds(total: int) -> bool:
        return settled(rate * total, total, chance, confidence)

    return _first_true(holds, trials + 1) if holds(_furthest(trials)) else None


def judge_replicates(replicates: Replicates, chance: float, confidence: float) -> Judgement:
    """Judge a stratified design against a wanted chance, by one-sided t bounds over its blocks.

    The bounds are those of `leadline.risk.proportion.Replicates.bounds`: widened to the exact ones
    of the pooled cases where the rarer outcome is too seldom for a t interval. Errors and result
    as `judge`; `replicates` must be shares.
    """
    _require_chance(chance)
    require_confidence(confidence)
    if not replicates.proportion or not replicates.count > 0 or replicates.cases is None:
        raise ValueError("judging needs replicates that are shares of known numbers of cases")
    low, high = replicates.bounds(confidence)
    more = None
    verdict = Verdict.YES if low >= chance else Verdict.NO if high < chance else Verdict.UNDECIDED
    if verdict is Verdict.UNDECIDED:
        total = _settling_replicates(replicates, chance, confidence)
        each = replicates.cases // replicates.count
        more = None if total is None else (total - replicates.count) * each
    seen = (replicates.mean, replicates.cases)
    return _judgement((chance, confidence), verdict, (low, high), more, seen)


def _settling_replicates(seen: Replicates, chance: float, confidence: float) -> int | None:
    """Find how many blocks in all would settle it with the mean and spread seen so far."""
    each, mean = seen.cases_each, seen.mean
    if each is None:
        return None

    def holds(count: int) -> bool:
        grown = Replicates(count, mean, seen.variance, proportion=True, cases_each=each)
        low, high = grown.bounds(confidence)
        return low >= chance or high < chance

    furthest = _furthest(seen.count * each) // each
    return _first_true(holds, seen.count + 1) if holds(furthest) else None


def _judgement(
    asked: tuple[float, float],
    verdict: Verdict,
    bounds: tuple[float, float],
    more: int | None,
    seen: tuple[float, int],
) -> Judgement:
    chance, confidence = asked
    low, high = bounds
    rate, trials = seen
    reason = ""
    if verdict is Verdict.UNDECIDED and more is None:
        reason = (
            f"the observed rate, {words.share(rate)}, is so near to {words.level(chance)} that "
            f"more than {words.count(_furthest(trials))} cases would be needed"
        )
    lower, upper = words.share(low, Rounding.DOWN), words.share(high, Rounding.UP)
    sentence = {
        Verdict.YES: f"Shown: the chance is at least {words.level(chance)} with "
        f"{words.level(confidence)} confidence; {words.count(trials)} cases put it above {lower}.",
        Verdict.NO: f"Not met: the chance is below {words.level(chance)} with "
        f"{words.level(confidence)} confidence; {words.count(trials)} cases put it below {upper}.",
        Verdict.UNDECIDED: f"Not decided: {words.count(trials)} cases neither show nor rule out "
        f"{words.level(chance)} with {words.level(confidence)} confidence (bounds {lower} and "
        f"{upper}); {_what_next(more, reason)}.",
    }[verdict]
    return Judgement(chance, confidence, verdict, low, high, more, reason, sentence)


def _what_next(more: int | None, reason: str) -> str:
    if more is None:
        return f"no sensible number of further cases can be given, since {reason}"
    rounded = words.count(_round_up(more))
    return f"at the rate seen, about {rounded} more cases would decide it"


def _round_up(number: int, figures: int = 2) -> int:
    """Round up to two figures: the estimate is no better than that."""
    unit = int(10 ** max(0, len(str(number)) - figures))
    return -(-number // unit) * unit
