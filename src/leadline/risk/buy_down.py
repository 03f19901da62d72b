"""What a change of one input buys: the gain in chance, each case flown with and without it.

With the other inputs' draws kept, most cases end alike on both sides, and only those that do not
carry any doubt about the gain; so a difference much smaller than the chance's own interval shows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from typing import Self

import numpy as np
import numpy.typing as npt

from leadline.risk import words
from leadline.risk.paired import paired_difference, replicate_difference
from leadline.risk.proportion import Interval, Replicates, clopper_pearson, replicate_interval, require_confidence

__all__ = ["BuyDown", "Change", "Kind", "PairedCounts", "buy_down"]

Flags = npt.NDArray[np.bool_]


class Kind(StrEnum):
    """How an input is changed."""

    HALVED = "halved"
    FIXED = "fixed at its middle"
    MOVED = "nominal moved"


@dataclass(frozen=True, slots=True)
class Change:
    """A change of one input.

    Parameters
    ----------
    input
        The input's name.
    kind
        What is done to it.
    words
        The same as the beginning of a sentence, such as ``"halving the spread of the dry mass"``.
    """

    input: str
    kind: Kind
    words: str

    @classmethod
    def halved(cls, name: str, called: str) -> Self:
        """Halve the spread of an input, called so in the sentence."""
        return cls(name, Kind.HALVED, f"halving the spread of {called}")

    @classmethod
    def fixed(cls, name: str, called: str) -> Self:
        """Fix an input at its middle."""
        return cls(name, Kind.FIXED, f"fixing {called} at its middle")

    @classmethod
    def moved(cls, name: str, called: str, how: str) -> Self:
        """Move the nominal of an input; `how` says from where to where, or by how much."""
        return cls(name, Kind.MOVED, f"moving {called} {how}")


@dataclass(frozen=True, slots=True)
class PairedCounts:
    """How the same cases end without a change and with it; merges in any order.

    Parameters
    ----------
    both, only_base, only_changed, neither
        Cases that succeed either way, only without the change, only with it, neither way.
    blocks
        How many blocks of equally many cases were counted; only stratified designs need it.
    changed_squared, excess_squared
        Sums over the blocks of the square of the cases that succeed with the change, and of the
        square of how many more these are than without it.
    """

    both: int
    only_base: int
    only_changed: int
    neither: int
    blocks: int
    changed_squared: int
    excess_squared: int

    @classmethod
    def of(cls, base: Flags, changed: Flags) -> Self:
        """Count a block of cases: whether each succeeds without the change and with it, both ``(n,)``."""
        both, won_base, won = (int(np.count_nonzero(flags)) for flags in (base & changed, base, changed))
        neither = base.size - won_base - won + both
        return cls(both, won_base - both, won - both, neither, 1, won * won, (won - won_base) ** 2)

    @property
    def cases(self) -> int:
        """All cases."""
        return self.both + self.only_base + self.only_changed + self.neither

    @property
    def changed(self) -> int:
        """Cases that succeed with the change."""
        return self.both + self.only_changed

    def merge(self, other: PairedCounts) -> PairedCounts:
        """Give the counts of both; associative and commutative."""
        return PairedCounts(*(a + b for a, b in zip(astuple(self), astuple(other), strict=True)))


@dataclass(frozen=True, slots=True)
class BuyDown:
    """What a change buys.

    Parameters
    ----------
    change
        What is changed.
    chance
        The chance with it.
    gain
        How much larger that is than without it.
    distinguishable
        Whether the interval of the gain leaves out 0.
    rank
        The best and the worst place, from 1, that the change may truly have among all those
        compared, for every one of them at once with the confidence of the gains.
    sentence
        The gain in words.
    """

    change: Change
    chance: Interval
    gain: Interval
    distinguishable: bool
    rank: tuple[int, int]
    sentence: str


def buy_down(
    changes: Sequence[tuple[Change, PairedCounts]], confidence: float, *, replicates: bool = False
) -> tuple[BuyDown, ...]:
    """Rank changes by what they buy.

    Parameters
    ----------
    changes
        Each with its counts, all against the same base.
    confidence
        Two-sided, of each chance and each gain.
    replicates
        Whether the cases are stratified in blocks, whose scatter then gives the intervals.

    Returns
    -------
    tuple of BuyDown
        From the largest gain to the smallest, equal ones by the name of the input.

        Places come from intervals wide enough to hold all gains at once (Bonferroni): a change is
        surely behind another where theirs do not meet. Intervals that meet prove nothing either
        way; the same draws on both sides may still tell the two apart.

    Raises
    ------
    ValueError
        If a change has no cases, blocks differ in size, or the confidence is impossible.
    """
    require_confidence(confidence)
    at_once = 1.0 - (1.0 - confidence) / max(len(changes), 1)
    wide = [_gain(counts, at_once, replicates=replicates) for _, counts in changes]
    rows = [
        _row(change, counts, confidence, _rank(own, wide), replicates=replicates)
        for (change, counts), own in zip(changes, wide, strict=True)
    ]
    return tuple(sorted(rows, key=lambda row: (-row.gain.value, row.change.input, row.change.kind)))


def _row(
    change: Change, counts: PairedCounts, confidence: float, rank: tuple[int, int], *, replicates: bool
) -> BuyDown:
    gain = _gain(counts, confidence, replicates=replicates)
    told = gain.low > 0.0 or gain.high < 0.0
    said = f"{change.words} {_gain_words(gain) if told else _nothing_words(gain, counts.cases)}"
    return BuyDown(change, _chance(counts, confidence, replicates=replicates), gain, told, rank, said)


def _rank(own: Interval, every: Sequence[Interval]) -> tuple[int, int]:
    ahead = sum(other.low > own.high for other in every)
    behind = sum(other.high < own.low for other in every)
    return ahead + 1, len(every) - behind


def _gain(counts: PairedCounts, confidence: float, *, replicates: bool) -> Interval:
    table = counts.both, counts.only_changed, counts.only_base, counts.neither
    if not replicates:
        return paired_difference(*table, confidence)
    excess = counts.only_changed - counts.only_base
    blocks = Replicates.of_counts(counts.blocks, excess, counts.excess_squared, _cases_each(counts), proportion=False)
    return replicate_difference(blocks, *table, confidence)


def _chance(counts: PairedCounts, confidence: float, *, replicates: bool) -> Interval:
    if not replicates:
        return clopper_pearson(counts.changed, counts.cases, confidence)
    blocks = Replicates.of_counts(counts.blocks, counts.changed, counts.changed_squared, _cases_each(counts))
    return replicate_interval(blocks, confidence)


def _cases_each(counts: PairedCounts) -> int:
    each, rest = divmod(counts.cases, counts.blocks)
    if rest or not each:
        raise ValueError(f"{counts.cases} cases do not make {counts.blocks} blocks of one size")
    return each


def _gain_words(gain: Interval) -> str:
    """Write a gain or a loss in hundredths, its bounds rounded outward but never to nothing."""
    verb, sign, (low, value, high) = (
        ("buys", "+", (gain.low, gain.value, gain.high))
        if gain.low > 0.0
        else ("costs", "", (-gain.high, -gain.value, -gain.low))
    )
    decimals = max(words.places(50.0 * (high - low)), min(math.ceil(-math.log10(100.0 * low)), words.MOST_PLACES))
    bounds = f"{_round(low, decimals, ROUND_FLOOR)}–{_round(high, decimals, ROUND_CEILING)}"
    return f"{verb} {sign}{_round(value, decimals, ROUND_HALF_EVEN)} points ({bounds})"


def _nothing_words(gain: Interval, cases: int) -> str:
    decimals = words.places(50.0 * (gain.high - gain.low))
    low, high = _round(gain.low, decimals, ROUND_FLOOR), _round(gain.high, decimals, ROUND_CEILING)
    return f"makes no difference that {words.count(cases)} cases can show ({low:+f} to {high:+f} points)"


def _round(share: float, decimals: int, rounding: str) -> Decimal:
    """Round a share to so many decimals of a hundredth."""
    return (Decimal(share) * 100).quantize(Decimal(1).scaleb(-decimals), rounding=rounding)
