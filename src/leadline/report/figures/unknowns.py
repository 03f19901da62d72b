"""How the chance is spread over what is fixed and only not known yet."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.report.figures.outline import outline, rounded
from leadline.report.panel import Cell, Panel, Spec, Table, axis, layout
from leadline.report.wording import chance, clipped, count, level
from leadline.run.document import Chance
from leadline.run.first_result import UnknownsResult

__all__ = ["unknown_panels"]

Array = npt.NDArray[np.float64]

MOST_BARS: Final = 24
HEIGHT: Final = 270


def unknown_panels(unknowns: UnknownsResult | None) -> tuple[Panel, ...]:
    """Return the panel of the chances over the draws of what is not known, or nothing without such."""
    if unknowns is None:
        return ()
    return (
        Panel(
            name="unknowns",
            div_id="unknowns",
            title="What is not known yet",
            sentence=_sentence(unknowns),
            spec=_spec(unknowns),
            table=_table(unknowns),
        ),
    )


def _sentence(unknowns: UnknownsResult) -> str:
    asked = "" if unknowns.asked is None else f"; left of the {level(unknowns.asked)} asked for they are hatched"
    return (
        f"{clipped(unknowns.sentence, 400)} Drawn: the chance in each of {count(unknowns.draws)} worlds in which "
        f"{_subject(len(unknowns.inputs))} fixed at one value{asked}. Below, a ring marks the median, the bar holds 90 "
        "of 100 worlds."
    )


def _subject(numbers: int) -> str:
    return "the number that is not known is" if numbers == 1 else f"the {count(numbers)} numbers not known are"


def _spec(unknowns: UnknownsResult) -> Spec:
    chances = 100 * np.asarray(unknowns.estimates)
    asked = None if unknowns.asked is None else 100 * unknowns.asked
    edges = _edges(chances, asked)
    counts = np.histogram(chances, edges)[0]
    shares = 100 * counts / max(len(chances), 1)
    pad = 0.03 * (edges[-1] - edges[0])
    left, right = float(edges[0] - pad), float(edges[-1] + pad)
    near = asked is not None and left <= asked <= right
    bound = float("-inf") if asked is None else asked + 1e-9
    return {
        "data": [*outline(edges, shares, bound), *_strip(unknowns)],
        "layout": layout(
            HEIGHT,
            xaxis=axis("chance that every requirement is met, %", range=[left, right], anchor="y2", mirror="allticks"),
            yaxis=axis("worlds per bar, %", domain=[0.16, 1], range=[0, 1.08 * float(shares.max())], nticks=5),
            yaxis2=axis(domain=[0, 0.16], range=[-1, 1], showticklabels=False, ticks="", mirror=True),
            shapes=[_asked_line(asked)] if near and asked is not None else [],
            annotations=[] if asked is None else [_asked_label(asked, left, right)],
        ),
    }


def _edges(chances: Array, asked: float | None) -> Array:
    """Return edges of equal bars over the chances, one of them at what is asked where that lies near."""
    low, high = float(chances.min()), float(chances.max())
    span = max(high - low, 1e-3)
    if asked is not None and low - span <= asked <= high + span:
        low, high = min(low, asked), max(high, asked)
    width = max(high - low, 1e-3) / MOST_BARS
    anchor = low if asked is None else asked
    first, last = np.floor((low - anchor) / width - 1e-9), np.ceil((high - anchor) / width + 1e-9)
    edges: Array = anchor + width * np.arange(first, last + 1)
    return edges


def _strip(unknowns: UnknownsResult) -> list[Spec]:
    """Return the bar from the 5 % to the 95 % quantile, and the median."""
    at = {quantile.p: rounded(100 * quantile.chance.value) for quantile in unknowns.quantiles}
    common: Spec = {"type": "scatter", "yaxis": "y2", "hoverinfo": "x"}
    bar = {"mode": "lines", "x": [at[0.05], at[0.95]], "y": [0, 0], "line": {"width": 3, "color": "@ink"}}
    ring = {"size": 9, "color": "@paper", "line": {"width": 2, "color": "@ink"}}
    return [{**common, **bar}, {**common, "mode": "markers", "x": [at[0.5]], "y": [0], "marker": ring}]


def _asked_line(asked: float) -> Spec:
    ends = {"xref": "x", "yref": "paper", "x0": asked, "x1": asked, "y0": 0, "y1": 1}
    return {"type": "line", **ends, "line": {"color": "@ink", "width": 1.5}}


def _asked_label(asked: float, left: float, right: float) -> Spec:
    common: Spec = {"yref": "paper", "y": 1, "yanchor": "bottom", "showarrow": False}
    if left <= asked <= right:
        place = (asked - left) / (right - left)
        anchor = "left" if place < 0.15 else "right" if place > 0.85 else "center"
        return {**common, "text": f"{asked:.10g}\u202f% asked", "xref": "x", "x": asked, "xanchor": anchor}
    low = asked < left
    text = f"← {asked:.10g}\u202f% asked" if low else f"{asked:.10g}\u202f% asked →"
    return {**common, "text": text, "xref": "paper", "x": 0 if low else 1, "xanchor": "left" if low else "right"}


def _table(unknowns: UnknownsResult) -> Table:
    rows = [(Cell("mean"), _cell(unknowns.mean)), (Cell("spread, one standard deviation"), _cell(unknowns.spread))]
    rows += [(Cell(f"{level(each.p)} of worlds below"), _cell(each.chance)) for each in unknowns.quantiles]
    if unknowns.asked is not None and unknowns.reaches is not None:
        rows.append((Cell(f"probability of at least {level(unknowns.asked)}"), _cell(unknowns.reaches)))
    return Table(("over what is not known", "chance"), tuple(rows))


def _cell(given: Chance) -> Cell:
    return Cell(chance(given), given.value)
