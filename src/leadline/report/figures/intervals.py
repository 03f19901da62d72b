"""Rings with bars: values with their intervals, one below the other, each under its name."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from textwrap import wrap
from typing import Final

from leadline.report.panel import Spec, axis, layout
from leadline.report.wording import clipped, label, unbroken

__all__ = ["IntervalRow", "interval_spec"]

ROW_HEIGHT: Final = 44
BELOW: Final = 20
"""Room below the last bar."""
LINE_HEIGHT: Final = 16
"""What a second line of names adds to a row."""
EDGE_HEIGHT: Final = 72
WIDEST_LINE: Final = 46
"""Signs in a line above a bar, so that a phone shows them."""
ROOM_A_SIGN: Final = 0.02
"""Share of a phone's width that a sign of text takes."""
MOST_DECADES: Final = 7
FRAME: Final = axis(showticklabels=False, ticks="", mirror=True, automargin=False)


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """A value with its interval, in the unit of the axis.

    Parameters
    ----------
    name
        What stands above the bar, in up to two lines.
    low, value, high
        The interval and what is inside.
    text
        What stands beside the bar.
    told
        Whether it can be told from nothing, or is the one quoted; else its bar is dotted.
    """

    name: str
    low: float
    value: float
    high: float
    text: str
    told: bool = True


def interval_spec(rows: Sequence[IntervalRow], title: str, line: float | None, *, log: bool = False) -> Spec:
    """Return the drawing.

    Parameters
    ----------
    rows
        From the top down.
    title
        Of the axis.
    line
        Where a dashed line stands, None for nowhere; taken into the axis.
    log
        Whether the axis is logarithmic; every value is then above 0.
    """
    names = [_lines(row.name) for row in rows]
    places = list(accumulate(ROW_HEIGHT + LINE_HEIGHT * (len(lines) - 1) for lines in names))
    reach = _log_reach(rows) if log else _reach(rows, line)
    scale = {"type": "log", "exponentformat": "power", "dtick": _decades(reach)} if log else {"nticks": 7}
    return {
        "data": _traces(rows, places, reach, line, log=log),
        "layout": layout(
            EDGE_HEIGHT + places[-1],
            margin={"l": 2, "r": 2, "t": 8, "b": 8},
            xaxis=axis(title, range=reach, **scale),
            yaxis={**FRAME, "range": [places[-1] + BELOW, 0]},
            shapes=[] if line is None else [_reference(line, place) for place in places],
            annotations=[_name(place, lines) for place, lines in zip(places, names, strict=True)],
        ),
    }


def _lines(name: str) -> list[str]:
    """Part a name into at most two lines, each cut to what fits."""
    parts = wrap(unbroken(clipped(name, 2 * WIDEST_LINE)), WIDEST_LINE) or [""]
    return [label(part, WIDEST_LINE) for part in parts[:2]]


def _reach(rows: Sequence[IntervalRow], line: float | None) -> list[float]:
    ends = [end for row in rows for end in (row.low, row.high)] + ([] if line is None else [line])
    pad = max(0.06 * (max(ends) - min(ends)), 1e-6 * max(abs(end) for end in ends), 1e-9)
    return [min(ends) - pad, max(ends) + 3 * pad]


def _log_reach(rows: Sequence[IntervalRow]) -> list[float]:
    low, high = min(row.low for row in rows), max(row.high for row in rows)
    return [math.floor(math.log10(low)) - 0.05, math.ceil(math.log10(high) + 0.3) + 0.05]


def _decades(reach: Sequence[float]) -> int:
    return max(1, math.ceil((reach[1] - reach[0]) / MOST_DECADES))


def _traces(
    rows: Sequence[IntervalRow], places: Sequence[int], reach: Sequence[float], line: float | None, *, log: bool
) -> list[Spec]:
    bars = [_bars(rows, places, told=told) for told in (True, False)]
    return [
        bars[0],
        _rings(rows, places),
        _texts(rows, places, reach, line, log=log),
        *([bars[1]] if bars[1]["x"] else []),
    ]


def _bars(rows: Sequence[IntervalRow], places: Sequence[int], *, told: bool) -> Spec:
    """Return one trace of bars, parted by gaps."""
    wanted = [(place, row) for place, row in zip(places, rows, strict=True) if row.told is told]
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "interval" if told else "interval, not told from none or not quoted",
        "x": [end for _, row in wanted for end in (row.low, row.high, None)],
        "y": [end for place, _ in wanted for end in (place, place, None)],
        "hoverinfo": "skip",
        "line": {"width": 3, "color": "@blue"} if told else {"width": 2, "color": "@soft", "dash": "2px,3px"},
    }


def _rings(rows: Sequence[IntervalRow], places: Sequence[int]) -> Spec:
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "value",
        "x": [row.value for row in rows],
        "y": list(places),
        "hoverinfo": "skip",
        "marker": {
            "size": 8,
            "color": "@paper",
            "line": {"width": 2, "color": "@ink"},
            "symbol": ["circle" if row.told else "diamond" for row in rows],
        },
    }


def _texts(
    rows: Sequence[IntervalRow], places: Sequence[int], reach: Sequence[float], line: float | None, *, log: bool
) -> Spec:
    """Return the texts, each beyond the end of the bar where there is room up to the line or the frame."""
    right = [_to_the_right(row, reach, line, log=log) for row in rows]
    return {
        "type": "scatter",
        "mode": "text",
        "name": "text",
        "x": [row.high if to_right else row.low for row, to_right in zip(rows, right, strict=True)],
        "y": list(places),
        "hoverinfo": "skip",
        "text": [f"\u2002{label(row.text, 60)}\u2002" for row in rows],
        "textposition": ["middle right" if to_right else "middle left" for to_right in right],
    }


def _to_the_right(row: IntervalRow, reach: Sequence[float], line: float | None, *, log: bool) -> bool:
    low, high = (math.log10(row.low), math.log10(row.high)) if log else (row.low, row.high)
    ends = [*reach] if line is None else [*reach, line]
    room_right = min(end for end in ends if end >= high) - high
    room_left = low - max(end for end in ends if end <= low)
    wanted = ROOM_A_SIGN * (len(row.text) + 3) * (reach[1] - reach[0])
    return room_right >= min(wanted, room_left)


def _reference(x: float, place: int) -> Spec:
    """Return the part of the dashed line beside one bar, which leaves the names alone."""
    return {
        "type": "line",
        "xref": "x",
        "yref": "y",
        "x0": x,
        "x1": x,
        "y0": place - 9,
        "y1": place + 9,
        "line": {"color": "@ink", "width": 1, "dash": "3px,2px"},
    }


def _name(place: int, lines: Sequence[str]) -> Spec:
    """Return the label above a bar: names run long, and a phone has no room beside it."""
    return {
        "text": "<br>".join(lines),
        "align": "left",
        "xref": "paper",
        "x": 0,
        "xanchor": "left",
        "xshift": 6,
        "yref": "y",
        "y": place - 8,
        "yanchor": "bottom",
        "showarrow": False,
    }
