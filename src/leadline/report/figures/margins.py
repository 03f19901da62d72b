"""How each requirement's margin is spread, with the bound and the part that falls short."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.report.figures.outline import outline, rounded
from leadline.report.panel import Cell, Panel, Spec, Table, axis, layout
from leadline.report.scales import Scale, scale_for
from leadline.report.wording import amount, chance, clipped, count, level, quoted
from leadline.run.result import HistogramBins, MarginSummary, RequirementResult, Result

__all__ = ["margin_panels"]

Array = npt.NDArray[np.float64]

MOST_BARS: Final = 64
"""More bars than this turn a small drawing into noise."""

TAIL: Final = 5e-4
"""Share of the cases that may lie off either end of the axis."""

NEAR: Final = 1.5
"""A bound no further off than so many widths of the distribution is brought into the drawing."""

HEIGHT: Final = 250


@dataclass(frozen=True, slots=True)
class _Bars:
    """Bars to draw: (k + 1,) edges in the axis's unit, (k,) counts."""

    edges: Array
    counts: Array


def margin_panels(result: Result) -> tuple[Panel, ...]:
    """Return one panel for every requirement that has a margin, in the study's order."""
    return tuple(
        _panel(number, requirement, requirement.margin)
        for number, requirement in enumerate(result.requirements, start=1)
        if requirement.margin is not None
    )


def _panel(number: int, requirement: RequirementResult, margin: MarginSummary) -> Panel:
    bins = margin.histogram
    ends = (bins.start, bins.start + bins.width * len(bins.counts))
    varies = margin.low < margin.high
    reach = (*ends, *(q.value for q in margin.quantiles)) if varies else (margin.mean,)
    scale = scale_for(reach, requirement.unit)
    return Panel(
        name=f"margin.{requirement.name}",
        div_id=f"margin-{number}",
        title=clipped(requirement.name, 60),
        sentence=_sentence(requirement, margin) if varies else _fixed_sentence(requirement, margin),
        spec=_spec(margin, _bars(bins, scale), scale) if varies else _fixed_spec(margin, scale),
        table=_table(requirement, margin),
    )


def _sentence(requirement: RequirementResult, margin: MarginSummary) -> str:
    values = {q.p: amount(q.value, requirement.unit) for q in margin.quantiles}
    bins = margin.histogram
    outside = bins.under + bins.over
    beyond = f" {count(outside)} cases lie outside the bars." if outside else ""
    return (
        f"Half the cases keep a margin of {values[0.5]} or more on {quoted(requirement.name)}; 90 in 100 lie between "
        f"{values[0.05]} and {values[0.95]}. The requirement holds in {chance(requirement.chance)} of cases.{beyond}"
    )


def _fixed_sentence(requirement: RequirementResult, margin: MarginSummary) -> str:
    value = amount(margin.mean, requirement.unit)
    return f"The margin on {quoted(requirement.name)} is {value} in every case."


