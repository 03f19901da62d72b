"""A figure with what makes it readable without seeing it: a sentence and a table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from leadline.report.palette import LIGHT, SANS, painted

__all__ = ["CONFIG", "FONT_SIZE", "Cell", "Panel", "Spec", "Table", "axis", "layout"]

Spec = dict[str, Any]
"""A figure as plotly.js takes it, colours by role; plotly itself is not needed to make it."""

FONT_SIZE: Final = 12

CONFIG: Final[Spec] = {
    "displayModeBar": False,
    "displaylogo": False,
    "showSendToCloud": False,
    "plotlyServerURL": "",
    "showTips": False,
}
"""What plotly.js may show beside a figure: nothing of its own, and no way to send data away."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a table; a number keeps its exact SI value beside the text shown, a law is drawn small before it."""

    text: str
    value: float | None = None
    drawing: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table in reading order; the first column names the row."""

    headers: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    @property
    def numeric(self) -> tuple[bool, ...]:
        """Whether each column holds numbers, and so stands to the right."""
        return tuple(any(row[place].value is not None for row in self.rows) for place in range(len(self.headers)))


@dataclass(frozen=True, slots=True)
class Panel:
    """One figure: its name, fixed identifier, title, sentence, drawing and table."""

    name: str
    div_id: str
    title: str
    sentence: str
    spec: Spec
    table: Table

    @property
    def height_px(self) -> int:
        """Height of the drawing in CSS pixels."""
        return int(self.spec["layout"]["height"])

    def to_plotly(self) -> Any:
        """Return the drawing as a ``plotly.graph_objects.Figure`` in the light palette."""
        # Slow to import and needed in notebooks only: a report is made of plain dicts.
        from plotly.graph_objects import Figure

        figure = Figure(painted(self.spec, LIGHT))
        figure.update_layout(template="none")
        return figure


def axis(title: str = "", **more: Any) -> Spec:
    """Return an axis in the house manner: a closed frame, ticks inside, nothing that moves."""
    base: Spec = {
        "title": {"text": title, "standoff": 8, "font": {"size": FONT_SIZE}},
        "showline": True,
        "mirror": "ticks",
        "ticks": "inside",
        "ticklen": 4,
        "linecolor": "@ink",
        "tickcolor": "@ink",
        "linewidth": 1,
        "showgrid": False,
        "gridcolor": "@rule",
        "zeroline": False,
        "fixedrange": True,
        "automargin": True,
    }
    return {**base, **more}


def layout(height: int, **more: Any) -> Spec:
    """Return a figure's layout in the house manner, on transparent paper."""
    base: Spec = {
        "height": height,
        "font": {"family": SANS, "size": FONT_SIZE, "color": "@ink"},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "margin": {"l": 8, "r": 14, "t": 26, "b": 8},
        "showlegend": False,
        "dragmode": False,
        "hoverlabel": {
            "bgcolor": "@paper",
            "bordercolor": "@ink",
            "font": {"family": SANS, "size": FONT_SIZE, "color": "@ink"},
        },
    }
    return {**base, **more}
