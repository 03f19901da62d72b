"""Rare failures: every estimate with its interval, on a logarithmic axis."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from leadline.report.figures.intervals import IntervalRow, interval_spec
from leadline.report.panel import Cell, Panel, Table
from leadline.report.wording import clipped, count, level, share, small
from leadline.risk.words import Rounding
from leadline.run.answers import RareEstimateResult, RareFailure, RareResult
from leadline.run.document import Chance

__all__ = ["rare_panels"]

MOST_ROWS: Final = 18
"""Estimates drawn, so that the drawing fits a sheet of paper; the table has every one."""
LEAST: Final = 1e-300
"""What a lower bound of 0 is drawn at is never below this."""


def rare_panels(rare: RareResult) -> tuple[Panel, ...]:
    """Return the panel of all estimates, or nothing where there is none."""
    rows = [row for failure in _ranked(rare.failures) for row in _rows(failure)]
    if not rows:
        return ()
    return (
        Panel(
            name="rare",
            div_id="rare",
            title="Rare failures",
            sentence=_sentence(rare, len(rows)),
            spec=interval_spec(rows[:MOST_ROWS], "chance that a case fails", None, log=True),
            table=_table(rare.failures),
        ),
    )


def _ranked(failures: Sequence[RareFailure]) -> list[RareFailure]:
    """Return the whole first, then the requirements from the likeliest failure down."""
    rest = sorted(failures[1:], key=lambda each: -max((e.chance.value for e in each.estimates), default=0.0))
    return [*failures[:1], *rest]


def _rows(failure: RareFailure) -> Iterator[IntervalRow]:
    for each in failure.estimates:
        if not each.chance.value > 0:
            continue
        quoted = each == failure.quoted
        low = max(each.chance.low, 1e-3 * each.chance.value, LEAST)
        name = f"{clipped(failure.output, 48)} · {each.method}"
        yield IntervalRow(name, low, each.chance.value, each.chance.high, small(each.chance.value), told=quoted)


def _sentence(rare: RareResult, drawn: int) -> str:
    whole, parts = rare.failures[0], rare.failures[1:]
    system = "No estimate of failing anything is to be relied on."
    if whole.quoted is not None:
        system = f"A case fails with a chance of {_interval(whole.quoted.chance)}, found by {whole.quoted.method}."
    reached = [each for each in parts if each.quoted is not None]
    least = min(reached, key=_quoted, default=None)
    rarest = ""
    if least is not None and least.quoted is not None:
        rarest = (
            f" The rarest failure reached is that of {clipped(least.output, 60)}: {small(least.quoted.chance.value)}."
        )
    out = len(parts) - len(reached)
    unreached = f" For {count(out)} of {count(len(parts))} requirements there is no estimate to rely on." if out else ""
    apart = [clipped(each.output, 48) for each in rare.failures if each.state == "estimates disagree"]
    warned = f" Two methods disagree about {', '.join(apart)}." if apart else ""
    left = f" {count(drawn - MOST_ROWS)} more are in the table." if drawn > MOST_ROWS else ""
    return (
        f"{system}{rarest}{unreached}{warned}{left} A ring on a full bar is the estimate to quote, a diamond on a "
        "dotted one the other method."
    )


def _quoted(failure: RareFailure) -> float:
    return 0.0 if failure.quoted is None else failure.quoted.chance.value


def _interval(given: Chance) -> str:
    low, high = small(given.low, Rounding.DOWN), small(given.high, Rounding.UP)
    return f"{small(given.value)} ({low} to {high}, {level(given.confidence)})"


def _table(failures: Sequence[RareFailure]) -> Table:
    rows = [row for failure in failures for row in _table_rows(failure)]
    return Table(("failing", "chance", "by", "variation", "cases", "state"), tuple(rows))


def _table_rows(failure: RareFailure) -> Iterator[tuple[Cell, ...]]:
    if not failure.estimates:
        nothing = Cell("")
        yield Cell(failure.output), nothing, nothing, nothing, Cell(count(failure.calls)), Cell(_said(failure))
    for each in failure.estimates:
        yield Cell(failure.output), *_estimate(each), Cell(_state(failure, each))


def _said(failure: RareFailure) -> str:
    """Return why there is no estimate, without the name that stands beside it."""
    return clipped(failure.sentence.removeprefix(f"{failure.output}: "), 240)


def _estimate(each: RareEstimateResult) -> tuple[Cell, ...]:
    return (
        Cell(_interval(each.chance), each.chance.value),
        Cell(each.method),
        Cell(share(each.coefficient_of_variation)),
        Cell(count(each.calls)),
    )


def _state(failure: RareFailure, each: RareEstimateResult) -> str:
    return f"{failure.state}; quoted" if each == failure.quoted and len(failure.estimates) > 1 else failure.state
