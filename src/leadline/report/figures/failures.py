"""What fails first, and where."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from leadline.report.panel import Cell, Panel, Spec, Table, axis, layout
from leadline.report.wording import clipped, count, label, quoted, share
from leadline.run.result import FirstFailure, Result

__all__ = ["combination_table", "failure_panels"]

MOST_ROWS: Final = 12
"""Bars drawn; the table behind the figure has every row."""

MOST_COMBINATIONS: Final = 20

ROW_HEIGHT: Final = 44
EDGE_HEIGHT: Final = 64


def failure_panels(result: Result) -> tuple[Panel, ...]:
    """Return the panel of first failures, or nothing where no case failed."""
    rows = sorted((row for row in result.first_failures if row.cases), key=lambda row: -row.cases)
    if not rows:
        return ()
    return (
        Panel(
            name="first failures",
            div_id="first-failures",
            title="What fails first, and where",
            sentence=_sentence(rows, result.cases.failed),
            spec=_spec(rows[:MOST_ROWS]),
            table=_table(rows),
        ),
    )


def _sentence(rows: Sequence[FirstFailure], failed: int) -> str:
    top = rows[0]
    place = "before the first leg" if top.leg is None else f"in leg {quoted(top.leg)}"
    rest = len(rows) - MOST_ROWS
    others = f" {count(rest)} rarer ways are in the table only." if rest > 0 else ""
    return (
        f"Of {count(failed)} failed cases, {share(top.share)} fall short first on "
        f"{quoted(top.requirement)}, {place}.{others}"
    )


def _spec(rows: Sequence[FirstFailure]) -> Spec:
    places = list(range(len(rows)))
    shares = [100 * row.share for row in rows]
    return {
        "data": [
            {
                "type": "bar",
                "orientation": "h",
                "x": shares,
                "y": places,
                "width": 0.36,
                "hoverinfo": "skip",
                "text": [share(row.share) for row in rows],
                "textposition": "outside",
                "cliponaxis": False,
                "marker": {
                    "line": {"width": 1.25, "color": "@red"},
                    "color": "@red-wash",
                    "pattern": {
                        "shape": "/",
                        "fgcolor": "@red",
                        "bgcolor": "@red-wash",
                        "size": 6,
                        "solidity": 0.25,
                    },
                },
            }
        ],
        "layout": layout(
            EDGE_HEIGHT + ROW_HEIGHT * len(rows),
            margin={"l": 2, "r": 2, "t": 8, "b": 8},
            xaxis=axis("share of the failed cases, %", range=[0, 1.22 * max(shares)], nticks=6),
            yaxis=axis(range=[len(rows) - 0.6, -0.75], showticklabels=False, ticks="", mirror=True, automargin=False),
            annotations=[_name(place, row) for place, row in zip(places, rows, strict=True)],
        ),
    }


def _name(place: int, row: FirstFailure) -> Spec:
    """Return the label above a bar: names run long, and a phone has no room beside it."""
    leg = "before the first leg" if row.leg is None else label(row.leg, 26)
    return {
        "text": f"{label(row.requirement, 22)} · {leg}",
        "xref": "paper",
        "x": 0,
        "xanchor": "left",
        "xshift": 6,
        "yref": "y",
        "y": place - 0.22,
        "yanchor": "bottom",
        "showarrow": False,
    }


def _table(rows: Sequence[FirstFailure]) -> Table:
    return Table(
        ("requirement", "leg", "cases", "share of failed"),
        tuple(
            (
                Cell(row.requirement),
                Cell("before the first leg" if row.leg is None else row.leg),
                Cell(count(row.cases), row.cases),
                Cell(share(row.share), row.share),
            )
            for row in rows
        ),
    )


def combination_table(result: Result) -> Table:
    """Return which requirements fail together, the commonest first."""
    found = (row for row in result.combinations if row.cases)
    rows = sorted(found, key=lambda row: -row.cases)[:MOST_COMBINATIONS]
    return Table(
        ("fail together", "cases", "share of failed"),
        tuple(
            (
                Cell("more at once" if row.more else " + ".join(clipped(name, 36) for name in row.requirements)),
                Cell(count(row.cases), row.cases),
                Cell(share(row.share), row.share),
            )
            for row in rows
        ),
    )
