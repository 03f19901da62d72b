"""What each change of a dispersed number buys, the largest gain first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from leadline.report.figures.intervals import IntervalRow, interval_spec
from leadline.report.panel import Cell, Panel, Table
from leadline.report.wording import chance, clipped, count, difference, gain, level, places, plain
from leadline.run.answers import BuyDownRow, DriversResult

__all__ = ["best_spread", "buy_down_panels"]

MOST_ROWS: Final = 12
"""Changes drawn."""

MOST_LISTED: Final = 60
"""Changes in the table behind the drawing; the document has every one."""


def buy_down_panels(drivers: DriversResult) -> tuple[Panel, ...]:
    """Return the panel of gains, or nothing where nothing is dispersed."""
    rows = drivers.buy_down
    if not rows:
        return ()
    return (
        Panel(
            name="buy-down",
            div_id="buy-down",
            title="What each change buys",
            sentence=_sentence(rows),
            spec=interval_spec([_row(row) for row in rows[:MOST_ROWS]], "gain in chance, percentage points", 0.0),
            table=_table(rows[:MOST_LISTED]),
        ),
    )


def best_spread(drivers: DriversResult) -> str | None:
    """Return what halving one spread buys at best, as a sentence; None where none makes a difference that shows."""
    rows = (row for row in drivers.buy_down if row.change.startswith("halving the spread"))
    best = next(rows, None)
    return None if best is None or not best.gain.low > 0 else plain(best.sentence)


def _sentence(rows: Sequence[BuyDownRow]) -> str:
    told = sum(row.distinguishable for row in rows)
    best = rows[0]
    drawn = min(len(rows), MOST_ROWS)
    which = f"the {count(drawn)} that buy most" if drawn < len(rows) else "all of them"
    return (
        f"{clipped(best.sentence, 240)} Of {count(len(rows))} changes tried one at a time on the same draws, "
        f"{count(told)} make a difference that shows; here are {which}. A ring is the gain, the bar through it its "
        f"{level(best.gain.confidence)} interval; a dotted bar with a diamond cannot be told from none."
    )


def _row(row: BuyDownRow) -> IntervalRow:
    low, value, high = (100 * end for end in (row.gain.low, row.gain.value, row.gain.high))
    return IntervalRow(row.change, low, value, high, gain(row.gain), told=row.distinguishable)


def _table(rows: Sequence[BuyDownRow]) -> Table:
    return Table(
        ("change", "gain", "chance with it", "place"),
        tuple(
            (
                Cell(row.change),
                Cell(difference(row.gain), row.gain.value),
                Cell(chance(row.chance), row.chance.value),
                Cell(places(row.rank)),
            )
            for row in rows
        ),
    )
