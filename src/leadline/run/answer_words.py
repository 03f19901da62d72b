"""Intervals, chances and labels as every document has them."""

from __future__ import annotations

from leadline.risk import Interval, words
from leadline.risk.words import Rounding
from leadline.run.document import Chance, StudyLabel
from leadline.study import Study

__all__ = ["INTERVAL_CONFIDENCE", "as_chance", "chance_words", "study_label"]

INTERVAL_CONFIDENCE = 0.95
"""Every interval and quantile bound is two-sided at this confidence; judgements are not."""


def as_chance(interval: Interval) -> Chance:
    """Return an interval as a piece of a document."""
    return Chance(
        value=interval.value,
        low=interval.low,
        high=interval.high,
        confidence=interval.confidence,
        method=interval.method,
    )


def chance_words(chance: Chance) -> str:
    """Say a chance with its interval; a bound is rounded outwards."""
    low, high = words.share(chance.low, Rounding.DOWN), words.share(chance.high, Rounding.UP)
    return f"{words.share(chance.value)} ({low} to {high} with {words.level(chance.confidence)} confidence)"


def study_label(study: Study) -> StudyLabel:
    """Return which study it is."""
    return StudyLabel(title=study.title, digest=study.digest, option=study.option)
