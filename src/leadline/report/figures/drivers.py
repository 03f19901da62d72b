"""Which dispersed numbers carry the risk: indices of failing, and of each margin."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from leadline.report.figures.intervals import IntervalRow, interval_spec
from leadline.report.panel import Cell, Panel, Table
from leadline.report.wording import clipped, count, number, number_interval, places, quoted
from leadline.run.answers import DriverRow, DriversOf, DriversResult, ShapleyOf, ShapleyRow
from leadline.run.first_result import ShareRow, SharesOf

__all__ = ["driver_panels", "driver_reasons", "driver_table", "share_table"]

MOST_ROWS: Final = 12
LEAST_NAMED: Final = 0.005
"""What would be written as 0.00 is not worth a name."""
MOST_NAMED: Final = 3
"""Numbers named for each requirement in the table of all."""


def driver_panels(drivers: DriversResult) -> tuple[Panel, ...]:
    """Return the panel of total indices of failing anything, and of Shapley effects where they were asked for."""
    whole = _whole(drivers.outputs)
    found = [] if whole is None or whole.reason is not None else [_panel(whole)]
    shared = [each for each in drivers.shapley if each.kind == "failure"][-1:]
    return (*found, *(_shapley_panel(each) for each in shared if each.reason is None and each.effects))


def driver_reasons(drivers: DriversResult) -> tuple[str, ...]:
    """Return why there are no indices of failing anything, where there are none."""
    whole = _whole(drivers.outputs)
    reasons = [] if whole is None or whole.reason is None else [whole.reason]
    shared = [each.reason for each in drivers.shapley if each.kind == "failure"][-1:]
    return (*reasons, *(f"Shapley effects: {reason}" for reason in shared if reason is not None))


def _whole(outputs: Sequence[DriversOf]) -> DriversOf | None:
    """Return the indices of failing any requirement, which stand last."""
    failures = [each for each in outputs if each.kind == "failure"]
    return failures[-1] if failures else None


def _panel(given: DriversOf) -> Panel:
    rows = given.drivers
    return Panel(
        name="drivers",
        div_id="drivers",
        title="What carries the risk of failing",
        sentence=_sentence(rows, given.failures),
        spec=interval_spec([_row(row) for row in rows[:MOST_ROWS]], "total index of failing any requirement", 0.0),
        table=_table(rows),
    )


def _sentence(rows: Sequence[DriverRow], failures: int | None) -> str:
    told = sum(row.distinguishable for row in rows)
    best = rows[0]
    seen = "" if failures is None else f", with {count(failures)} failing cases seen"
    return (
        f"{_capital(best.called)} carries most of the risk: total index {number_interval(best.total)}{seen}. A total "
        "index is the share of the variance of failing that would still be there if every other number were known; "
        f"they may sum to more than one. {count(told)} of {count(len(rows))} can be told from none. Beside each bar: "
        "the index, and the places it may truly have."
    )


def _row(row: DriverRow) -> IntervalRow:
    best, _, worst = row.rank
    text = f"{number(row.total.value)}, place {places((best, worst))}" if row.distinguishable else "not told from none"
    given = row.total
    return IntervalRow(row.called, given.low, given.value, given.high, text, told=row.distinguishable)


def _table(rows: Sequence[DriverRow]) -> Table:
    return Table(
        ("number", "total index", "first-order index", "place", "remark"),
        tuple(
            (
                Cell(row.called),
                Cell(number_interval(row.total), row.total.value),
                Cell(number_interval(row.first), row.first.value),
                Cell(places((row.rank[0], row.rank[2]))),
                Cell(clipped(row.remark, 200)),
            )
            for row in rows
        ),
    )


def driver_table(drivers: DriversResult) -> Table:
    """Return the largest drivers of every requirement's margin, and of failing it where it fails often enough."""
    failing = {each.output: each for each in drivers.outputs if each.kind == "failure"}
    rows = [
        (Cell(each.output), *_named(each.drivers, each.reason), *_named_of(failing.get(each.output)))
        for each in drivers.outputs
        if each.kind == "margin"
    ]
    return Table(("requirement", "its margin moves with", "failing it goes with"), tuple(rows))


def _named_of(given: DriversOf | None) -> tuple[Cell]:
    return (Cell(""),) if given is None else _named(given.drivers, given.reason)


def _named(rows: Iterable[DriverRow], reason: str | None) -> tuple[Cell]:
    if reason is not None:
        return (Cell("too few failures" if "failed" in reason or "was met" in reason else "does not vary"),)
    told = [row for row in rows if row.distinguishable and row.total.value >= LEAST_NAMED][:MOST_NAMED]
    return (Cell("; ".join(f"{clipped(row.called, 60)} {number(row.total.value)}" for row in told) or "none told"),)


def share_table(shares: Sequence[SharesOf]) -> Table:
    """Return which numbers each margin moves with, from the cases at hand."""
    return Table(
        ("requirement", "its margin moves with"),
        tuple((Cell(each.output), Cell(_shares(each.shares, each.reason))) for each in shares),
    )


def _shares(rows: Iterable[ShareRow], reason: str | None) -> str:
    if reason is not None:
        return clipped(reason, 120)
    told = [row for row in rows if row.distinguishable and row.share.value >= LEAST_NAMED][:MOST_NAMED]
    return "; ".join(f"{clipped(row.called, 60)} {number_interval(row.share)}" for row in told) or "none told"


def _shapley_panel(given: ShapleyOf) -> Panel:
    rows = sorted(given.effects, key=lambda row: -row.effect.value)
    best = rows[0]
    return Panel(
        name="shapley",
        div_id="shapley",
        title="Shapley effects on failing",
        sentence=(
            f"The largest part of the variance of failing falls to {quoted(best.input, 90)}: "
            f"{number_interval(best.effect)}. Shapley effects sum to one, and share what numbers that depend on one "
            "another do together."
        ),
        spec=interval_spec([_shapley_row(row) for row in rows[:MOST_ROWS]], "Shapley effect", 0.0),
        table=Table(
            ("number", "Shapley effect"),
            tuple((Cell(row.input), Cell(number_interval(row.effect), row.effect.value)) for row in rows),
        ),
    )


def _shapley_row(row: ShapleyRow) -> IntervalRow:
    given = row.effect
    text = number(given.value) if row.distinguishable else "not told from none"
    return IntervalRow(row.input, given.low, given.value, given.high, text, told=row.distinguishable)


def _capital(called: str) -> str:
    said = clipped(called, 120)
    return said[:1].upper() + said[1:]
