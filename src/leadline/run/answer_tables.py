"""Further answers as rows of plain values, for tables and data frames; everything is SI."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from leadline.run.answer_files import Answer
from leadline.run.answers import BuyDownRow, DriversResult, RareFailure, SizingPoint, SizingResult, SweepResult

__all__ = ["Value", "answer_rows"]

Value = str | int | float | bool | None


def answer_rows(answer: Answer) -> list[dict[str, Value]]:
    """Return the table of an answer, the same columns in every row.

    Changes with their gains, values tried of a sizing, combinations of a sweep, or estimates of
    rare failures.
    """
    match answer:
        case DriversResult():
            return [_change(row) for row in answer.buy_down]
        case SizingResult():
            return [_tried(point, answer) for point in answer.points]
        case SweepResult():
            return list(_combinations(answer))
        case _:
            return [row for failure in answer.failures for row in _estimates(failure)]


def _change(row: BuyDownRow) -> dict[str, Value]:
    return {
        "change": row.change,
        "number": row.input,
        "gain": row.gain.value,
        "low": row.gain.low,
        "high": row.gain.high,
        "chance": row.chance.value,
        "distinguishable": row.distinguishable,
        "best_place": row.rank[0],
        "worst_place": row.rank[1],
    }


def _tried(point: SizingPoint, sizing: SizingResult) -> dict[str, Value]:
    return {
        sizing.number.place: point.value,
        "chance": point.succeeded / point.cases,
        "low": point.low,
        "high": point.high,
        "shown": any(low <= point.value <= high for low, high in sizing.met),
        "fails_most": max(point.failures, key=lambda name: point.failures[name], default=None),
    }


def _combinations(sweep: SweepResult) -> Iterator[dict[str, Value]]:
    places = [axis.number.place for axis in sweep.axes]
    for at, values in enumerate(itertools.product(*(axis.values for axis in sweep.axes))):
        yield {
            **dict(zip(places, values, strict=True)),
            "chance": sweep.succeeded[at] / sweep.cases,
            "low": sweep.low[at],
            "high": sweep.high[at],
            "shown": sweep.low[at] >= sweep.asked,
        }


def _estimates(failure: RareFailure) -> Iterator[dict[str, Value]]:
    for each in failure.estimates:
        yield {
            "failing": failure.output,
            "chance": each.chance.value,
            "low": each.chance.low,
            "high": each.chance.high,
            "by": each.method,
            "variation": each.coefficient_of_variation,
            "cases": each.calls,
            "quoted": each == failure.quoted,
            "state": failure.state,
        }
    if not failure.estimates:
        nothing = dict.fromkeys(("chance", "low", "high", "by", "variation"))
        yield {"failing": failure.output, **nothing, "cases": failure.calls, "quoted": False, "state": failure.state}
