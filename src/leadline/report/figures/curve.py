"""The chance over one number: a line through the values tried, its bounds, and what is asked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from leadline.report.figures.outline import rounded
from leadline.report.panel import Spec, axis, layout
from leadline.report.scales import Scale
from leadline.report.wording import label

__all__ = ["Curve", "Mark", "Tried", "asked_line", "curve_spec"]

HEIGHT: Final = 320
WIDEST: Final = 56


@dataclass(frozen=True, slots=True)
class Tried:
    """A value tried, in SI: the chance there with its bounds, and whether what is asked is shown there."""

    value: float
    low: float
    chance: float
    high: float
    shown: bool


@dataclass(frozen=True, slots=True)
class Mark:
    """A value pointed at, in SI, and what is written there."""

    value: float
    text: str


@dataclass(frozen=True, slots=True)
class Curve:
    """What is drawn; `met` are ranges, in SI, in which what is asked is shown."""

    called: str
    points: Sequence[Tried]
    asked: float
    met: Sequence[tuple[float, float]]
    mark: Mark | None


def curve_spec(curve: Curve, scale: Scale) -> Spec:
    """Return the drawing, the number read in the scale's unit."""
    x = [rounded(scale(point.value)) for point in curve.points]
    left, right = min(x), max(x)
    pad = 0.03 * (right - left) or 1.0
    reach = [left - pad, right + pad]
    heights = _heights(curve)
    return {
        "data": [_band(curve.points, x), *_line(curve.points, x), *_strip(curve.met, scale)],
        "layout": layout(
            HEIGHT,
            xaxis=axis(label(scale.titled(curve.called), WIDEST), range=reach, anchor="y2", mirror="allticks"),
            yaxis=axis("chance, %", domain=[0.1, 1], range=heights, nticks=7),
            yaxis2=axis(domain=[0, 0.1], range=[-1, 1], showticklabels=False, ticks="", mirror=True),
            shapes=[asked_line(curve.asked), *_mark_lines(curve.mark, scale)],
            annotations=[_asked_label(curve.asked), *_mark_labels(curve.mark, scale, reach)],
        ),
    }


def _heights(curve: Curve) -> list[float]:
    """Return the reach of the chance in percent, with room above for what is written at the top line."""
    low = 100 * min(curve.asked, *(point.low for point in curve.points))
    high = 100 * max(curve.asked, *(point.high for point in curve.points))
    span = max(high - low, 0.5)
    return [low - 0.06 * span, high + 0.08 * span]


def _band(points: Sequence[Tried], x: Sequence[float]) -> Spec:
    low, high = _percent(point.low for point in points), _percent(point.high for point in points)
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "bounds",
        "x": [*x, *reversed(x)],
        "y": [*low, *reversed(high)],
        "fill": "toself",
        "fillcolor": "@blue-wash",
        "line": {"width": 0},
        "hoverinfo": "skip",
    }


def _line(points: Sequence[Tried], x: Sequence[float]) -> list[Spec]:
    y = _percent(point.chance for point in points)
    common: Spec = {"type": "scatter", "x": list(x), "y": y, "cliponaxis": False}
    rings: Spec = {
        "size": 6,
        "symbol": ["circle" if point.shown else "circle-open" for point in points],
        "color": "@ink",
        "line": {"width": 1.25, "color": "@ink"},
    }
    return [
        {**common, "mode": "lines", "name": "chance", "hoverinfo": "skip", "line": {"width": 1.5, "color": "@blue"}},
        {**common, "mode": "markers", "name": "tried", "hoverinfo": "x+y", "marker": rings},
    ]


def _percent(values: Iterable[float]) -> list[float]:
    return [rounded(100 * value) for value in values]


def _strip(met: Sequence[tuple[float, float]], scale: Scale) -> list[Spec]:
    """Return bars under the line where what is asked is shown."""
    return [
        {
            "type": "scatter",
            "mode": "lines+markers",
            "name": "shown",
            "yaxis": "y2",
            "x": [rounded(scale(low)), rounded(scale(high))],
            "y": [0, 0],
            "hoverinfo": "x",
            "line": {"width": 4, "color": "@ink"},
            "marker": {"symbol": "line-ns-open", "size": 9, "color": "@ink", "line": {"width": 2, "color": "@ink"}},
        }
        for low, high in met
    ]


def asked_line(asked: float) -> Spec:
    """Return the dashed line at the chance that is asked, from side to side."""
    ends = {"xref": "paper", "yref": "y", "x0": 0, "x1": 1, "y0": 100 * asked, "y1": 100 * asked}
    return {"type": "line", **ends, "line": {"color": "@ink", "width": 1, "dash": "4px,3px"}}


def _asked_label(asked: float) -> Spec:
    return {
        "text": f"{100 * asked:.10g}\u202f% asked",
        "xref": "paper",
        "x": 0,
        "xanchor": "left",
        "xshift": 6,
        "yref": "y",
        "y": 100 * asked,
        "yanchor": "bottom",
        "showarrow": False,
    }


def _mark_lines(mark: Mark | None, scale: Scale) -> list[Spec]:
    if mark is None:
        return []
    x = rounded(scale(mark.value))
    ends = {"xref": "x", "yref": "paper", "x0": x, "x1": x, "y0": 0, "y1": 1}
    return [{"type": "line", **ends, "line": {"color": "@ink", "width": 1.5}}]


def _mark_labels(mark: Mark | None, scale: Scale, reach: Sequence[float]) -> list[Spec]:
    """Return the label above the stroke, kept inside the frame."""
    if mark is None:
        return []
    x = rounded(scale(mark.value))
    place = (x - reach[0]) / (reach[1] - reach[0])
    anchor = "left" if place < 0.2 else "right" if place > 0.8 else "center"
    common: Spec = {"yref": "paper", "y": 1, "yanchor": "bottom", "showarrow": False}
    return [{**common, "text": label(mark.text, 40), "xref": "x", "x": x, "xanchor": anchor}]
