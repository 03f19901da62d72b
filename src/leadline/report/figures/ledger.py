"""Mass and propellant along the mission, leg by leg down the page, as bands over the cases."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from leadline.report.panel import Cell, Panel, Spec, Table, axis, layout
from leadline.report.scales import Scale, scale_for
from leadline.report.wording import amount, clipped, label, quoted
from leadline.run.result import Band, LedgerBand, Result

__all__ = ["ledger_panels"]

ROW_HEIGHT: Final = 24
EDGE_HEIGHT: Final = 92


class Row(NamedTuple):
    """A leg's name, where it stands in a sentence, and the band after it."""

    name: str
    when: str
    band: Band


def ledger_panels(result: Result) -> tuple[Panel, ...]:
    """Return a panel for the stack's mass and one for every tank, in the order they appear."""
    if not result.ledger:
        return ()
    tanks = tuple(dict.fromkeys(tank for row in result.ledger for tank in row.propellant_kg))
    return (
        _mass_panel(result.ledger),
        *(_tank_panel(number, tank, result.ledger) for number, tank in enumerate(tanks, start=1)),
    )


def _row(given: LedgerBand, band: Band) -> Row:
    return Row(given.leg, "at the start" if given.kind == "start" else f"after {quoted(given.leg)}", band)


def _mass_panel(ledger: Sequence[LedgerBand]) -> Panel:
    rows = [_row(given, given.mass_kg) for given in ledger]
    widest = max(rows, key=_spread)
    sentence = (
        f"The stack's median mass goes from {_kg(rows[0].band.p50)} to {_kg(rows[-1].band.p50)}; the band of 90 in 100 "
        f"cases is widest {widest.when}, {_kg(_spread(widest))}."
    )
    return _panel("ledger.mass", "ledger-mass", "Mass of the stack", sentence, rows, "mass")


def _tank_panel(number: int, tank: str, ledger: Sequence[LedgerBand]) -> Panel:
    rows = [_row(given, given.propellant_kg[tank]) for given in ledger if tank in given.propellant_kg]
    last = rows[-1]
    held = [row for row in rows if row.band.p95 > 0] or rows  # before it is filled a tank is empty, which tells nothing
    least = min(reversed(held), key=lambda row: row.band.p5)
    lower = "" if least is last else f" One case in 20 is below {_kg(least.band.p5)} {least.when}."
    sentence = (
        f"The median left in {quoted(tank)} {last.when} is {_kg(last.band.p50)}; 90 in 100 cases lie between "
        f"{_kg(last.band.p5)} and {_kg(last.band.p95)}.{lower}"
    )
    name, title = f"ledger.propellant.{tank}", f"Propellant in {clipped(tank, 48)}"
    return _panel(name, f"ledger-tank-{number}", title, sentence, rows, "propellant")


def _panel(name: str, div_id: str, title: str, sentence: str, rows: Sequence[Row], what: str) -> Panel:
    scale = scale_for((end for row in rows for end in (row.band.p5, row.band.p95)), "kg")
    return Panel(name, div_id, title, sentence, _spec(rows, scale, what), _table(rows))


def _spread(row: Row) -> float:
    return row.band.p95 - row.band.p5


def _kg(mass_kg: float) -> str:
    return amount(mass_kg, "kg")


def _spec(rows: Sequence[Row], scale: Scale, what: str) -> Spec:
    places = list(range(len(rows)))
    low = [scale(row.band.p5) for row in rows]
    middle = [scale(row.band.p50) for row in rows]
    high = [scale(row.band.p95) for row in rows]
    return {
        "data": [_band(low, high, places), _bars(low, high), _median(middle, places)],
        "layout": layout(
            EDGE_HEIGHT + ROW_HEIGHT * len(rows),
            margin={"l": 8, "r": 18, "t": 8, "b": 12},
            xaxis=axis(scale.titled(what), side="top", rangemode="tozero", nticks=6),
            yaxis=_leg_axis([row.name for row in rows]),
            shapes=[_EMPTY] if min(low) < 0 else [],
        ),
    }


_EMPTY: Final[Spec] = {
    "type": "line",
    "xref": "x",
    "yref": "paper",
    "x0": 0,
    "x1": 0,
    "y0": 0,
    "y1": 1,
    "line": {"color": "@ink", "width": 1.5},
}
"""The line of an empty tank; left of it lies what was asked for and not there."""


def _leg_axis(names: Sequence[str]) -> Spec:
    return axis(
        tickvals=list(range(len(names))),
        ticktext=[label(name, 24) for name in names],
        range=[len(names) - 0.5, -0.5],
        ticks="",
        mirror=True,
        ticklabelstandoff=6,
        showgrid=True,
        griddash="1px,3px",
        gridwidth=1,
    )


def _band(low: list[float], high: list[float], places: list[int]) -> Spec:
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "5 to 95 % of cases",
        "x": [*low, *reversed(high)],
        "y": [*places, *reversed(places)],
        "fill": "toself",
        "fillcolor": "@blue-wash",
        "line": {"width": 0},
        "hoverinfo": "skip",
    }


def _bars(low: list[float], high: list[float]) -> Spec:
    """Return one trace with a bar across the band at every leg, parted by gaps."""
    ends = [end for pair in zip(low, high, strict=True) for end in (*pair, None)]
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "5 to 95 % of cases",
        "x": ends,
        "y": [None if end is None else place // 3 for place, end in enumerate(ends)],
        "hoverinfo": "skip",
        "line": {"width": 3, "color": "@blue"},
    }


def _median(middle: list[float], places: list[int]) -> Spec:
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "name": "median",
        "x": middle,
        "y": places,
        "hoverinfo": "x",
        "cliponaxis": False,
        "line": {"width": 1, "color": "@ink"},
        "marker": {"size": 7, "color": "@paper", "line": {"width": 1.5, "color": "@ink"}},
    }


def _table(rows: Sequence[Row]) -> Table:
    return Table(
        ("after", "5 % of cases below", "median", "95 % of cases below"),
        tuple(
            (Cell(row.name), *(Cell(_kg(mass), mass) for mass in (row.band.p5, row.band.p50, row.band.p95)))
            for row in rows
        ),
    )
