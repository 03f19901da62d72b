"""The further answers a study can be asked for, as documents: drivers, sizing, sweeps, rare failures.

As with the result, everything is SI, and no document holds a NaN, an infinity or a time of day.
"""

from __future__ import annotations

from typing import Literal

from leadline.run.document import Chance, Document, StudyLabel
from leadline.run.first_result import ShiftsOf

__all__ = [
    "BuyDownRow",
    "Cap",
    "DriverRow",
    "DriversOf",
    "DriversResult",
    "NumberLabel",
    "RareEstimateResult",
    "RareFailure",
    "RareResult",
    "ShapleyOf",
    "ShapleyRow",
    "SizingPoint",
    "SizingResult",
    "SweepAxis",
    "SweepResult",
]


class NumberLabel(Document):
    """A number of the study: its place, what it is called in a sentence, and its SI unit."""

    place: str
    called: str
    unit: str


class DriverRow(Document):
    """What one dispersed number, or several that depend on one another, does to one output.

    `rank` is its place by total index at best, as estimated, at worst; `remark` says so where it
    cannot be told from none.
    """

    input: str
    called: str
    first: Chance
    total: Chance
    rank: tuple[int, int, int]
    distinguishable: bool
    remark: str


class DriversOf(Document):
    """The drivers of one requirement's margin or of failing it; empty where there is a `reason`."""

    output: str
    kind: Literal["margin", "failure"]
    drivers: tuple[DriverRow, ...]
    failures: int | None
    reason: str | None


class ShapleyRow(Document):
    """The share of an output's variance that falls to a number, or to several taken together."""

    input: str
    effect: Chance
    distinguishable: bool


class ShapleyOf(Document):
    """The Shapley effects on one output, summing to one; empty where there is a `reason`."""

    output: str
    kind: Literal["margin", "failure"]
    effects: tuple[ShapleyRow, ...]
    reason: str | None


class BuyDownRow(Document):
    """What a change of one dispersed number buys, on the same draws; `rank` is its best and worst place."""

    input: str
    called: str
    change: str
    chance: Chance
    gain: Chance
    distinguishable: bool
    rank: tuple[int, int]
    sentence: str


class DriversResult(Document):
    """What drives the risk of a study, three ways, and what each change buys.

    `cases` are pairs of cases behind the indices, `evaluations` the cases flown for them; `sentence`
    is the one to quote.
    """

    leadline: Literal[1] = 1
    kind: Literal["drivers"] = "drivers"
    study: StudyLabel
    seed: int
    partial: bool
    chance: Chance
    cases: int
    evaluations: int
    outputs: tuple[DriversOf, ...]
    shift_cases: int
    shifts: tuple[ShiftsOf, ...]
    shapley: tuple[ShapleyOf, ...]
    buy_down_cases: int
    buy_down: tuple[BuyDownRow, ...]
    notes: tuple[str, ...]
    limits: tuple[str, ...]
    sentence: str


class SizingPoint(Document):
    """How the cases ended for one value tried; failures are by requirement.

    `low` and `high` bound the chance, each with the confidence asked for.
    """

    value: float
    cases: int
    succeeded: int
    invalid: int
    low: float
    high: float
    failures: dict[str, int]


class Cap(Document):
    """The requirement that most cases fail at the best value, and the chance without it."""

    requirement: str
    failures: int
    chance_without: Chance


class SizingResult(Document):
    """The value of one number that gives the wanted chance, or why there is none.

    `met` are ranges of values that show it; `likely` and `at_best` are where the plain estimate and
    the upper bound cross the wanted chance.
    """

    leadline: Literal[1] = 1
    kind: Literal["sizing"] = "sizing"
    study: StudyLabel
    seed: int
    number: NumberLabel
    low: float
    high: float
    whole: bool
    asked: float
    confidence: float
    met: tuple[tuple[float, float], ...]
    answer: float | None
    best: float
    chance: Chance
    likely: float | None
    at_best: float | None
    resolution: float
    limited_below: str | None
    limited_above: str | None
    cap: Cap | None
    points: tuple[SizingPoint, ...]
    notes: tuple[str, ...]
    limits: tuple[str, ...]
    sentence: str


class SweepAxis(Document):
    """A number that is varied, and the values tried."""

    number: NumberLabel
    values: tuple[float, ...]


class SweepResult(Document):
    """The chance over one or two numbers, on the same draws.

    `succeeded`, `low` and `high` run over the second axis fastest. `likely` and `shown` are lines of
    points, one coordinate for each axis, where the estimate reaches the wanted chance and where it
    is shown. A sweep that was stopped is `partial` and ends at the last value of the first axis
    that was done.
    """

    leadline: Literal[1] = 1
    kind: Literal["sweep"] = "sweep"
    study: StudyLabel
    seed: int
    partial: bool = False
    cases: int
    asked: float
    confidence: float
    axes: tuple[SweepAxis, ...]
    succeeded: tuple[int, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    likely: tuple[tuple[tuple[float, ...], ...], ...]
    shown: tuple[tuple[tuple[float, ...], ...], ...]
    notes: tuple[str, ...]
    limits: tuple[str, ...]
    sentence: str


class RareEstimateResult(Document):
    """A chance of failure by one method, and the cases it took."""

    method: str
    chance: Chance
    coefficient_of_variation: float
    calls: int
    replicates: int


class RareFailure(Document):
    """How likely one requirement, or any, is missed; `quoted` is None where nothing is to be relied on."""

    output: str
    state: str
    quoted: RareEstimateResult | None
    estimates: tuple[RareEstimateResult, ...]
    calls: int
    invalid: int
    sentence: str


class RareResult(Document):
    """Rare failures: of the whole first, then of each requirement; `partial` if it was stopped before the last."""

    leadline: Literal[1] = 1
    kind: Literal["rare"] = "rare"
    study: StudyLabel
    seed: int
    partial: bool = False
    target_variation: float
    failures: tuple[RareFailure, ...]
    notes: tuple[str, ...]
    limits: tuple[str, ...]
    sentence: str
