"""The chance over one number, or over two as lines of equal chance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from leadline.report.figures.curve import Curve, Tried, curve_spec
from leadline.report.figures.outline import rounded
from leadline.report.panel import Cell, Panel, Spec, Table, axis, layout
from leadline.report.scales import Scale, scale_for
from leadline.report.wording import amount, clipped, label, level, share
from leadline.risk.words import Rounding
from leadline.run.answers import NumberLabel, SweepAxis, SweepResult

__all__ = ["sweep_panels"]

HEIGHT: Final = 440
LEVELS: Final = (0.1, 0.5, 0.8, 0.9, 0.95, 0.99, 0.999)
"""Chances whose lines are drawn beside the one asked for."""
FEW_LEVELS: Final = (0.1, 0.5, 0.9, 0.99)
LARGE: Final = 900
NEAR: Final = 0.003
"""A line no further from the one asked for than this would only blur it."""
MOST_ACROSS: Final = 15
WIDEST: Final = 56


def sweep_panels(sweeps: Sequence[SweepResult]) -> tuple[Panel, ...]:
    """Return a panel for every sweep."""
    return tuple(_panel(number, sweep) for number, sweep in enumerate(sweeps, start=1))


def _panel(number: int, sweep: SweepResult) -> Panel:
    called = " and ".join(one.number.called for one in sweep.axes)
    return Panel(
        name=f"sweep.{'.by.'.join(one.number.place for one in sweep.axes)}",
        div_id=f"sweep-{number}",
        title=clipped(f"Chance over {called}", 70),
        sentence=_sentence(sweep),
        spec=_line_spec(sweep) if len(sweep.axes) == 1 else _map_spec(sweep),
        table=_line_table(sweep) if len(sweep.axes) == 1 else _map_table(sweep),
    )


def _sentence(sweep: SweepResult) -> str:
    said = sweep.sentence.removeprefix(f"{sweep.study.title}: ")
    shown = f"Filled dots show {level(sweep.asked)} with {level(sweep.confidence)} confidence"
    lines = "" if len(sweep.axes) == 1 else f"; the thick line is where the estimate reaches {level(sweep.asked)}"
    stopped = " It was stopped before its last value." if sweep.partial else ""
    return f"{clipped(said[:1].upper() + said[1:], 420)} {shown}{lines}.{stopped}"


def _scale(given: SweepAxis) -> Scale:
    return scale_for(given.values, given.number.unit)


def _chance(sweep: SweepResult, at: int) -> float:
    return sweep.succeeded[at] / sweep.cases


def _shown(sweep: SweepResult, at: int) -> bool:
    return sweep.low[at] >= sweep.asked


# ------------------------------------------------------------------------------------------------ one number


def _line_spec(sweep: SweepResult) -> Spec:
    (only,) = sweep.axes
    points = [
        Tried(value, sweep.low[at], _chance(sweep, at), sweep.high[at], _shown(sweep, at))
        for at, value in enumerate(only.values)
    ]
    return curve_spec(Curve(only.number.called, points, sweep.asked, _runs(points), None), _scale(only))


def _runs(points: Sequence[Tried]) -> list[tuple[float, float]]:
    """Return the ranges over which neighbouring values all show what is asked."""
    runs: list[tuple[float, float]] = []
    before = False
    for point in points:
        if point.shown:
            start = runs.pop()[0] if before else point.value
            runs.append((start, point.value))
        before = point.shown
    return runs


def _line_table(sweep: SweepResult) -> Table:
    (only,) = sweep.axes
    rows = [
        (
            Cell(_value(value, only.number)),
            Cell(share(_chance(sweep, at)), _chance(sweep, at)),
            Cell(share(sweep.low[at], Rounding.DOWN), sweep.low[at]),
            Cell(share(sweep.high[at], Rounding.UP), sweep.high[at]),
            Cell("yes" if _shown(sweep, at) else "no"),
        )
        for at, value in enumerate(only.values)
    ]
    bound = f"at {level(sweep.confidence)} confidence"
    return Table((only.number.called, "chance", f"at least, {bound}", f"at most, {bound}", "shown"), tuple(rows))


def _value(value: float, number: NumberLabel) -> str:
    return amount(value, number.unit, 4)


# ------------------------------------------------------------------------------------------------ two numbers


def _map_spec(sweep: SweepResult) -> Spec:
    first, second = sweep.axes
    scales = _scale(first), _scale(second)
    x, y = ([rounded(scale(value)) for value in one.values] for one, scale in zip(sweep.axes, scales, strict=True))
    across = len(y)
    z = [[_chance(sweep, across * i + j) for i in range(len(x))] for j in range(across)]
    reaches = [_reach(x), _reach(y)]
    return {
        "data": [
            *(_level_line(at, x, y, z) for at in _levels(sweep)),
            *_asked_lines(sweep, scales),
            _dots(sweep, x, y),
        ],
        "layout": layout(
            HEIGHT,
            xaxis=axis(label(scales[0].titled(first.number.called), WIDEST), range=reaches[0], nticks=7),
            yaxis=axis(label(scales[1].titled(second.number.called), WIDEST), range=reaches[1], nticks=7),
            annotations=_asked_label(sweep, scales),
        ),
    }


def _levels(sweep: SweepResult) -> list[float]:
    """Return the chances whose lines are drawn: those that are met, and fewer of a large grid, whose data weigh."""
    low, high = (end / sweep.cases for end in (min(sweep.succeeded), max(sweep.succeeded)))
    wanted = LEVELS if len(sweep.succeeded) <= LARGE else FEW_LEVELS
    return [at for at in wanted if low < at < high and abs(at - sweep.asked) > NEAR]


def _reach(values: Sequence[float]) -> list[float]:
    pad = 0.04 * (values[-1] - values[0])
    return [values[0] - pad, values[-1] + pad]


def _level_line(at: float, x: Sequence[float], y: Sequence[float], z: Sequence[Sequence[float]]) -> Spec:
    """Return a thin line of equal chance with its chance written on it."""
    return {
        "type": "contour",
        "name": level(at),
        "x": list(x),
        "y": list(y),
        "z": [[float(f"{value:.4g}") for value in row] for row in z],
        "showscale": False,
        "hoverinfo": "skip",
        "autocontour": False,
        "line": {"width": 1, "color": "@soft"},
        "contours": {
            "start": at,
            "end": at,
            "size": 1,
            "coloring": "none",
            "showlabels": True,
            "labelformat": ".4~p",
            "labelfont": {"size": 11, "color": "@soft"},
        },
    }


def _asked_lines(sweep: SweepResult, scales: tuple[Scale, Scale]) -> list[Spec]:
    return [
        {
            "type": "scatter",
            "mode": "lines",
            "name": "asked, as estimated",
            "x": [rounded(scales[0](point[0])) for point in line],
            "y": [rounded(scales[1](point[1])) for point in line],
            "hoverinfo": "skip",
            "line": {"width": 3, "color": "@blue"},
        }
        for line in sweep.likely
    ]


def _asked_label(sweep: SweepResult, scales: tuple[Scale, Scale]) -> list[Spec]:
    """Write the asked chance at the middle of its longest line, on paper so that it stays readable."""
    longest = max(sweep.likely, key=len, default=())
    if not longest:
        return []
    point = longest[len(longest) // 2]
    return [
        {
            "text": f"{100 * sweep.asked:.10g}\u202f% asked",
            "x": rounded(scales[0](point[0])),
            "y": rounded(scales[1](point[1])),
            "bgcolor": "@paper",
            "borderpad": 2,
            "showarrow": False,
        }
    ]


def _dots(sweep: SweepResult, x: Sequence[float], y: Sequence[float]) -> Spec:
    places = [(i, j) for i in range(len(x)) for j in range(len(y))]
    shown = [_shown(sweep, at) for at in range(len(places))]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "tried",
        "x": [x[i] for i, _ in places],
        "y": [y[j] for _, j in places],
        "cliponaxis": False,
        "hoverinfo": "text",
        "text": [share(_chance(sweep, at)) for at in range(len(places))],
        "marker": {
            "size": [7 if met else 4 for met in shown],
            "symbol": ["circle" if met else "circle-open" for met in shown],
            "color": "@ink",
            "opacity": 1,
            "line": {"width": 1, "color": "@ink"},
        },
    }


def _map_table(sweep: SweepResult) -> Table:
    """Return the first number down and the second across, as many of it as can be read."""
    first, second = sweep.axes
    across = len(second.values)
    kept = range(0, across, -(-across // MOST_ACROSS))
    rows = [
        (Cell(_value(value, first.number)), *(_grid_cell(sweep, across * i + j) for j in kept))
        for i, value in enumerate(first.values)
    ]
    corner = f"{clipped(first.number.called, 20)} ↓, {clipped(second.number.called, 20)} →"
    return Table((corner, *(_value(second.values[j], second.number) for j in kept)), tuple(rows))


def _grid_cell(sweep: SweepResult, at: int) -> Cell:
    return Cell(share(_chance(sweep, at)), _chance(sweep, at))
