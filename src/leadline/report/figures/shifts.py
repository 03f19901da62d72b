"""How the dispersed numbers of failing cases differ from those of all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from leadline.report.figures.intervals import IntervalRow, interval_spec
from leadline.report.panel import Cell, Panel, Table
from leadline.report.wording import clipped, count, number, number_interval, share
from leadline.run.first_result import ShiftRow, ShiftsOf

__all__ = ["shift_panels", "shift_table"]

MOST_ROWS: Final = 8
MOST_LISTED: Final = 40
MOST_NAMED: Final = 3


def shift_panels(shifts: Sequence[ShiftsOf]) -> tuple[Panel, ...]:
    """Return the panel for the cases that fail anything, which stand last; nothing where too few do."""
    if not shifts or shifts[-1].reason is not None or not shifts[-1].shifts:
        return ()
    whole = shifts[-1]
    rows = sorted(whole.shifts, key=lambda row: -abs(row.shift.value))
    return (
        Panel(
            name="shifts",
            div_id="shifts",
            title="How failing cases differ",
            sentence=_sentence(whole, rows[0]),
            spec=interval_spec(
                [_row(row) for row in rows[:MOST_ROWS]], "shift in failing cases, standard deviations", 0.0
            ),
            table=_table(rows[:MOST_LISTED]),
        ),
    )


def _sentence(whole: ShiftsOf, best: ShiftRow) -> str:
    return (
        f"In the {count(whole.failures)} failing of {count(whole.cases)} cases, {clipped(best.called, 120)} is "
        f"{best.direction} by {number(abs(best.shift.value))} standard deviations on average, and {best.direction} "
        f"than in another case drawn at random in {share(best.probability.value)} of them."
    )


def _row(row: ShiftRow) -> IntervalRow:
    given = row.shift
    text = f"{row.direction}, {number(given.value)}" if row.distinguishable else "not told from none"
    return IntervalRow(row.called, given.low, given.value, given.high, text, told=row.distinguishable)


def _table(rows: Sequence[ShiftRow]) -> Table:
    return Table(
        ("number", "in failing cases", "shift, standard deviations", "chance of being so"),
        tuple(
            (
                Cell(row.called),
                Cell(row.direction),
                Cell(number_interval(row.shift), row.shift.value),
                Cell(share(row.probability.value), row.probability.value),
            )
            for row in rows
        ),
    )


def shift_table(shifts: Sequence[ShiftsOf]) -> Table:
    """Return how the cases that fail each requirement differ; requirements that too few cases fail are left out."""
    told = [each for each in shifts[:-1] if each.reason is None]
    rows = [
        (Cell(each.output), Cell(count(each.failures), each.failures), Cell(_named(each.shifts)))
        for each in told
        if each.failures
    ]
    return Table(("requirement", "failing cases", "in them"), tuple(rows))


def _named(rows: Sequence[ShiftRow]) -> str:
    told = [row for row in rows if row.distinguishable][:MOST_NAMED]
    said = (f"{clipped(row.called, 60)} is {row.direction} ({number(row.shift.value)})" for row in told)
    return "; ".join(said) or "nothing that can be told"
