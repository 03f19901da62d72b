"""The documents a run hands over: the result, and options side by side.

Everything is SI. No document holds a NaN, an infinity or a time of day, so the same study
and seed give the same bytes. A share is a fraction of the failed cases unless it says otherwise.
"""

from __future__ import annotations

from typing import Literal

from pydantic import JsonValue

from leadline.run.document import Chance, Document, StudyLabel
from leadline.run.first_result import Settled, SharesOf, ShiftsOf, UnknownsResult

__all__ = [
    "OUTLINE",
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
    "MassBudgetResult",
    "MassMargin",
    "OptionChance",
    "OptionResult",
    "Provenance",
    "Quantile",
    "RequirementResult",
    "Result",
    "Separation",
    "StudyLabel",
]

QUANTILES = (0.001, 0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99, 0.999)
"""The fractions at which every margin's quantile is given."""

OUTLINE = tuple(0.005 + 0.99 * step / 24 for step in range(25))
"""The fractions at which a law's quantiles outline it."""


class Cases(Document):
    """How the cases ended: total = succeeded + failed + invalid."""

    total: int
    succeeded: int
    failed: int
    invalid: int


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
    """A dispersed number and its law, in SI; `law` holds the kind under ``law`` and its parameters.

    `kind` tells what differs from flight to flight from what is fixed and only not known;
    `practice` names the practice law it rests on, `outline` holds its quantiles at `OUTLINE`.
    """

    name: str
    unit: str = ""
    law: dict[str, JsonValue]
    mean: float
    sd: float
    kind: Literal["flight", "knowledge"] = "flight"
    practice: str | None = None
    outline: tuple[float, ...] = ()


class MassMargin(Document):
    """A mass margin under one definition; `value` is a share of one, of what `formula` divides by."""

    name: str
    formula: str
    value: float
    source: str
    standing: str


class MassBudgetResult(Document):
    """The deterministic mass budget of an element, SI, with its margin under every definition.

    `growth` is a share of the best estimate. The chances are of the element's dry mass under
    its law, in closed form: that it is at most the allowable, at most the predicted mass;
    None where the dry mass has no law.
    """

    element: str
    best_kg: float
    growth: float
    maturity: str | None
    growth_kg: float
    predicted_kg: float
    allowable_kg: float
    margin_kg: float
    margins: tuple[MassMargin, ...]
    chance_within_allowable: float | None
    chance_within_predicted: float | None


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

    `ledger_cases` is how many of the first cases the ledger bands, `shares` and `shifts` are taken
    from; `settling` is the chance after the first cases and after all; `unknowns` is there where the
    study marks numbers as fixed and only not known; `limits` are the model's limits in sentences;
    `sentence` is the one to quote.
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
    unknowns: UnknownsResult | None = None
    settling: tuple[Settled, ...] = ()
    shares: tuple[SharesOf, ...] = ()
    shifts: tuple[ShiftsOf, ...] = ()
    ledger: tuple[LedgerBand, ...]
    ledger_cases: int
    inputs: tuple[InputSummary, ...]
    mass_budgets: tuple[MassBudgetResult, ...] = ()
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


class Separation(Document):
    """How much a requirement separates an option from the base: the difference in the chance that it is met.

    A side that does not require it meets it in every valid case.
    """

    requirement: str
    required: Literal["by both", "by the base only", "by the option only"]
    difference: Difference


class OptionResult(Document):
    """One option beside the base; the base itself has `name` None and no difference.

    `separations` are the requirements that end differently under the two, the largest difference
    first; `where_base_fails` is the chance that the option succeeds in a case in which the base does
    not, None where no case is one.
    """

    name: str | None
    digest: str
    cases: Cases
    chance: Chance
    requirements: tuple[OptionChance, ...]
    first_failure: FirstFailure | None
    difference: Difference | None
    separations: tuple[Separation, ...] = ()
    where_base_fails: Chance | None = None
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
