"""An option beside the base: how the same cases end under both, as a whole and by requirement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from leadline.risk import Interval, clopper_pearson, paired_difference, replicate_difference, words
from leadline.risk.proportion import Replicates
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance
from leadline.run.paired import Joint
from leadline.run.result import Chance, Difference, Separation
from leadline.run.work import Prepared

__all__ = ["Beside"]

Required = Literal["by both", "by the base only", "by the option only"]


@dataclass(frozen=True, slots=True)
class Beside:
    """What the same cases tell of an option and the base; see `leadline.run.result.OptionResult`."""

    difference: Difference
    separations: tuple[Separation, ...]
    where_base_fails: Chance | None

    @classmethod
    def base(cls, base: Prepared, option: Prepared, joint: Joint, by_requirement: Mapping[str, Joint]) -> Beside:
        """Compare an option with the base, both on the same cases."""
        replicate_cases = base.sampler.block_size if base.sampler.replicates else 0
        sides = _names(base), _names(option)
        parts = [
            Separation(
                requirement=name,
                required=_required(name, *sides),
                difference=_difference(each, replicate_cases),
            )
            for name, each in by_requirement.items()
            if each.option_only or each.base_only
        ]
        parts.sort(key=lambda part: -abs(part.difference.value))
        return cls(_difference(joint, replicate_cases), tuple(parts), _where_base_fails(joint))

    @property
    def words(self) -> str:
        """The comparison as the end of a sentence."""
        return f"{_difference_words(self.difference)}{_separation_words(self.separations)}{self._where_words()}"

    def _where_words(self) -> str:
        given = self.where_base_fails
        if given is None or not (self.difference.option_only or self.difference.base_only):
            return ""
        return f"; where the base fails, it succeeds in {words.share(given.value)} of cases"


def _names(ready: Prepared) -> frozenset[str]:
    return frozenset(label.name for label in ready.plan.requirements)


def _required(name: str, base: frozenset[str], option: frozenset[str]) -> Required:
    if name in base and name in option:
        return "by both"
    return "by the base only" if name in base else "by the option only"


def _where_base_fails(joint: Joint) -> Chance | None:
    """Bound the option's chance among the cases the base fails; these are counted, whatever the design."""
    failing = joint.option_only + joint.neither
    return as_chance(clopper_pearson(joint.option_only, failing, INTERVAL_CONFIDENCE)) if failing else None


def _difference(joint: Joint, replicate_cases: int) -> Difference:
    interval = _paired(joint, replicate_cases)
    return Difference(
        value=interval.value,
        low=max(interval.low, -1.0),
        high=min(interval.high, 1.0),
        confidence=interval.confidence,
        method=interval.method,
        both=joint.both,
        option_only=joint.option_only,
        base_only=joint.base_only,
        neither=joint.neither,
    )


def _paired(joint: Joint, replicate_cases: int) -> Interval:
    """Bound the difference: exactly paired for independent cases, over blocks for replicates."""
    counts = (joint.both, joint.option_only, joint.base_only, joint.neither)
    if not replicate_cases:
        return paired_difference(*counts, INTERVAL_CONFIDENCE)
    blocks = Replicates.of_counts(joint.blocks, joint.excess, joint.excess_squared, replicate_cases, proportion=False)
    return replicate_difference(blocks, *counts, INTERVAL_CONFIDENCE)


def _difference_words(difference: Difference) -> str:
    if not difference.option_only and not difference.base_only:
        return "the same in every case as the base"
    low, high = 100 * difference.low, 100 * difference.high
    if low <= 0 <= high:
        return f"not told apart from the base (between {low:+.3g} and {high:+.3g} points)"
    way = "above" if difference.value > 0 else "below"
    return f"{abs(100 * difference.value):.3g} points {way} the base (between {low:+.3g} and {high:+.3g})"


def _separation_words(parts: tuple[Separation, ...]) -> str:
    """Name the requirement that separates the two most, if any does beyond doubt."""
    told = [part for part in parts if not part.difference.low <= 0 <= part.difference.high]
    if not told:
        return ""
    most = told[0].difference.value
    way = "more" if most > 0 else "less"
    return f"; {told[0].requirement} separates them most, met {abs(100 * most):.3g} points {way} often"