def _bars(bins: HistogramBins, scale: Scale) -> _Bars:
    """Return the bins merged to what can be drawn, long empty tails left off."""
    width = bins.width if bins.width > 0 else max(abs(bins.start), 1.0) * 1e-3
    counts = np.asarray(bins.counts, dtype=np.float64)
    merge = -(-len(counts) // MOST_BARS)
    before = -round(-bins.start / width) % merge
    after = -(before + len(counts)) % merge
    merged = np.pad(counts, (before, after)).reshape(-1, merge).sum(axis=1)
    start = bins.start - before * width
    edges: Array = start + merge * width * np.arange(len(merged) + 1, dtype=np.float64)
    edges[np.abs(edges) < 1e-6 * width] = 0.0  # the bound is an edge, rounding apart
    return _trimmed(_Bars(edges / scale.size, merged))


def _trimmed(bars: _Bars) -> _Bars:
    reached = np.cumsum(bars.counts)
    if not len(reached) or not reached[-1] > 0:
        return bars
    first = int(np.searchsorted(reached, TAIL * reached[-1], side="right"))
    last = int(np.searchsorted(reached, (1 - TAIL) * reached[-1]))
    return _Bars(bars.edges[first : last + 2], bars.counts[first : last + 1])


def _spec(margin: MarginSummary, bars: _Bars, scale: Scale) -> Spec:
    low, high = float(bars.edges[0]), float(bars.edges[-1])
    span = high - low
    # A bound far from every case would squeeze the distribution into a sliver.
    near = low - NEAR * span <= 0 <= high + NEAR * span
    left, right = (min(low, 0.0), max(high, 0.0)) if near else (low, high)
    pad = 0.03 * (right - left)
    total = sum(margin.histogram.counts) + margin.histogram.under + margin.histogram.over
    shares = 100 * bars.counts / max(total, 1)
    frame = _layout(scale, [left - pad, right + pad], float(shares.max()))
    frame["shapes"] = [_bound_line()] if near else []
    frame["annotations"] = [_bound_label(left, right) if near else _bound_afar(low)]
    return {"data": [*outline(bars.edges, shares), *_strip(margin, scale)], "layout": frame}


def _fixed_spec(margin: MarginSummary, scale: Scale) -> Spec:
    """Return a single stroke beside the bound, for a margin that is the same in every case."""
    value = scale(margin.mean)
    left, right = min(value, 0.0), max(value, 0.0)
    pad = 0.06 * (right - left) or 1.0
    stroke: Spec = {
        "type": "scatter",
        "mode": "lines",
        "name": "every case",
        "x": [value, value],
        "y": [0.0, 100.0],
        "line": {"width": 3, "color": "@blue" if value >= 0 else "@red"},
        "hoverinfo": "skip",
    }
    frame = _layout(scale, [left - pad, right + pad], 100.0, "cases, %")
    frame["shapes"], frame["annotations"] = [_bound_line()], [_bound_label(left - pad, right + pad)]
    return {"data": [stroke, *_strip(margin, scale)], "layout": frame}


def _layout(scale: Scale, reach: list[float], tallest: float, counted: str = "cases per bar, %") -> Spec:
    return layout(
        HEIGHT,
        xaxis=axis(scale.titled("margin"), range=reach, anchor="y2", mirror="allticks"),
        yaxis=axis(counted, domain=[0.16, 1], range=[0, 1.08 * tallest], nticks=5),
        yaxis2=axis(domain=[0, 0.16], range=[-1, 1], showticklabels=False, ticks="", mirror=True),
    )


def _strip(margin: MarginSummary, scale: Scale) -> list[Spec]:
    """Return the bar under the outline: 5 to 95 % of the cases, and the median."""
    at = {q.p: rounded(scale(q.value)) for q in margin.quantiles}
    common: Spec = {"type": "scatter", "yaxis": "y2", "hoverinfo": "x"}
    return [
        {
            **common,
            "mode": "lines",
            "x": [at[0.05], at[0.95]],
            "y": [0, 0],
            "line": {"width": 3, "color": "@ink"},
        },
        {
            **common,
            "mode": "markers",
            "x": [at[0.5]],
            "y": [0],
            "marker": {
                "size": 9,
                "color": "@paper",
                "line": {"width": 2, "color": "@ink"},
            },
        },
    ]


def _bound_line() -> Spec:
    return {
        "type": "line",
        "xref": "x",
        "yref": "paper",
        "x0": 0,
        "x1": 0,
        "y0": 0,
        "y1": 1,
        "line": {"color": "@ink", "width": 1.5},
    }


def _bound_label(left: float, right: float) -> Spec:
    place = -left / (right - left) if right > left else 0.5
    anchor = "left" if place < 0.15 else "right" if place > 0.85 else "center"
    return {
        "text": "bound",
        "xref": "x",
        "yref": "paper",
        "x": 0,
        "y": 1,
        "yanchor": "bottom",
        "xanchor": anchor,
        "showarrow": False,
    }


def _bound_afar(low: float) -> Spec:
    """Return the label for a bound that lies off the axis, said with the way to it."""
    left = low > 0
    way = "← bound off the axis" if left else "bound off the axis →"
    return {
        "text": way,
        "xref": "paper",
        "yref": "paper",
        "x": 0 if left else 1,
        "y": 1,
        "yanchor": "bottom",
        "xanchor": "left" if left else "right",
        "showarrow": False,
    }


def _table(requirement: RequirementResult, margin: MarginSummary) -> Table:
    unit = requirement.unit
    rows = [
        (
            Cell(f"{level(q.p)} of cases below"),
            _amount(q.value, unit),
            _amount(q.low, unit),
            _amount(q.high, unit),
        )
        for q in margin.quantiles
    ]
    nothing = Cell("")
    for name, value in (
        ("mean", margin.mean),
        ("standard deviation", margin.sd),
        ("smallest", margin.low),
        ("largest", margin.high),
    ):
        rows.append((Cell(name), _amount(value, unit), nothing, nothing))
    bound = f"{level(requirement.chance.confidence)} bound"
    return Table(("margin", "value", f"lower {bound}", f"upper {bound}"), tuple(rows))


def _amount(value: float | None, unit: str) -> Cell:
    return Cell("not given") if value is None else Cell(amount(value, unit, 4), value)
