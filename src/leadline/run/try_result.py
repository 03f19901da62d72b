"""The document that answers a change tried on a study."""

from __future__ import annotations

from typing import Literal

from pydantic import JsonValue

from leadline.run.document import Chance, Document, StudyLabel
from leadline.run.first_result import ShareRow, ShiftRow
from leadline.run.result import Cases, Difference, FirstFailure, HistogramBins

__all__ = ["MarginQuantile", "TriedMargin", "TriedRequirement", "TryResult"]


class MarginQuantile(Document):
    """A margin's quantile, without bounds."""

    p: float
    value: float


class TriedMargin(Document):
    """How a margin is spread, in short."""

    quantiles: tuple[MarginQuantile, ...]
    histogram: HistogramBins


class TriedRequirement(Document):
    """A requirement of the changed study; what is the base's is None where only the changed study has it."""

    name: str
    kind: str
    unit: str
    sentence: str
    chance: Chance
    base: Chance | None
    difference: Difference
    margin: TriedMargin | None
    base_margin: TriedMargin | None


class TryResult(Document):
    """What becomes of a study's chance under changes, on the same draws.

    `difference` is the chance less the base study's, paired. `shares_of` is the requirement that fails most often,
    and `shares` what its margin moves with; `shifts` are how numbers differ in failing cases; both are from the
    first cases. `values` is what the changes come to, as an option would say it; `changed` says them in words.
    """

    leadline: Literal[1] = 1
    kind: Literal["try"] = "try"
    study: StudyLabel
    seed: int
    cases: Cases
    chance: Chance
    base: Chance
    difference: Difference
    requirements: tuple[TriedRequirement, ...]
    first_failures: tuple[FirstFailure, ...]
    shares_of: str | None
    shares: tuple[ShareRow, ...]
    shifts: tuple[ShiftRow, ...]
    values: dict[str, JsonValue]
    changed: tuple[str, ...]
    notes: tuple[str, ...]
    sentence: str
