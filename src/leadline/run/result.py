"""The documents a run hands over: the result, and options side by side.

Everything is SI. No document holds a NaN, an infinity or a time of day, so the same study
and seed give the same bytes. A share is a fraction of the failed cases unless it says otherwise.
"""

from __future__ import annotations

from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, JsonValue

__all__ = [
    "QUANTILES",
    "Band",
    "Cases",
    "Chance",
    "Combination",
    "CompareResult",
    "Difference",
    "Document",
    "FirstFailure",
    "HistogramBins",
    "InputSummary",
    "JudgementResult",
    "LedgerBand",
    "MarginSummary",
    "OptionChance",
    "OptionResult",
    "Provenance",
    "Quantile",
    "RequirementResult",
    "Result",
    "StudyLabel",
]

QUANTILES = (0.001, 0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99, 0.999)
"""The fractions at which every margin's quantile is given."""


class Document(BaseModel):
    """A frozen piece of a document that refuses unknown keys and numbers that are not finite."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    def to_json(self) -> str:
        """Return the document as indented JSON text ending in a line break."""
        return self.model_dump_json(indent=2) + "\n"

    @classmethod
    def from_json(cls, text: str | bytes) -> Self:
        """Read the document back; `to_json` of it gives the same text."""
        return cls.model_validate_json(text)


class StudyLabel(Document):
    """Which study was computed; `option` is None for the base study."""

    title: str
    digest: str
    option: str | None = None


class Cases(Document):
    """How the cases ended: total = succeeded + failed + invalid."""

    total: int
    succeeded: int
    failed: int
    invalid: int


class Chance(Document):
    """A probability with its interval; `method` names the rule in words."""

    value: float
    low: float
    high: float
    confidence: float
    method: str


class Quantile(Document):
    """A margin's quantile with its bounds; a bound the cases cannot give is None."""

    p: float
    value: float
    low: float | None
    high: float | None


class HistogramBins(Document):
    """Counts in equal bins: bin i spans start + i width to start + (i + 1) width."""

    start: float
    width: float
    counts: tuple[int, ...]
    under: int
    over: int


class MarginSummary(Document):
    """How one margin is spread over the valid cases, in the requirement's unit."""

    mean: float
    sd: float
    low: float
    high: float
    quantiles: tuple[Quantile, ...]
    histogram: HistogramBins


class RequirementResult(Document):
    """One requirement: the chance that it holds, and its margin (None if no case was valid)."""

    name: str
    kind: str
    unit: str
    sentence: str
    chance: Chance
    margin: MarginSummary | None


class FirstFailure(Document):
    """Cases that failed this requirement first, at this leg; None is before the first leg."""

    requirement: str
    leg: str | None
    share: float
    cases: int


class Combination(Document):
    """Cases that failed exactly these requirements.

    `more` marks the one bucket for more failing requirements at once than are told apart;
    its `requirements` is empty.
    """

    requirements: tuple[str, ...]
    share: float
    cases: int
    more: bool = False


class JudgementResult(Document):
    """Whether the wanted chance is shown at the wanted confidence.

    `more_cases` is about how many further cases would settle an undecided verdict; None
    when settled, or when no reasonable number would. A study that asks for no chance has the
    verdict "not asked".
    """

    asked: float | None
    confidence: float | None
    verdict: Literal["yes", "no", "undecided", "not asked"]
    more_cases: int | None
    sentence: str


class Band(Document):
    """Quantiles 5, 50 and 95 % of a quantity."""

    p5: float
    p50: float
    p95: float


class LedgerBand(Document):
    """What the ledger shows after one leg (or at the start), as bands over the cases."""

    leg: str
    kind: str
    mass_kg: Band
    propellant_kg: dict[str, Band]
    elapsed_s: Band
    quantities: dict[str, Band]


class InputSummary(Document):
    """A dispersed number and its law, in SI; `law` holds the kind under ``law`` and its parameters."""

    name: str
    unit: str = ""
    law: dict[str, JsonValue]
    mean: float
    sd: float


class Provenance(Document):
    """What it takes to get the same bytes again.

    `blocks` holds the finished blocks as [start, stop) pairs; `last_block_cases` is set when
    only the first cases of the last block count.
    """

    versions: dict[str, str]
    python: str
    platform: str
    cpu_features: tuple[str, ...]
    block_size: int
    blocks: tuple[tuple[int, int], ...]
    last_block_cases: int | None
    pilot_cases: int
    generator: str


class Result(Document):
    """The answer of one run.

    `ledger_cases` is how many of the first cases the ledger bands are taken from; `limits`
    are the model's limits in sentences; `sentence` is the one to quote.
    """

    leadline: Literal[1] = 1
    kind: Literal["result"] = "result"
    study: StudyLabel
    seed: int
    design: str
    partial: bool
    cases: Cases
    chance: Chance
    requirements: tuple[RequirementResult, ...]
    first_failures: tuple[FirstFailure, ...]
    combinations: tuple[Combination, ...]
    judgement: JudgementResult
    ledger: tuple[LedgerBand, ...]
    ledger_cases: int
    inputs: tuple[InputSummary, ...]
    notes: tuple[str, ...]
    limits: tuple[str, ...]
    sources: tuple[str, ...]
    provenance: Provenance
    sentence: str


class OptionChance(Document):
    """The chance of one requirement under one option."""

    name: str
    chance: Chance


class Difference(Document):
    """Chance under the option less chance under the base, on the same cases.

    The four counts say how the cases ended under both; the interval is the paired one.
    """

    value: float
    low: float
    high: float
    confidence: float
    method: str
    both: int
    option_only: int
    base_only: int
    neither: int


class OptionResult(Document):
    """One option beside the base; the base itself has `name` None and no difference."""

    name: str | None
    digest: str
    cases: Cases
    chance: Chance
    requirements: tuple[OptionChance, ...]
    first_failure: FirstFailure | None
    difference: Difference | None
    sentence: str


class CompareResult(Document):
    """The base study and its options on the same blocks of common draws; the base is first."""

    leadline: Literal[1] = 1
    kind: Literal["comparison"] = "comparison"
    study: StudyLabel
    seed: int
    design: str
    partial: bool
    options: tuple[OptionResult, ...]
    notes: tuple[str, ...]
    limits: tuple[str, ...]
    provenance: Provenance
    sentence: str
