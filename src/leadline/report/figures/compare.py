"""Options side by side: their chances, and their paired differences from the base."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from leadline.report.panel import Cell, Panel, Spec, Table, axis, layout
from leadline.report.wording import bare, chance, count, difference, label, quoted, share
from leadline.run.result import Chance, CompareResult, Difference, OptionResult

__all__ = ["compare_panels", "option_name"]

ROW_HEIGHT: Final = 44
EDGE_HEIGHT: Final = 64

Row = tuple[str, Chance | Difference]


def option_name(option: OptionResult) -> str:
    """Return an option's name; the base study is called that."""
    return "the base study" if option.name is None else option.name


def compare_panels(comparison: CompareResult) -> tuple[Panel, ...]:
    """Return the panel of chances and, where there is an option, that of differences."""
    if not comparison.options:
        return ()
    different = [option for option in comparison.options if option.difference is not None]
    chances = _chances(comparison.options)
    return (chances, _differences(different)) if different else (chances,)


def _chances(options: Sequence[OptionResult]) -> Panel:
    best = max(options, key=lambda option: option.chance.value)
    sentence = (
        f"Of {count(len(options))} ways to fly it on the same draws, {quoted(option_name(best))} "
        f"closes most often: {chance(best.chance)}. A ring is a chance, the bar through it its interval; the dashed "
        "line is the base study."
    )
    rows: list[Row] = [(option_name(option), option.chance) for option in options]
    base = next((option.chance.value for option in options if option.name is None), None)
    return Panel(
        name="compare.chances",
        div_id="compare-chances",
        title="The chance that everything holds",
        sentence=sentence,
        spec=_spec(rows, "chance, %", base),
        table=_chance_table(options),
    )


def _differences(options: Sequence[OptionResult]) -> Panel:
    rows: list[Row] = [(option_name(option), option.difference) for option in options if option.difference is not None]
    settled = sum(1 for _, given in rows if given.low > 0 or given.high < 0)
    sentence = (
        f"Difference in chance from the base study, on the same draws: for {count(settled)} "
        f"of {count(len(rows))} the interval leaves zero out, so the sign is settled."
    )
    return Panel(
        name="compare.differences",
        div_id="compare-differences",
        title="What each option changes",
        sentence=sentence,
        spec=_spec(rows, "difference in chance, percentage points", 0.0),
        table=_difference_table(options),
    )


def _spec(rows: Sequence[Row], title: str, line: float | None) -> Spec:
    places, reach = list(range(len(rows))), _reach(rows, line)
    return {
        "data": [_intervals(rows, places), _dots(rows, places, reach)],
        "layout": layout(
            EDGE_HEIGHT + ROW_HEIGHT * len(rows),
            margin={"l": 2, "r": 2, "t": 8, "b": 8},
            xaxis=axis(title, range=reach, nticks=7),
            yaxis=axis(range=[len(rows) - 0.5, -0.75], showticklabels=False, ticks="", mirror=True, automargin=False),
            shapes=[] if line is None else [_reference(100 * line)],
            annotations=[_name(place, name) for place, (name, _) in enumerate(rows)],
        ),
    }


def _reach(rows: Sequence[Row], line: float | None) -> list[float]:
    ends = [100 * end for _, given in rows for end in (given.low, given.high)]
    ends += [] if line is None else [100 * line]
    pad = max(0.06 * (max(ends) - min(ends)), 0.05)
    return [min(ends) - pad, max(ends) + pad]


def _intervals(rows: Sequence[Row], places: Sequence[int]) -> Spec:
    """Return one trace of bars, parted by gaps."""
    x: list[float | None] = []
    y: list[float | None] = []
    for place, (_, given) in zip(places, rows, strict=True):
        x += [100 * given.low, 100 * given.high, None]
        y += [place, place, None]
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "interval",
        "x": x,
        "y": y,
        "hoverinfo": "skip",
        "line": {"width": 3, "color": "@blue"},
    }


def _dots(rows: Sequence[Row], places: list[int], reach: list[float]) -> Spec:
    values = [100 * given.value for _, given in rows]
    middle = sum(reach) / 2
    return {
        "type": "scatter",
        "mode": "markers+text",
        "name": "value",
        "x": values,
        "y": places,
        "hoverinfo": "skip",
        "text": [f"  {bare(given)}  " for _, given in rows],
        "textposition": ["middle right" if value < middle else "middle left" for value in values],
        "marker": {"size": 8, "color": "@paper", "line": {"width": 2, "color": "@ink"}},
    }


def _reference(x: float) -> Spec:
    return {
        "type": "line",
        "xref": "x",
        "yref": "paper",
        "x0": x,
        "x1": x,
        "y0": 0,
        "y1": 1,
        "line": {"color": "@ink", "width": 1, "dash": "4px,3px"},
    }


def _name(place: int, name: str) -> Spec:
    return {
        "text": label(name, 44),
        "xref": "paper",
        "x": 0,
        "xanchor": "left",
        "xshift": 6,
        "yref": "y",
        "y": place - 0.18,
        "yanchor": "bottom",
        "showarrow": False,
    }


def _chance_table(options: Sequence[OptionResult]) -> Table:
    rows = []
    for option in options:
        first = option.first_failure
        rows.append(
            (
                Cell(option_name(option)),
                Cell(chance(option.chance), option.chance.value),
                Cell(count(option.cases.total), option.cases.total),
                Cell("none" if first is None else first.requirement),
                Cell("" if first is None else f"{share(first.share)} of its failures"),
            )
        )
    return Table(("option", "chance", "cases", "most often fails first on", "in"), tuple(rows))


def _difference_table(options: Sequence[OptionResult]) -> Table:
    rows = []
    for option in options:
        given = option.difference
        if given is not None:
            ends = (given.both, given.option_only, given.base_only, given.neither)
            rows.append(
                (
                    Cell(option_name(option)),
                    Cell(difference(given), given.value),
                    *(Cell(count(cases), cases) for cases in ends),
                )
            )
    headers = ("option", "difference", "both close", "option only", "base only", "neither")
    return Table(headers, tuple(rows))
