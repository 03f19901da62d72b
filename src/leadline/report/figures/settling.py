"""How the chance settled as cases were added."""

from __future__ import annotations

import math
from typing import Final

from leadline.report.figures.curve import asked_line
from leadline.report.figures.outline import rounded
from leadline.report.panel import Cell, Panel, Spec, Table, axis, layout
from leadline.report.wording import chance, count
from leadline.run.first_result import Settled
from leadline.run.result import Result

__all__ = ["settling_panels"]

HEIGHT: Final = 260


def settling_panels(result: Result) -> tuple[Panel, ...]:
    """Return the panel of the chance over the number of cases, or nothing where there is one number only."""
    looks = result.settling
    if len(looks) < 2:
        return ()
    return (
        Panel(
            name="settling",
            div_id="settling",
            title="How the chance settled",
            sentence=_sentence(looks),
            spec=_spec(looks, result.judgement.asked),
            table=Table(("cases", "chance"), tuple(map(_row, looks))),
        ),
    )


def _row(look: Settled) -> tuple[Cell, Cell]:
    return Cell(count(look.cases), look.cases), Cell(chance(look.chance), look.chance.value)


def _sentence(looks: tuple[Settled, ...]) -> str:
    early, late = looks[0], looks[-1]
    return (
        f"After {count(early.cases)} cases the chance stood at {chance(early.chance)}, after all "
        f"{count(late.cases)} at {chance(late.chance)}; the band is its interval."
    )


def _spec(looks: tuple[Settled, ...], asked: float | None) -> Spec:
    x = [look.cases for look in looks]
    low, value, high = (
        [rounded(100 * getattr(look.chance, end)) for look in looks] for end in ("low", "value", "high")
    )
    bounds = [*low, *high, *([] if asked is None else [100 * asked])]
    least, most = min(bounds), max(bounds)
    room = 0.05 * max(most - least, 0.5)
    band: Spec = {
        "type": "scatter",
        "mode": "lines",
        "name": "interval",
        "x": [*x, *reversed(x)],
        "y": [*low, *reversed(high)],
        "fill": "toself",
        "fillcolor": "@blue-wash",
        "line": {"width": 0},
        "hoverinfo": "skip",
    }
    line: Spec = {
        "type": "scatter",
        "mode": "lines+markers",
        "name": "chance",
        "x": x,
        "y": value,
        "hoverinfo": "x+y",
        "line": {"width": 1.5, "color": "@blue"},
        "marker": {"size": 6, "symbol": "circle", "color": "@ink", "line": {"width": 1, "color": "@ink"}},
    }
    return {
        "data": [band, line],
        "layout": layout(
            HEIGHT,
            xaxis=axis("cases", type="log", range=[math.log10(x[0]) - 0.1, math.log10(x[-1]) + 0.1]),
            yaxis=axis("chance, %", nticks=6, range=[least - room, most + room]),
            shapes=[] if asked is None else [asked_line(asked)],
        ),
    }
